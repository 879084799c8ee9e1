"""Files that are no register, or would cost too much: a sentence, bounded time and memory."""

import io
import tracemalloc
import zipfile
from collections.abc import Callable, Iterator
from typing import Any

import openpyxl
import pytest

from moldcare.core.errors import TableRefused, WrongFile
from moldcare.feeds.register.care import read_care
from moldcare.feeds.register.gather import ROWS_AT_MOST
from moldcare.feeds.register.head import COLUMNS_AT_MOST
from moldcare.feeds.register.molds import read_molds
from moldcare.feeds.register.spellings import NUMBERS_AT_MOST
from moldcare.feeds.tables import Row, Table, Verdict
from moldcare.feeds.tables.kinds import Kind
from tests.feeds.register.make_examples import saved
from tests.feeds.register.reading import care_of, care_plan, molds_of, molds_plan, verdict

READERS: list[Callable[[bytes], Any]] = [molds_plan, care_plan]
both = pytest.mark.parametrize("read", READERS)


def workbook(*, part: str, change: Callable[[bytes], bytes]) -> bytes:
    """Give a small register with one part of its workbook changed."""
    book = openpyxl.Workbook()
    book.active.append(["Mold", "Task", "Interval"])
    book.active.append(["0417", "vents", "weekly"])
    content = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(saved(book))) as old,
        zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in old.namelist():
            data = old.read(name)
            new.writestr(name, change(data) if name == part else data)
    return content.getvalue()


SHEET = "xl/worksheets/sheet1.xml"


@both
@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", "empty"),
        (b"\x89PNG\r\n\x1a\n" + bytes(64), "picture"),
        (b"\xff\xd8\xff\xe0" + bytes(64), "picture"),
        (b"%PDF-1.7\n", "PDF"),
        (b"<!DOCTYPE html><table>", "web page"),
        (b"\x00\x01\x02 binary", "not text"),
        (b"PK\x03\x04 and then nothing", "damaged"),
        (b"mold;" * 400_000, "no rows"),
    ],
)
def test_a_file_that_is_no_table_is_refused_with_what_it_is(
    read: Callable[[bytes], Any], content: bytes, sentence: str
) -> None:
    with pytest.raises(WrongFile, match=sentence):
        read(content)


@both
def test_a_zip_bomb_is_refused_unread(read: Callable[[bytes], Any]) -> None:
    content = workbook(part=SHEET, change=lambda part: part + bytes(40_000_000))
    assert len(content) < 100_000
    tracemalloc.start()
    try:
        with pytest.raises(WrongFile, match="far more than a table"):
            read(content)
        assert tracemalloc.get_traced_memory()[1] < 20_000_000
    finally:
        tracemalloc.stop()


@both
@pytest.mark.parametrize("part", ["xl/workbook.xml", SHEET])
def test_entities_are_not_expanded(read: Callable[[bytes], Any], part: str) -> None:
    lines = "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, 12))
    bomb = f'<!DOCTYPE x [<!ENTITY a0 "aaaaaaaaaa">{lines}]>'.encode()
    content = workbook(
        part=part,
        change=lambda data: (
            data.replace(b"?>", b"?>" + bomb, 1) if b"?>" in data else bomb + data
        ).replace(b"weekly", b"&a11;"),
    )
    with pytest.raises(WrongFile):
        list(read(content).rows())


def test_wrong_sheet_sizes_change_nothing() -> None:
    for size in (b'ref="A1"', b'ref="A1:XFD1048576"'):
        content = workbook(
            part=SHEET, change=lambda part, ref=size: part.replace(b'ref="A1:C2"', ref)
        )
        rows = care_of(content)
        assert [(row.row, row.task) for row in rows] == [(2, "vents")]


@both
def test_formatting_down_to_the_last_row_is_not_walked(read: Callable[[bytes], Any]) -> None:
    blank = b'<row r="1048576"><c r="XFD1048576" s="0"/></row>'
    content = workbook(
        part=SHEET, change=lambda part: part.replace(b"</sheetData>", blank + b"</sheetData>")
    )
    assert read(content).rows_count == 1


@both
def test_more_columns_than_any_register_are_refused(read: Callable[[bytes], Any]) -> None:
    heading = ";".join(f"c{place}" for place in range(COLUMNS_AT_MOST + 1))
    with pytest.raises(TableRefused, match="more than 1000 columns"):
        read(f"mold;task;{heading}\n0417;vents\n".encode())


@both
def test_a_million_columns_are_refused(read: Callable[[bytes], Any]) -> None:
    with pytest.raises(TableRefused, match=r"cells; no table|no rows"):
        read(b"mold;task" + b";" * 1_000_000 + b"x\n0417;vents\n")


def endless(line: Callable[[int], list[str]]) -> Table:
    """Give a table whose rows never end, so that only a limit ends its reading."""

    def rows() -> Iterator[Row]:
        yield Row(1, ["mold", "task", "interval"], None)
        number = 1
        while True:
            number += 1
            yield Row(number, line(number), None)

    return Table(name="endless.csv", kind=Kind.TEXT, rows=rows)


@both
def test_reading_ends_where_no_register_goes_on(
    read: Callable[[bytes], Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("moldcare.feeds.register.gather.ROWS_AT_MOST", 2000)
    reader = read_molds if read is molds_plan else read_care
    with pytest.raises(TableRefused, match="more than 2000 rows") as refused:
        reader(endless(lambda _number: ["0417", "vents", "weekly"]))
    assert refused.value.row == 2002
    monkeypatch.setattr("moldcare.feeds.register.spellings.NUMBERS_AT_MOST", 500)
    with pytest.raises(TableRefused, match="more than 500 molds"):
        reader(endless(lambda number: [str(number), "vents", "weekly"]))
    assert (ROWS_AT_MOST, NUMBERS_AT_MOST) == (500_000, 100_000)


def test_long_texts_are_refused_in_their_row() -> None:
    long = "x" * 5000
    (row,) = molds_of(f"mold;name;mass a kg\n0417;{long};{long}\n")
    assert verdict(row) is Verdict.REFUSED
    (rule,) = care_of(f"mold;task;interval\n0417;vents;{long}\n")
    assert verdict(rule) is Verdict.REFUSED
    (rule,) = care_of(f"mold;task;interval\n0417;{long};weekly\n")
    assert (verdict(rule), len(rule.task)) == (Verdict.REFUSED, 120)


@pytest.mark.parametrize("sign", ["a,", "  ", "9", "1 ", "a+", "(", "every 1 ", "vents/", "a b "])
def test_a_cell_of_a_hundred_pages_is_refused_and_costs_no_more(sign: str) -> None:
    long = f"x{sign * 15_000}x"
    for heading in ("task", "interval", "last done", "last count"):
        content = f'mold|{heading}|grease\n0417|"{long}"|weekly\n'
        assert list(care_plan(content).rows())
    for heading in ("name", "mass", "circuits", "resin", "class", "as of", "what"):
        assert list(molds_plan(f'mold|{heading}\n0417|"{long}"\n').rows())
    assert list(care_plan(f'mold|"{long}"|vents\n0417|x|weekly\n').rows())


@pytest.mark.parametrize(
    "text", ["9" * 90, "1" + " 000" * 20, "1." * 40, "(" * 90, "a" * 90, "1 oder " * 12, "- " * 40]
)
def test_no_text_is_too_much_for_the_readers(text: str) -> None:
    for heading in ("interval", "last done", "last count"):
        list(care_plan(f"mold;task;{heading}\n0417;vents;{text}\n").rows())
    for heading in ("mass", "cavities", "cycle time", "life count", "as of", "class", "resin"):
        list(molds_plan(f"mold;{heading}\n0417;{text}\n").rows())
