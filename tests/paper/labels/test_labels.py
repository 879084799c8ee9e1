"""Labels: what a scanner reads from the printed page, and what stands where."""

import io
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from urllib.parse import quote

import pytest
from pypdf import PdfReader
from reportlab.lib.units import mm

from moldcare.core.errors import LabelsRefused
from moldcare.paper.frame import PaperSize
from moldcare.paper.labels import (
    STOCKS,
    BarsLeftOut,
    Label,
    LabelsDocument,
    LabelStock,
    checked_labels,
    label_layout,
    labels_pdf,
    ruler_sheet_pdf,
    stock_named,
    stocks_for,
)
from moldcare.paper.labels.layout import BAR_RIM_MODULES, Box, bar_modules
from tests.paper.labels.pictures import as_seen, codes, pictures
from tests.paper.reading import fonts, page_texts, squeezed, whole_text

BY_KEY = {stock.key: stock for stock in STOCKS}
SHEET = BY_KEY["a4-3x7-63.5x38.1"]
SERVER = "https://moldcare.plant.example"
# whole numbers, letters and figures, blanks, the longest that a database keeps, other scripts
NUMBERS = ["7", "0417", "M-2024-117", "17/3 A", "WZ-000123456789012345678", "Форма 12", "王伟-7"]


def mold_label(number: str, *, server: str = SERVER) -> Label:
    return Label(
        kind="mold",
        number=number,
        name="Dripper cap, 32 cavities",
        code_text=f"{server}/molds/{quote(number)}",
        bar_text=number,
    )


def document(*numbers: str, stock: LabelStock = SHEET, server: str = SERVER) -> LabelsDocument:
    return LabelsDocument(
        language="en",
        stock=stock,
        labels=[mold_label(number, server=server) for number in numbers],
        plant_name="Example plant",
    )


def number_only(number: str) -> Label:
    return replace(mold_label(number), code_text=number)


def expected_codes(labels: LabelsDocument) -> set[tuple[str, str]]:
    found = set()
    for each in checked_labels(labels):
        found.add(("QRCode", each.label.code_text))
        if each.layout.bars is not None:
            found.add(("Code128", each.label.bar_text))
    return found


def usual(stock: LabelStock) -> LabelsDocument:
    """All kinds of numbers on one stock; on the smallest, only the number in the code."""
    if stock.width_mm > 30:
        return document(*NUMBERS, stock=stock)
    numbers = NUMBERS[:2] if stock.dots_per_inch == 300 else []
    return replace(document(stock=stock), labels=[number_only(number) for number in numbers])


STOCKS_WITH_ROOM = [stock for stock in STOCKS if usual(stock).labels]


@pytest.mark.parametrize("dots_per_inch", [200, 300])
@pytest.mark.parametrize("stock", STOCKS_WITH_ROOM, ids=lambda stock: stock.key)
def test_both_codes_are_read_back_from_the_printed_page(
    stock: LabelStock, dots_per_inch: int, tmp_path: Path
) -> None:
    labels = usual(stock)
    found = set()
    for picture in pictures(labels_pdf(labels), folder=tmp_path, dots_per_inch=dots_per_inch):
        found |= codes(picture)
    assert found == expected_codes(labels)


@pytest.mark.parametrize("stock", STOCKS_WITH_ROOM, ids=lambda stock: stock.key)
def test_codes_are_read_back_from_a_turned_and_blurred_picture(
    stock: LabelStock, tmp_path: Path
) -> None:
    labels = usual(stock)
    found = set()
    for picture in pictures(labels_pdf(labels), folder=tmp_path, dots_per_inch=300):
        found |= codes(as_seen(picture))
    assert found == expected_codes(labels)


@pytest.mark.parametrize("stock", STOCKS_WITH_ROOM, ids=lambda stock: stock.key)
def test_squares_bars_and_rims_are_large_enough_and_of_whole_dots(stock: LabelStock) -> None:
    """ISO/IEC 18004 asks for a rim of 4 squares, ISO/IEC 15417 for one of 10 modules at each end.

    Squares of 0.4 mm and modules of 0.25 mm: common practice for print, no source. Bars of 5 mm,
    or 15 % of their length: ISO/IEC 15417, from memory.
    """
    for label in usual(stock).labels:
        layout = label_layout(label, stock=stock)
        assert layout.code is not None
        squares = len(layout.code.rows) + 8
        assert layout.code.square_mm >= 0.4 - 1e-9
        assert layout.code.box.width_mm == pytest.approx(squares * layout.code.square_mm)
        dots = layout.code.square_mm * stock.dots_per_inch / 25.4
        assert dots == pytest.approx(round(dots))
        boxes = [layout.code.box, layout.words]
        if layout.bars is not None:
            modules = bar_modules(label.bar_text)
            assert layout.bars.module_mm >= 0.25 - 1e-9
            assert layout.bars.box.width_mm == pytest.approx(
                (modules + 2 * 10) * layout.bars.module_mm
            )
            dots = layout.bars.module_mm * stock.dots_per_inch / 25.4
            assert dots == pytest.approx(round(dots))
            assert (
                layout.bars.box.height_mm >= max(5, 0.15 * modules * layout.bars.module_mm) - 1e-9
            )
            boxes.append(layout.bars.box)
        for box in boxes:
            assert is_inside(box, stock=stock)
        assert not any(
            overlap(one, other) for at, one in enumerate(boxes) for other in boxes[at + 1 :]
        )


def is_inside(box: Box, *, stock: LabelStock) -> bool:
    return (
        box.left_mm >= 0
        and box.top_mm >= 0
        and box.left_mm + box.width_mm <= stock.width_mm + 1e-6
        and box.top_mm + box.height_mm <= stock.height_mm + 1e-6
    )


def overlap(one: Box, other: Box) -> bool:
    nearly = 1e-6
    return (
        one.left_mm + nearly < other.left_mm + other.width_mm
        and other.left_mm + nearly < one.left_mm + one.width_mm
        and one.top_mm + nearly < other.top_mm + other.height_mm
        and other.top_mm + nearly < one.top_mm + one.height_mm
    )


def test_bars_are_eleven_modules_a_sign_and_thirteen_to_stop() -> None:
    """ISO/IEC 15417: start, data, check sign of 11 modules each, stop of 13; two figures a sign."""
    assert bar_modules("AB-1") == 11 * (1 + 4 + 1) + 13
    assert bar_modules("0417") == 11 * (1 + 2 + 1) + 13
    assert BAR_RIM_MODULES == 10


@pytest.mark.parametrize("number", ["Форма 12", "王伟-7", "Nr. 5 é"])
def test_number_with_signs_that_bars_lack_has_no_bars_and_says_so(number: str) -> None:
    [planned] = checked_labels(document(number))
    assert planned.layout.bars is None
    assert planned.layout.bars_left_out is BarsLeftOut.SIGNS
    assert planned.layout.code is not None


def test_bars_that_do_not_fit_are_left_out_and_said() -> None:
    small = BY_KEY["a4-5x13-38.1x21.2"]
    long, short = checked_labels(document("WZ-000123456789012345678", "0417", stock=small))
    assert long.layout.bars_left_out is BarsLeftOut.ROOM
    assert short.layout.bars is not None
    assert short.layout.bars_left_out is None


@pytest.mark.parametrize("dots_per_inch", [203, 300])
def test_code_too_small_to_be_scanned_is_refused_with_what_helps(dots_per_inch: int) -> None:
    """A server's name of 60 signs and a number of 24 on labels of 25 x 15 and 50 x 25 mm."""
    server = "https://" + "server-of-the-toolroom." * 2 + "plant.example"
    assert 60 <= len(server) <= 75
    tiny, small = BY_KEY[f"25x15-{dots_per_inch}"], BY_KEY[f"50x25-{dots_per_inch}"]
    number = "M-1234567890123456789012"
    with pytest.raises(LabelsRefused, match="larger labels, or let the code hold only the number"):
        labels_pdf(document(number, stock=tiny, server=server))
    [planned] = checked_labels(document(number, stock=small, server=server))
    assert planned.layout.code is not None
    assert planned.layout.code.square_mm >= 0.4


def test_shorter_code_is_printed_where_the_address_does_not_fit(tmp_path: Path) -> None:
    labels = replace(document(stock=BY_KEY["25x15-300"]), labels=[number_only("0417")])
    [picture] = pictures(labels_pdf(labels), folder=tmp_path, dots_per_inch=300)
    assert ("QRCode", "0417") in codes(picture)


@pytest.mark.parametrize("stock", STOCKS, ids=lambda stock: stock.key)
def test_labels_lie_on_their_sheet_beside_one_another(stock: LabelStock) -> None:
    page_width, page_height = stock.page_mm
    corners = [stock.corner_mm(place) for place in range(stock.count)]
    assert len(set(corners)) == stock.count
    for left, top in corners:
        assert left >= 0
        assert top >= 0
        assert left + stock.width_mm <= page_width + 1e-6
        assert top + stock.height_mm <= page_height + 1e-6
    columns = sorted({round(left, 6) for left, _top in corners})
    rows = sorted({round(top, 6) for _left, top in corners})
    for side, places in ((stock.width_mm, columns), (stock.height_mm, rows)):
        for one, other in pairwise(places):
            assert other - one >= side - 1e-6


@pytest.mark.parametrize(
    ("key", "width_mm", "height_mm"),
    # ISO 216 and ANSI/ASME Y14.1
    [
        ("a4-3x7-63.5x38.1", 210, 297),
        ("letter-3x10-66.7x25.4", 215.9, 279.4),
        ("100x50-203", 100, 50),
    ],
)
def test_page_is_what_goes_through_the_printer(key: str, width_mm: float, height_mm: float) -> None:
    paper = labels_pdf(document("0417", stock=BY_KEY[key]))
    [page] = PdfReader(io.BytesIO(paper.content)).pages
    assert float(page.mediabox.width) == pytest.approx(width_mm * mm, abs=0.1)
    assert float(page.mediabox.height) == pytest.approx(height_mm * mm, abs=0.1)


def test_viewer_is_asked_not_to_scale() -> None:
    """ISO 32000-1, 12.2: PrintScaling None."""
    for paper in (labels_pdf(document("0417")), ruler_sheet_pdf(document())):
        catalog = PdfReader(io.BytesIO(paper.content)).trailer["/Root"]
        assert catalog["/ViewerPreferences"]["/PrintScaling"] == "/None"  # type: ignore[index]


def first_code_at(labels: LabelsDocument, *, folder: Path) -> tuple[float, float]:
    """Where the first dark dot of the only label on the last page lies, in mm."""
    page = pictures(labels_pdf(labels), folder=folder, dots_per_inch=300)[-1]
    left, top, _right, _bottom = page.point(lambda value: 255 if value < 128 else 0).getbbox() or (
        0,
        0,
        0,
        0,
    )
    return left * 25.4 / 300, top * 25.4 / 300


def test_begun_sheet_is_filled_from_the_first_free_label(tmp_path: Path) -> None:
    fifth = replace(document("0417"), start_at=5)
    left, top = first_code_at(fifth, folder=tmp_path)
    # the fifth of three a row is the second of the second row
    assert SHEET.left_mm + SHEET.width_mm < left < SHEET.left_mm + 2 * SHEET.width_mm + 3
    assert SHEET.top_mm + SHEET.height_mm < top < SHEET.top_mm + 2 * SHEET.height_mm


def test_labels_beyond_the_sheet_begin_the_next_one() -> None:
    numbers = [f"{number:04d}" for number in range(1, 24)]
    assert labels_pdf(document(*numbers[:21])).pages == 1
    assert labels_pdf(document(*numbers)).pages == 2
    paper = labels_pdf(replace(document(*numbers[:3]), start_at=20))
    texts = page_texts(paper)
    assert "0001" in texts[0]
    assert "0002" in texts[0]
    assert "0003" in texts[1]


def test_offset_moves_everything_by_as_much(tmp_path: Path) -> None:
    plain = first_code_at(document("0417"), folder=tmp_path)
    moved = replace(document("0417"), offset_right_mm=2.0, offset_down_mm=-1.5)
    there = first_code_at(moved, folder=tmp_path)
    dot = 25.4 / 300
    assert there[0] - plain[0] == pytest.approx(2.0, abs=1.5 * dot)
    assert there[1] - plain[1] == pytest.approx(-1.5, abs=1.5 * dot)


@pytest.mark.parametrize("start_at", [0, 22, -1])
def test_first_label_that_is_not_on_the_sheet_is_refused(start_at: int) -> None:
    with pytest.raises(LabelsRefused, match="labels 1 to 21"):
        labels_pdf(replace(document("0417"), start_at=start_at))


def test_nothing_chosen_and_too_much_are_refused() -> None:
    with pytest.raises(LabelsRefused, match="Choose first"):
        labels_pdf(document())
    with pytest.raises(LabelsRefused, match="at most 1000"):
        labels_pdf(document(*["1"] * 1_001))


def test_sheet_of_another_paper_is_refused() -> None:
    assert stock_named(SHEET.key, paper=PaperSize.A4) is SHEET
    with pytest.raises(LabelsRefused, match="the printer holds Letter paper"):
        stock_named(SHEET.key, paper=PaperSize.LETTER)
    with pytest.raises(LabelsRefused, match="no label sheet"):
        stock_named("nothing", paper=PaperSize.A4)
    assert BY_KEY["62x29-203"] in stocks_for(PaperSize.LETTER)
    assert SHEET not in stocks_for(PaperSize.LETTER)


@pytest.mark.parametrize("stock", STOCKS_WITH_ROOM, ids=lambda stock: stock.key)
@pytest.mark.parametrize("number", ["M-" + "1234567890" * 4, "W" * 40, "王" * 40])
def test_long_number_stays_on_its_label(stock: LabelStock, number: str, tmp_path: Path) -> None:
    labels = replace(document(stock=stock), labels=[number_only(number)])
    layout = label_layout(labels.labels[0], stock=stock)
    if layout.code is None:
        with pytest.raises(LabelsRefused):
            labels_pdf(labels)
        return
    paper = labels_pdf(labels)
    if stock.width_mm > 30:
        assert squeezed(number) in squeezed(whole_text(paper))
    [picture] = pictures(paper, folder=tmp_path, dots_per_inch=200)
    box = picture.point(lambda value: 255 if value < 250 else 0).getbbox()
    assert box is not None
    left, top, right, bottom = (side * 25.4 / 200 for side in box)
    slack = 25.4 / 200
    assert left >= stock.left_mm - slack
    assert top >= stock.top_mm - slack
    assert right <= stock.left_mm + stock.width_mm + slack
    assert bottom <= stock.top_mm + stock.height_mm + slack


def test_label_says_number_name_and_plant() -> None:
    text = whole_text(labels_pdf(document("0417")))
    for said in ("mold", "0417", "Dripper cap, 32 cavities", "Example plant"):
        assert said in text


def test_test_sheet_names_its_stock_and_says_how_to_print() -> None:
    text = whole_text(ruler_sheet_pdf(document()))
    assert "A4, 3 x 7, 63.5 x 38.1 mm" in text
    assert "Print at 100 %" in text


@pytest.mark.parametrize("stock", STOCKS, ids=lambda stock: stock.key)
def test_scales_of_the_test_sheet_are_true(stock: LabelStock, tmp_path: Path) -> None:
    """A tick a millimetre: their count along a line through the ticks is the sheet's width."""
    paper = ruler_sheet_pdf(document(stock=stock))
    [picture] = pictures(paper, folder=tmp_path, dots_per_inch=600)
    row = round(6.6 * 600 / 25.4)
    dark = [
        at
        for at in range(round(12 * 600 / 25.4), picture.width)
        if picture.getpixel((at, row)) < 128  # type: ignore[operator]
    ]
    starts = [at for at, before in zip(dark, [-9, *dark], strict=False) if at - before > 1]
    ticks = [at * 25.4 / 600 for at in starts]
    apart = [other - one for one, other in pairwise(ticks)]
    assert len(ticks) >= 5
    assert all(step == pytest.approx(1.0, abs=0.1) for step in apart)


@pytest.mark.parametrize("stock", STOCKS_WITH_ROOM[:1], ids=lambda stock: stock.key)
def test_same_labels_give_the_same_bytes_with_faces_inside(stock: LabelStock) -> None:
    first, second = labels_pdf(usual(stock)), labels_pdf(usual(stock))
    assert first.content == second.content
    assert all(is_embedded for _name, is_embedded in fonts(first))
    assert b"Helvetica" not in first.content
