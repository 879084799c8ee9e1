"""Texts that a spreadsheet would run are written so that it does not, and read back the same.

Which beginnings are run: OWASP, "CSV Injection" (= + - @, tab, carriage return, line feed, and
their full-width forms), and what stands behind blanks or quotation marks.
"""

import csv
import io
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import load_workbook

from moldcare.feeds.export.delimited import COMMA, SEMICOLON, Dialect, csv_lines, dialect_of
from moldcare.feeds.export.guard import as_cell, guarded, unguarded
from moldcare.feeds.export.shapes import ListShape
from moldcare.feeds.export.workbook import write_workbook
from moldcare.feeds.tables import open_table

BERLIN = ZoneInfo("Europe/Berlin")
NOW = datetime(2026, 11, 25, 6, 12, tzinfo=UTC)

# what people write without meaning a formula, and what strangers write to harm
RUN = (
    "=1+1",
    "-see sheet",
    "@Meier",
    "+49 170 1",
    '=HYPERLINK("http://example.invalid","x")',
    "=cmd|' /C calc'!A0",
    "\t=1+1",
    "\r=1+1",
    "\n=1+1",
    " =1+1",
    "\N{NO-BREAK SPACE}=1+1",
    "\N{IDEOGRAPHIC SPACE}=1+1",
    "\N{ZERO WIDTH SPACE}=1+1",
    "'=1+1",
    '"=1+1"',
    "\N{FULLWIDTH EQUALS SIGN}1+1",
    "\N{FULLWIDTH PLUS SIGN}1",
    "\N{FULLWIDTH HYPHEN-MINUS}1+1",
    "\N{FULLWIDTH COMMERCIAL AT}SUM(1)",
    "-1+1",
    "-",
    "=",
)
LEFT = ("", "0417", "-0.35", "-5.0", "-1,5", "+3", "a=1", "'s-Hertog", "it's", "M-1001", "#N/A")

signs = st.sampled_from("=+-@\t\r\n '\";,|\\aA1.0\N{FULLWIDTH EQUALS SIGN}\u200b\u00a0#%")
texts = st.text(signs, max_size=8) | st.text(max_size=30)


@pytest.mark.parametrize("text", RUN)
def test_what_a_spreadsheet_runs_gets_an_apostrophe_before_it(text: str) -> None:
    assert guarded(text) == "'" + text


@pytest.mark.parametrize("text", LEFT)
def test_what_none_runs_stays_as_it_is(text: str) -> None:
    assert guarded(text) == text == unguarded(text)


@given(texts)
def test_what_was_guarded_comes_back_and_begins_with_nothing_to_run(text: str) -> None:
    safe = guarded(text)
    assert unguarded(safe) == text
    number = safe.lstrip("+-").replace(".", "").replace(",", "")
    assert not safe.startswith(tuple("=+-@\t\r\n")) or (number.isascii() and number.isdigit())


@given(texts)
def test_a_cell_of_a_workbook_comes_back(text: str) -> None:
    assert unguarded(as_cell(text)) == text


def shape(*headings: str) -> ListShape:
    return ListShape(name="x", title="X", about="", headings=headings, rows=lambda _: iter(()))


def as_csv(rows: list[list[Any]], *, dialect: Dialect = COMMA) -> bytes:
    heads = shape(*(f"column {number}" for number in range(len(rows[0]))))
    return b"".join(csv_lines(heads, rows=rows, zone=BERLIN, dialect=dialect))


def as_xlsx(rows: list[list[Any]]) -> bytes:
    out = io.BytesIO()
    heads = shape(*(f"column {number}" for number in range(len(rows[0]))))
    write_workbook(out, shape=heads, rows=rows, zone=BERLIN, made_at=NOW)
    return out.getvalue()


def read_back(content: bytes, *, name: str) -> list[list[Any]]:
    """The rows as our own reader of files gives them, headings left out."""
    rows = list(open_table(content, name=name).rows())
    return [[unguarded(str(cell)) for cell in row.cells] for row in rows[1:]]


@given(
    st.lists(st.tuples(texts, texts), min_size=1, max_size=6), st.sampled_from([COMMA, SEMICOLON])
)
def test_our_reader_reads_csv_back_to_the_same_texts(
    rows: list[tuple[str, str]], dialect: Dialect
) -> None:
    # the first cell is never empty: lines without anything are no rows of a file
    wanted = [["M-1", *(text.replace("\0", "") for text in row)] for row in rows]
    content = as_csv(wanted, dialect=dialect)
    table = open_table(
        content,
        name="x.csv",
        encoding="utf-8",
        delimiter="semicolon" if dialect is SEMICOLON else "comma",
    )
    found = [[unguarded(str(cell)) for cell in row.cells] for row in list(table.rows())[1:]]
    assert found == wanted


# what XML cannot hold is replaced, and a line break in a cell is a line feed
plain_texts = st.text(st.characters(exclude_categories=["Cs", "Cc", "Cn"]), max_size=20) | st.text(
    st.sampled_from("=+-@ '\";a1\n\N{FULLWIDTH EQUALS SIGN}#"), max_size=8
)


@given(st.lists(st.tuples(plain_texts, plain_texts), min_size=1, max_size=5))
def test_our_reader_reads_a_workbook_back_to_the_same_texts(rows: list[tuple[str, str]]) -> None:
    wanted = [["M-1", *row, "end"] for row in rows]
    assert read_back(as_xlsx(wanted), name="x.xlsx") == wanted


def test_no_cell_of_a_workbook_is_a_formula_or_an_error() -> None:
    texts_of = [*RUN, *LEFT, "=" * 40_000, "#REF!", "#DIV/0!"]
    book = load_workbook(io.BytesIO(as_xlsx([[text] for text in texts_of])))
    kinds = {cell.data_type for row in book.active.iter_rows(min_row=2) for cell in row}
    assert kinds <= {"s", "inlineStr", "n"}
    for row, text in zip(book.active.iter_rows(min_row=2), texts_of, strict=True):
        if text in RUN:
            # also when somebody edits it, it stays text
            assert row[0].quotePrefix, text


@pytest.mark.parametrize("heading", [text for text in RUN if "\r" not in text])
def test_a_heading_is_no_formula_either(heading: str) -> None:
    heads = shape(heading)
    content = b"".join(csv_lines(heads, rows=[["x"]], zone=BERLIN)).decode("utf-8-sig")
    assert next(csv.reader(io.StringIO(content, newline=""))) == ["'" + heading]
    out = io.BytesIO()
    write_workbook(out, shape=heads, rows=[["x"]], zone=BERLIN, made_at=NOW)
    cell = load_workbook(out).active["A1"]
    assert cell.data_type != "f"
    assert unguarded(str(cell.value)) == heading
    assert cell.quotePrefix


def test_numbers_stay_numbers_and_negative_ones_are_not_spoilt() -> None:
    """A temperature of -5.0 and a change of flow of -0.35."""
    row = [Decimal("-5.0"), Decimal("-0.35"), -7, 12_345_678_901]
    assert as_csv([row]).decode().splitlines()[1] == "-5.0,-0.35,-7,12345678901"
    assert as_csv([row], dialect=SEMICOLON).decode().splitlines()[1] == "-5,0;-0,35;-7;12345678901"
    book = load_workbook(io.BytesIO(as_xlsx([row])))
    assert [cell.value for cell in book.active[2]] == [-5, -0.35, -7, 12_345_678_901]
    assert {cell.data_type for cell in book.active[2]} == {"n"}


def test_a_number_with_more_digits_than_a_spreadsheet_keeps_is_text() -> None:
    book = load_workbook(io.BytesIO(as_xlsx([[10**15 + 1]])))
    assert book.active["A2"].value == "1000000000000001"


def test_instants_are_of_the_plant_with_their_offset() -> None:
    """ISO 8601, on both sides of the change of clocks in 2026: 25 October, 03:00 to 02:00."""
    row = [
        datetime(2026, 10, 25, 0, 30, tzinfo=UTC),
        datetime(2026, 10, 25, 1, 30, tzinfo=UTC),
        date(2026, 10, 25),
        None,
        True,
    ]
    said = ["2026-10-25T02:30:00+02:00", "2026-10-25T02:30:00+01:00", "2026-10-25", "", "yes"]
    assert as_csv([row]).decode().splitlines()[1] == ",".join(said)
    book = load_workbook(io.BytesIO(as_xlsx([row])))
    assert [cell.value for cell in book.active[2]][:2] == said[:2]
    assert book.active["C2"].value == datetime(2026, 10, 25)  # noqa: DTZ001 - as the library gives it


def test_csv_is_what_spreadsheets_open() -> None:
    """RFC 4180: CRLF, quotation marks doubled; a byte order mark says that it is UTF-8."""
    content = as_csv([['said "so", twice', "Düse"]])
    assert content == (b'\xef\xbb\xbfcolumn 0,column 1\r\n"said ""so"", twice",D\xc3\xbcse\r\n')


@pytest.mark.parametrize(
    ("language", "dialect"), [("en", COMMA), ("de", SEMICOLON), ("es", SEMICOLON), ("xx", COMMA)]
)
def test_the_language_says_which_signs(language: str, dialect: Dialect) -> None:
    assert dialect_of(language) == dialect


def test_a_text_longer_than_a_cell_says_that_it_was_cut() -> None:
    book = load_workbook(io.BytesIO(as_xlsx([["x" * 40_000]])))
    text = book.active["A2"].value
    assert len(text) == 32_767
    assert text.endswith("(cut here: a workbook holds no more; CSV holds all)")


def test_more_rows_than_a_sheet_holds_go_on_in_the_next(monkeypatch: pytest.MonkeyPatch) -> None:
    from moldcare.feeds.export import workbook

    monkeypatch.setattr(workbook, "ROWS_A_SHEET", 4)
    book = load_workbook(io.BytesIO(as_xlsx([[number] for number in range(7)])))
    assert book.sheetnames == ["X", "X 2", "X 3"]
    found = [[cell.value for cell in sheet["A"]] for sheet in book]
    assert found == [["column 0", 0, 1, 2], ["column 0", 3, 4, 5], ["column 0", 6]]


def test_signs_that_xml_cannot_hold_are_replaced() -> None:
    assert read_back(as_xlsx([["a\x00b\x0bc", "end"]]), name="x.xlsx") == [["a�b�c", "end"]]


@pytest.mark.calc
@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_libreoffice_shows_text_where_text_was_written(tmp_path: Path, ending: str) -> None:
    """Another program opens the file and recalculates: no formula, no link, nothing run."""
    from tests.calc.office import converted

    written = [text for text in RUN if text.strip() == text and text.isprintable()]
    rows = [[text, "end"] for text in written]
    (tmp_path / f"x.{ending}").write_bytes((as_csv if ending == "csv" else as_xlsx)(rows))
    book = load_workbook(converted(tmp_path / f"x.{ending}", to="xlsx", folder=tmp_path / "out"))
    for cells, text in zip(book.active.iter_rows(min_row=2), written, strict=True):
        assert cells[0].data_type == "s", text
        shown = guarded(text) if ending == "csv" else as_cell(text)
        assert cells[0].value == shown
        assert cells[0].hyperlink is None
        assert cells[1].value == "end"
