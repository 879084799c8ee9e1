import io
import zipfile
from collections.abc import Callable
from datetime import datetime, time, timedelta
from typing import Any

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from moldcare.core.errors import TableRefused, WrongFile
from moldcare.feeds.tables import open_table
from moldcare.feeds.tables.cell_formats import shown
from tests.feeds.tables.reading import BERLIN, example, plan_of, rows_of, values_of

AT = datetime.fromisoformat("2026-04-13 06:00")


def workbook_of(*rows: list[Any], change: Callable[[Any], None] | None = None) -> bytes:
    workbook = openpyxl.Workbook()
    for row in rows:
        workbook.active.append(row)
    if change is not None:
        change(workbook.active)
    content = io.BytesIO()
    workbook.save(content)
    return content.getvalue()


def with_sheet(content: bytes, *, change: Callable[[bytes], bytes]) -> bytes:
    """Give the workbook with its first sheet's XML changed."""
    changed = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(content)) as old,
        zipfile.ZipFile(changed, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in old.namelist():
            part = old.read(name)
            new.writestr(name, change(part) if name == "xl/worksheets/sheet1.xml" else part)
    return changed.getvalue()


HEADING = ["mold", "at", "reading"]


def test_a_number_shown_with_zeros_is_asked_and_never_matched_by_dropping_them() -> None:
    def zeros(sheet: Any) -> None:
        sheet["A3"].number_format = "0000"

    content = workbook_of(HEADING, ["0417", AT, 100], [417, AT, 200], change=zeros)
    plan = plan_of(content)
    (question,) = plan.open_questions
    assert question.key == "zeros:mold"
    assert "shows 0417 but holds 417" in question.text
    text_cell, number_cell = plan.rows()
    assert text_cell.mold is not None
    assert text_cell.mold.label == "0417"
    assert number_cell.problem is not None
    assert number_cell.problem.verdict == "needs_answer"
    assert [proposal.text for proposal in number_cell.problem.proposals] == ["0417", "417"]
    for answer, label in (("shown", "0417"), ("held", "417")):
        row = rows_of(content, answers={"zeros:mold": answer})[1]
        assert row.problem is None
        assert row.mold is not None
        assert row.mold.label == label


def test_a_column_of_numbers_with_gaps_keeps_whole_numbers_whole() -> None:
    content = workbook_of(HEADING, [417, AT, 12400], [None, AT, 12450.0], [417, AT, 12455.5])
    rows = rows_of(content)
    assert [row.mold_text for row in rows] == ["417", "", "417"]
    assert [row.value for row in rows] == [12400, 12450, None]
    assert rows[1].problem is not None
    assert rows[1].problem.reason == "This row names neither a mold nor a counter."
    assert rows[2].problem is not None
    assert (rows[2].row, rows[2].problem.verdict) == (4, "refused")


def test_a_name_of_more_than_15_digits_held_as_a_number_is_flagged() -> None:
    row = rows_of(workbook_of(HEADING, [4501234567890123, AT, 5]))[0]
    assert row.problem is not None
    assert "15 digits" in row.problem.reason


def test_a_name_shown_as_a_power_of_ten_is_flagged() -> None:
    def power(sheet: Any) -> None:
        sheet["A2"].number_format = "0.00E+00"

    row = rows_of(workbook_of(HEADING, [1200000, AT, 5], change=power))[0]
    assert row.problem is not None
    assert "a name with an E in it" in row.problem.reason


def test_200_rows_under_a_size_note_of_one_cell_are_200_rows() -> None:
    content = workbook_of(HEADING, *(["0001", AT, value] for value in range(199)))
    wrong = with_sheet(content, change=lambda part: part.replace(b'ref="A1:C200"', b'ref="A1"'))
    assert b'ref="A1"' in zipfile.ZipFile(io.BytesIO(wrong)).read("xl/worksheets/sheet1.xml")
    assert len(list(open_table(wrong, name="x.xlsx").rows())) == 200
    assert plan_of(wrong).rows_count == 199


def test_formatting_down_to_the_last_row_is_not_walked() -> None:
    blank = b"".join(b'<row r="%d"><c r="A%d" s="0"/></row>' % (n, n) for n in range(4, 300_000))
    last = b'<row r="1048576"><c r="A1048576" s="0"/></row>'
    content = with_sheet(
        workbook_of(HEADING, ["0001", AT, 5], ["0002", AT, 6]),
        change=lambda part: part.replace(b"</sheetData>", blank + last + b"</sheetData>"),
    )
    assert [row.number for row in open_table(content, name="x.xlsx").rows()] == [1, 2, 3]
    assert plan_of(content).rows_count == 2


def test_something_behind_a_very_long_run_of_empty_rows_is_said_and_not_lost() -> None:
    stray = b'<row r="1048576"><c r="A1048576"><v>1</v></c></row>'
    content = with_sheet(
        workbook_of(HEADING, ["0001", AT, 5]),
        change=lambda part: part.replace(b"</sheetData>", stray + b"</sheetData>"),
    )
    with pytest.raises(WrongFile, match="Row 1048576 holds something") as refused:
        plan_of(content)
    assert refused.value.row == 1_048_576


def test_a_name_merged_over_several_rows_is_each_rows_name() -> None:
    def merge(sheet: Any) -> None:
        sheet.merge_cells("A2:A4")

    content = workbook_of(
        HEADING,
        ["0001", AT, 5],
        [None, AT, 6],
        [None, AT, 7],
        ["0002", AT, 8],
        change=merge,
    )
    assert [row.mold_text for row in rows_of(content)] == ["0001", "0001", "0001", "0002"]


def test_merged_cells_pass_their_value_on_in_both_directions() -> None:
    def merge(sheet: Any) -> None:
        sheet.merge_cells("A1:C1")
        sheet.merge_cells("A2:B3")
        sheet.merge_cells("C3:D4")

    content = workbook_of(
        ["title", None, None, None],
        ["0001", None, 1, 2],
        [None, None, 3, None],
        ["x", "y", None, None],
        change=merge,
    )
    assert [row.cells for row in open_table(content, name="x.xlsx").rows()] == [
        ["title", "title", "title"],
        ["0001", "0001", "1", "2"],
        ["0001", "0001", "3", "3"],
        ["x", "y", "3", "3"],
    ]


def test_cells_merged_over_a_whole_sheet_do_not_fill_it() -> None:
    def merge(sheet: Any) -> None:
        sheet.merge_cells("A1:XFD1")

    content = workbook_of(["title"], ["0001", "5"], change=merge)
    assert [len(row.cells) for row in open_table(content, name="x.xlsx").rows()][1] == 2


def test_a_value_merged_over_several_rows_is_one_reading() -> None:
    def merge(sheet: Any) -> None:
        sheet.merge_cells("C2:C3")

    content = workbook_of(HEADING, ["0001", AT, 5], ["0002", AT, None], change=merge)
    rows = rows_of(content)
    assert [row.value for row in rows] == [5, None]
    assert rows[1].problem is not None
    assert rows[1].problem.verdict == "skipped"


def test_formulas_give_their_saved_result_and_without_one_are_refused() -> None:
    content = workbook_of(HEADING, ["0001", AT, "=1+4"], ["0002", AT, 6])
    first, second = rows_of(content)
    assert first.problem is not None
    assert "result was not saved" in first.problem.reason
    assert second.value == 6
    saved = with_sheet(
        content,
        change=lambda part: (
            part.replace(b"<v></v>", b"<v>5</v>")
            .replace(b"<v/>", b"<v>5</v>")
            .replace(b"<v />", b"<v>5</v>")
        ),
    )
    assert values_of(saved) == [5, 6]


def test_an_error_in_a_cell_is_refused_in_its_row() -> None:
    row = rows_of(workbook_of(HEADING, ["0001", AT, "#N/A"], ["0002", AT, 6]))[0]
    assert row.problem is not None
    assert row.problem.verdict == "refused"


@pytest.mark.parametrize(
    ("at", "sentence"),
    [("#REF!", "holds the error"), ("=A1", "result was not saved"), (None, "names no date")],
)
def test_a_date_that_a_cell_does_not_give_is_refused(at: str | None, sentence: str) -> None:
    row = rows_of(workbook_of(HEADING, ["0001", at, 5], ["0001", AT, 6]))[0]
    assert row.problem is not None
    assert row.problem.verdict == "refused"
    assert sentence in row.problem.reason


def test_dates_and_times_of_cells_are_read_to_the_second() -> None:
    rows = [
        [*HEADING[:1], "date", "time", "reading"],
        ["0001", AT, None, 5],
        ["0001", AT.date(), time(14, 22), 6],
        ["0001", AT.date(), timedelta(hours=22), 7],
        ["0001", "2026-04-14", "05:55", 8],
        ["0001", datetime.fromisoformat("2026-04-14 13:59:59.999000"), None, 9],
    ]
    moments = [
        row.at.astimezone(BERLIN).strftime("%d %H:%M:%S") if row.at else None
        for row in rows_of(workbook_of(*rows))
    ]
    assert moments == [
        *("13 06:00:00", "13 14:22:00", "13 22:00:00", "14 05:55:00", "14 14:00:00"),
    ]


def test_a_day_without_a_time_in_a_cell_waits_for_one() -> None:
    content = workbook_of(HEADING, ["0001", AT.date(), 5])
    assert [question.key for question in plan_of(content).open_questions] == ["time_of_day"]
    assert rows_of(content, answers={"time_of_day": "06:00"})[0].problem is None


def test_a_date_where_a_reading_should_be_is_refused() -> None:
    row = rows_of(workbook_of(HEADING, ["0001", AT, AT]))[0]
    assert row.problem is not None
    assert "is no number" in row.problem.reason


def test_several_sheets_are_named_and_can_be_chosen() -> None:
    content = example("weekly-workbook.xlsx")
    table = open_table(content, name="x.xlsx")
    assert (table.sheet, table.sheets) == ("2026", ("2026", "2025"))
    assert [question.key for question in table.questions] == ["sheet"]
    chosen = open_table(content, name="x.xlsx", sheet="2025")
    assert chosen.questions == ()
    assert sum(1 for _row in chosen.rows()) == 2
    with pytest.raises(TableRefused, match="2026, 2025"):
        open_table(content, name="x.xlsx", sheet="2024")


def test_empty_sheets_in_front_are_passed_over() -> None:
    workbook = openpyxl.Workbook()
    sheet = workbook.create_sheet("Readings")
    for row in (HEADING, ["0001", AT, 5]):
        sheet.append(row)
    content = io.BytesIO()
    workbook.save(content)
    table = open_table(content.getvalue(), name="x.xlsx")
    assert (table.sheet, table.questions) == ("Readings", ())


def test_rows_of_a_workbook_can_be_walked_again() -> None:
    table = open_table(workbook_of(HEADING, ["0001", AT, 5]), name="x.xlsx")
    walk = table.rows()
    next(walk)
    walk.close()
    assert len(list(table.rows())) == len(list(table.rows())) == 2


@pytest.mark.parametrize(
    ("value", "number_format", "text"),
    [
        *((417, "0000", "0417"), (417, "General", "417"), (417.0, "General", "417")),
        *((12400, "#,##0", "12,400"), (12.5, "0.00", "12.50"), (12.5, "0.0#", "12.5")),
        *((-5, "0", "-5"), (-5, "#,##0;[Red]-#,##0", "-5"), (417, '"M-"0000', "M-0417")),
        *((417, '0000" pcs"', "0417 pcs"), (1234567, "#,##0.0", "1,234,567.0")),
        *((True, "General", "TRUE"), (0, "#,##0", "0"), (0.5, "0%", "0.5")),
    ],
)
def test_cells_show_what_their_format_says(value: Any, number_format: str, text: str) -> None:
    # From memory of how spreadsheets show these formats; ECMA-376 part 1, 18.8.31 describes them.
    assert shown(value, number_format=number_format) == text


@given(value=st.integers(0, 10**14), width=st.integers(1, 16))
def test_zeros_in_front_are_shown_as_wide_as_the_format(value: int, width: int) -> None:
    assert shown(value, number_format="0" * width) == str(value).zfill(width)


@given(value=st.integers(0, 10**15))
def test_thousands_are_shown_as_python_groups_them(value: int) -> None:
    assert shown(value, number_format="#,##0") == f"{value:,}"
