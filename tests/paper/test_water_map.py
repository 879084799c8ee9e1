"""The water map on paper: what is drawn, said and listed."""

import re
from dataclasses import replace

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from moldcare.core.errors import DomainError
from moldcare.core.water_map import InlineItem, InlineKind, WaterPath, water_map
from moldcare.paper.frame import Paper, PaperSize
from moldcare.paper.water_map import WaterMapDocument, water_map_pdf
from moldcare.paper.water_map.drawing import CircuitDrawing, HoseEnd, Symbol
from tests.paper.reading import fonts, page_texts, squeezed, whole_text


def item(kind: InlineKind, number: int, at: str = "") -> InlineItem:
    return InlineItem(kind=kind, number=str(number), at=at)


PATHS = [
    WaterPath(
        ident="A1",
        half="A",
        items=(
            item(InlineKind.BUBBLER, 2, "core 2"),
            item(InlineKind.STRAIGHT_BAFFLE, 7, "core 3"),
            item(InlineKind.SPIRAL_BAFFLE, 1),
        ),
        looped_with="A2",
        couplings="9 mm, shut-off",
        medium="water",
    ),
    WaterPath(ident="A2", half="A", medium="water"),
    WaterPath(ident="B1", half="B", counted=((InlineKind.BUBBLER, 4),), medium="oil"),
]


def document(*paths: WaterPath) -> WaterMapDocument:
    return WaterMapDocument(
        language="en",
        number="0417",
        name="Dripper cap, 32 cavities",
        water=water_map(paths or PATHS),
        measures={"A1": ["Bore 10 mm.", "Design flow 4.8 l/min."]},
        own_cautions=["The chiller's pump starts by itself."],
        code_text="https://moldcare.example.test/molds/0417",
        printed_at="3 Nov 2026, 05:52",
        printed_by="Ruth Okafor",
        plant_name="Example plant",
    )


def printed(found: WaterMapDocument, paper_size: PaperSize = PaperSize.A4) -> Paper:
    return water_map_pdf(found, paper_size=paper_size)


def test_what_sits_in_a_circuit_is_said_in_order_from_in_to_out() -> None:
    text = whole_text(printed(document()))
    order = ["bubbler 2 (core 2)", "straight baffle 7 (core 3)", "spiral baffle 1"]
    assert f"From IN to OUT: {', '.join(order)}." in text


def test_halves_ports_measures_and_medium_are_there() -> None:
    text = whole_text(printed(document()))
    for said in (
        "A half",
        "B half",
        "A1 IN",
        "A1 OUT",
        "B1 OUT",
        "Couplings: 9 mm, shut-off.",
        "Medium: oil.",
        "Bore 10 mm. Design flow 4.8 l/min.",
    ):
        assert said in text
    assert text.index("A half") < text.index("B half")


def test_items_that_are_only_counted_say_that_their_order_is_not_known() -> None:
    text = whole_text(printed(document()))
    assert "4 bubblers; their order from IN to OUT is not entered." in text


def test_loop_is_one_hose_with_one_number_at_both_ends() -> None:
    text = whole_text(printed(document()))
    listed = re.findall(r"(\d+): (supply|\w+ OUT) → (\w+ IN|return)", text)
    assert listed == [
        ("1", "supply", "A1 IN"),
        ("2", "A1 OUT", "A2 IN"),
        ("3", "A2 OUT", "return"),
        ("4", "supply", "B1 IN"),
        ("5", "B1 OUT", "return"),
    ]
    assert "to A2 IN" in text
    assert "from A1 OUT" in text
    assert "5 hoses" in text


def test_loop_that_cannot_be_drawn_is_said() -> None:
    text = whole_text(printed(document(WaterPath(ident="A1", half="A", looped_with="C9"))))
    assert "A1 is said to be looped with C9: the mold has no such circuit." in text


def test_cautions_for_hoses_and_those_of_the_plant_are_printed() -> None:
    text = whole_text(printed(document()))
    for said in ("Water and hoses under pressure.", "Lock-out and stored energy."):
        assert said in text
    assert "The chiller's pump starts by itself." in text
    assert "The site's rules, the makers' manuals" in text


def test_mold_without_circuits_says_so() -> None:
    empty = replace(document(), water=water_map([]))
    assert "No circuit is entered for this mold." in whole_text(printed(empty))


@pytest.mark.parametrize("paper_size", PaperSize)
def test_many_items_are_all_printed(paper_size: PaperSize) -> None:
    many = tuple(item(InlineKind.SPIRAL_BAFFLE, number) for number in range(1, 97))
    paths = [
        WaterPath(ident=f"{half}{number}", half=half, items=many)
        for half in "AB"
        for number in range(1, 9)
    ]
    paper = printed(document(*paths), paper_size)
    text = squeezed(whole_text(paper))
    assert paper.pages > 2
    for path in paths:
        assert f"{path.ident}IN" in text
        assert f"{path.ident}OUT" in text
    assert text.count("spiralbaffle96") == len(paths)
    for page, said in enumerate(page_texts(paper), start=1):
        assert f"Page {page} of {paper.pages}" in said


@pytest.mark.parametrize("count", [0, 1, 8, 9, 50])
def test_lines_of_a_drawing_hold_every_item_once_in_order(count: int) -> None:
    symbols = [Symbol(kind=InlineKind.BUBBLER, number=str(number)) for number in range(count)]
    end = HoseEnd(number=1, other="supply")
    drawing = CircuitDrawing(
        in_label="A1 IN", out_label="A1 OUT", symbols=symbols, into=end, out_of=end
    )
    lines = drawing.lines(width=430)
    assert [symbol for line in lines for symbol in line] == symbols
    assert max(map(len, lines)) - min(map(len, lines[:-1] or lines)) == 0


def test_same_map_gives_the_same_bytes_with_faces_inside() -> None:
    first, second = printed(document()), printed(document())
    assert first.content == second.content
    assert all(is_embedded for _name, is_embedded in fonts(first))


signs = st.one_of(
    st.characters(exclude_categories=["Cs"]), st.sampled_from("<>&\"'()\\/ \n\r\t%;#[]")
)
texts = st.text(signs, max_size=30) | st.builds(lambda sign: sign * 120, signs)
quick = settings(deadline=None, max_examples=25, phases=[Phase.explicit, Phase.generate])
items = st.builds(InlineItem, kind=st.sampled_from(InlineKind), number=texts, at=texts)
paths = st.builds(
    WaterPath,
    ident=texts,
    half=st.sampled_from("AB"),
    items=st.lists(items, max_size=12).map(tuple),
    counted=st.lists(st.tuples(st.sampled_from(InlineKind), st.integers(0, 99)), max_size=3).map(
        tuple
    ),
    looped_with=texts,
    couplings=texts,
    medium=texts,
)


@quick
@given(st.lists(paths, max_size=5), texts, st.sampled_from(PaperSize))
def test_any_map_is_printed(found: list[WaterPath], text: str, paper_size: PaperSize) -> None:
    try:
        water = water_map(found)
    except DomainError:
        return
    paper = printed(
        replace(document(), water=water, number=text, name=text, own_cautions=[text]), paper_size
    )
    assert len(page_texts(paper)) == paper.pages
