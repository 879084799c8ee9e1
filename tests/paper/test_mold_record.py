"""The record of a mold on paper."""

import io
from dataclasses import replace

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from PIL import Image
from pypdf import PdfReader

from moldcare.paper.frame import Paper, PaperSize
from moldcare.paper.mold_record import (
    DueState,
    Fact,
    MarkingLine,
    MoldRecord,
    RuleLine,
    Section,
    mold_record_pdf,
)
from moldcare.paper.photo import MOST_PIXELS, small_photo
from tests.paper.reading import fonts, page_texts, squeezed, whole_text


def picture(*, size: tuple[int, int] = (1600, 1200), kind: str = "JPEG") -> bytes:
    made = io.BytesIO()
    Image.new("RGB", size, "gray").save(made, kind)
    return made.getvalue()


def usual_record() -> MoldRecord:
    """A mold with sixteen rules, as most have, and a photo of its plate."""
    rule = RuleLine(
        name="Wipe the vents.",
        state=DueState.DUE,
        state_text="due",
        said="12,400 of 20,000 shots. Due Thu night shift.",
        last_done="20 Nov 2026, Ines Vogt, clean",
    )
    return MoldRecord(
        language="en",
        number="0417",
        name="Dripper cap, 32 cavities",
        facts=[
            Fact(label=label, lines=["Bench 2", "since 3 Nov 2026, 06:12"])
            for label in ("place", "condition", "owner", "kept until", "cavities", "class")
        ],
        marking=MarkingLine(said="Property of Asterline Irrigation.", photo=picture()),
        life=Section(title="life count", lines=[("1,204,512 cycles", "as of 3 Nov 2026, 06:00.")]),
        rules_said="16 rules in force.",
        rules=[replace(rule, name=f"Rule {number}.") for number in range(1, 17)],
        sections=[
            Section(title=title, lines=[("3 Nov 2026, Ines Vogt:", "Done.")] * 3, more="2 older.")
            for title in ("services", "people", "set-up", "storage", "changes", "parts in it")
        ],
        code_text="https://moldcare.example.test/molds/0417",
        printed_at="3 Nov 2026, 05:52",
        printed_by="Ruth Okafor",
        plant_name="Example plant",
    )


LATIN_NAME = "Dripper cap with thread M24 x 1.5, twelve cavities, valve gates, slides on the B half"
HAN_NAME = "滴头盖，螺纹 M24 x 1.5，十二腔，阀针式热流道，" * 2
SAID = (
    ("Take the ejector pins out, clean and grease", "58,694 of 60,000 shots. Due Thu night shift."),
    ("Wipe the vents", "Unsure since Wed early shift: a newer reading is held."),
    ("Test the flow of the circuits", "32 of 203 days. Due Sat 30 Jan 2027."),
    (
        "Check the hot runner electrically",
        "158,072 of 1,500,000 shots. Unsure since Wed early shift: a newer reading is held. "
        "Due about Tue 27 Jul 2027.",
    ),
)


def full_record(*, name: str = LATIN_NAME, person: str = "Lotte Hagedorn-Pry") -> MoldRecord:
    """A mold of which as much is known as of the fullest in a plant: twenty rules, long names."""
    at = "24 Oct 2026, 09:56"
    order = f"24 Oct 2026, {person}, bench 1:"
    done = "done Clean the vents, inserts out (found clean), Inspect (found clean), Test the flow. "
    rules = [
        RuleLine(
            name=f"{number}: {name}.",
            state=DueState.UNSURE,
            state_text="past limit",
            said=said,
            last_done=f"24 Oct 2026, {person}, clean",
        )
        for number, (name, said) in enumerate(SAID * 5, start=1)
    ]
    sections = {
        "services": [(order, f"Order {number}: {done}" * 2) for number in (2378, 2306, 2292)],
        "people": [("descaling:", f"{person}, Konrad Ellersiek, Pavo Stenrud, Tilda Norrweg")] * 4,
        "set-up": [("press 8:", f"set {at} by {person}, pulled {at} by Jaro Wischmann.")] * 2,
        "storage": [("rack C2, high bay in the old hall:", f"{at} to {at}.")] * 3,
        "wearing parts": [(f"{name}:", said) for name, said in SAID[:2]],
        "changes": [("Drawing revision:", "C"), (order, "Modification: gate widened to 1.2 mm.")],
        "parts in it": [
            ("", "; ".join(f"core {n}: core 1001-K{n}, 2,655,743 cycles" for n in range(1, 13)))
        ],
        "spare parts": [("S-12 O-ring 24 x 2.5:", "at least 8 pieces kept, drawer 3.")] * 4,
    }
    return replace(
        usual_record(),
        number="WZ-2019-000417-BX/12",
        name=name,
        facts=[
            Fact(label=f"fact {n}", lines=["Customer C: medical closures", f"since {at}"])
            for n in range(1, 13)
        ],
        marking=MarkingLine(said="Number and owner, stamped on the side.", photo=picture()),
        rules=rules,
        sections=[
            Section(title=title, lines=lines, more="35 older ones are in the logbook.")
            for title, lines in sections.items()
        ],
    )


def printed(record: MoldRecord, paper_size: PaperSize = PaperSize.A4) -> Paper:
    return mold_record_pdf(record, paper_size=paper_size)


@pytest.mark.parametrize("paper_size", PaperSize)
def test_usual_mold_has_one_page(paper_size: PaperSize) -> None:
    paper = printed(usual_record(), paper_size)
    assert paper.pages == 1
    assert "Page 1 of 1" in page_texts(paper)[0]


@pytest.mark.parametrize("has_photo", [True, False])
@pytest.mark.parametrize(
    ("name", "person"), [(LATIN_NAME, "Lotte Hagedorn-Pry"), (HAN_NAME, "王伟")]
)
@pytest.mark.parametrize("paper_size", PaperSize)
def test_mold_with_twenty_rules_and_long_names_has_one_page(
    paper_size: PaperSize, name: str, person: str, has_photo: bool
) -> None:
    record = full_record(name=name, person=person)
    if not has_photo:
        record = replace(record, marking=replace(record.marking, photo=None))
    paper = printed(record, paper_size)
    assert paper.pages == 1
    text = squeezed(page_texts(paper)[0])
    assert squeezed(name) in text
    for rule in record.rules:
        assert squeezed(rule.name) in text
    for section in record.sections:
        assert squeezed(section.title) in text
        for lead, said in section.lines:
            assert squeezed(lead) in text
            assert squeezed(said)[:20] in text


def test_record_is_set_no_closer_than_it_must_be() -> None:
    """A usual one is set as wide as ever, and nothing is smaller than six points."""
    usual, full = (text_sizes(printed(record)) for record in (usual_record(), full_record()))
    assert 7.4 in usual
    assert 7.4 not in full
    assert min(usual | full) >= 6


def text_sizes(paper: Paper) -> set[float]:
    """The sizes in which the first page is set, in points."""
    sizes: set[float] = set()

    def visit(text: str, _matrix: object, _place: object, _font: object, size: float) -> None:
        if text.strip():
            sizes.add(round(size, 2))

    PdfReader(io.BytesIO(paper.content)).pages[0].extract_text(visitor_text=visit)
    return sizes


def test_who_printed_it_and_when_stands_on_it() -> None:
    assert "printed 3 Nov 2026, 05:52 by Ruth Okafor" in whole_text(printed(usual_record()))


def test_mold_with_very_much_goes_on_and_nothing_is_cut() -> None:
    lines = [(f"Line {number}.", "It was changed in steel. " * 12) for number in range(1, 61)]
    record = replace(usual_record(), sections=[Section(title="changes", lines=lines)])
    paper = printed(record)
    assert paper.pages > 2
    text = squeezed(whole_text(paper))
    for number in range(1, 61):
        assert f"Line{number}." in text
    assert text.count("Itwaschangedinsteel.") == 60 * 12
    texts = page_texts(paper)
    assert "changes," in texts[1]
    for page, said in enumerate(texts, start=1):
        assert f"Page {page} of {paper.pages}" in said
        assert "0417" in said


def test_photo_of_the_plate_is_on_the_page_and_small() -> None:
    [page] = PdfReader(io.BytesIO(printed(usual_record()).content)).pages
    [image] = page.images
    assert max(image.image.size) <= MOST_PIXELS  # type: ignore[union-attr]
    without = replace(usual_record(), marking=MarkingLine(said="No photo yet."))
    [page] = PdfReader(io.BytesIO(printed(without).content)).pages
    assert not list(page.images)


def test_photo_that_cannot_be_read_is_said() -> None:
    marking = MarkingLine(said="Photo.", photo=b"not a picture")
    text = whole_text(printed(replace(usual_record(), marking=marking)))
    assert "The photo's file cannot be read." in text


def test_photo_is_turned_upright_and_on_white() -> None:
    """EXIF orientation 6: turned a quarter clockwise to be seen upright (CIPA DC-008)."""
    made = io.BytesIO()
    turned = Image.new("RGB", (40, 20), "red")
    exif = Image.Exif()
    exif[0x0112] = 6
    turned.save(made, "JPEG", exif=exif)
    photo = small_photo(made.getvalue())
    assert photo is not None
    assert (photo.width, photo.height) == (20, 40)
    clear = io.BytesIO()
    Image.new("RGBA", (10, 10), (0, 0, 0, 0)).save(clear, "PNG")
    white = small_photo(clear.getvalue())
    assert white is not None
    with Image.open(io.BytesIO(white.jpeg)) as opened:
        assert opened.getpixel((5, 5)) == (255, 255, 255)


def test_same_record_gives_the_same_bytes_with_faces_inside() -> None:
    first, second = printed(usual_record()), printed(usual_record())
    assert first.content == second.content
    assert all(is_embedded for _name, is_embedded in fonts(first))


@pytest.mark.parametrize("state", DueState)
def test_every_state_is_said_in_words(state: DueState) -> None:
    rule = replace(usual_record().rules[0], state=state, state_text=f"it is {state.value}")
    assert f"it is {state.value}" in whole_text(printed(replace(usual_record(), rules=[rule])))


signs = st.one_of(
    st.characters(exclude_categories=["Cs"]), st.sampled_from("<>&\"'()\\/ \n\r\t%;#[]")
)
texts = st.text(signs, max_size=40) | st.builds(lambda sign: sign * 300, signs)
quick = settings(deadline=None, max_examples=12, phases=[Phase.explicit, Phase.generate])


@quick
@given(st.data(), st.sampled_from(PaperSize))
def test_any_record_is_printed(data: st.DataObject, paper_size: PaperSize) -> None:
    def text() -> str:
        return data.draw(texts)

    def section() -> Section:
        return Section(title=text(), lines=[(text(), text()), ("", text())], more=text())

    rule = RuleLine(
        name=text(), state=DueState.DUE, state_text=text(), said=text(), last_done=text()
    )
    record = replace(
        usual_record(),
        number=text(),
        name=text(),
        facts=[Fact(label=text(), lines=[text(), text()]), Fact(label=text(), lines=[])],
        marking=MarkingLine(said=text(), photo=None),
        life=section(),
        rules_said=text(),
        rules=[rule, rule],
        rules_more=text(),
        sections=[section(), section()],
        printed_by=text(),
        plant_name=text(),
    )
    paper = printed(record, paper_size)
    assert len(page_texts(paper)) == paper.pages
