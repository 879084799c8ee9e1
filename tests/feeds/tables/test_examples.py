"""What must become of each file in fixtures/readings."""

import io
from collections import Counter

import openpyxl
import pytest

from moldcare.core.errors import TableRefused, UnreadableText, WrongFile
from moldcare.feeds.tables import open_table
from tests.feeds.tables.make_examples import TEXTS, WORKBOOKS
from tests.feeds.tables.reading import EXAMPLES, example, plan_of, rows_of

TAKEN = {
    "shift-round.csv": {"taken": 6},
    "schichtrunde-windows-1252.csv": {"taken": 7, "skipped": 2},
    "ronda-de-turno.csv": {"taken": 3},
    "weekly-one-column-a-mold.csv": {"needs_answer": 11, "skipped": 5},
    "unicode-text.txt": {"taken": 3},
    "with-byte-order-mark.csv": {"taken": 2},
    "swiss-apostrophes.csv": {"taken": 3},
    "day-or-month.csv": {"needs_answer": 4},
    "mixed-points.csv": {"taken": 1, "needs_answer": 2},
    "backwards-jumps-repeats.csv": {"taken": 9},
    "clock-change.csv": {"taken": 5, "needs_answer": 2},
    "odd-values.csv": {"taken": 2, "refused": 8, "skipped": 1, "not_ours": 1},
    "blanks-one-cannot-see.csv": {"taken": 3},
    "one-column.csv": {"needs_answer": 3},
    "cell-formats.xlsx": {"taken": 3, "needs_answer": 2, "refused": 4},
    "weekly-workbook.xlsx": {"needs_answer": 8, "skipped": 4},
}
REFUSED = {
    "both-orders-of-date.csv": (TableRefused, "row 2 .* row 3"),
    "broken-letter.csv": (UnreadableText, "Row 4 "),
    "empty.csv": (WrongFile, "empty"),
    "report-named-csv.csv": (WrongFile, "PDF"),
}
OPEN = {
    "weekly-one-column-a-mold.csv": ["time_of_day"],
    "day-or-month.csv": ["dates"],
    "mixed-points.csv": ["numbers:reading"],
    "clock-change.csv": ["clock_twice", "clock_never"],
    "one-column.csv": ["meaning:value", "meaning:at"],
    "cell-formats.xlsx": ["zeros:mold"],
    "weekly-workbook.xlsx": ["time_of_day"],
}


def test_every_file_of_the_folder_is_made_described_and_expected() -> None:
    names = {path.name for path in EXAMPLES.iterdir()} - {"README.md"}
    assert names == {*TEXTS, *WORKBOOKS} == {*TAKEN, *REFUSED}
    described = (EXAMPLES / "README.md").read_text()
    assert all(f"`{name}`" in described for name in names)


@pytest.mark.parametrize("name", sorted(TEXTS))
def test_text_files_are_what_their_maker_writes(name: str) -> None:
    assert example(name) == TEXTS[name]


@pytest.mark.parametrize("name", sorted(WORKBOOKS))
def test_workbooks_hold_what_their_maker_writes(name: str) -> None:
    made = io.BytesIO()
    WORKBOOKS[name]().save(made)
    kept = openpyxl.load_workbook(io.BytesIO(example(name)))
    for sheet, other in zip(kept, openpyxl.load_workbook(made), strict=True):
        assert sheet.title == other.title
        assert [[cell.value for cell in row] for row in sheet] == [
            [cell.value for cell in row] for row in other
        ]


@pytest.mark.parametrize("name", sorted(TAKEN))
def test_readings_are_taken_or_wait_or_are_refused(name: str) -> None:
    rows = rows_of(example(name))
    found = Counter(row.problem.verdict.value if row.problem else "taken" for row in rows)
    assert found == TAKEN[name]
    assert all(row.at and row.value is not None and row.mold for row in rows if not row.problem)


@pytest.mark.parametrize("name", sorted(TAKEN))
def test_only_what_the_file_leaves_open_is_asked(name: str) -> None:
    open_questions = plan_of(example(name)).open_questions
    assert [question.key for question in open_questions] == OPEN.get(name, [])
    assert all(question.text for question in open_questions)


@pytest.mark.parametrize("name", sorted(REFUSED))
def test_files_that_cannot_be_read_are_refused_with_a_sentence(name: str) -> None:
    error, sentence = REFUSED[name]
    with pytest.raises(error, match=sentence):
        plan_of(example(name))


def test_the_same_shift_round_reads_alike_from_three_languages() -> None:
    english = [(row.mold_text, row.at, row.value) for row in rows_of(example("shift-round.csv"))]
    german = [
        (row.mold_text, row.at, row.value)
        for row in rows_of(example("schichtrunde-windows-1252.csv"))
    ]
    spanish = [(row.mold_text, row.at, row.value) for row in rows_of(example("ronda-de-turno.csv"))]
    assert english[:3] == german[:3] == spanish


def test_the_old_encoding_keeps_its_umlauts() -> None:
    table = open_table(example("schichtrunde-windows-1252.csv"), name="x.csv")
    assert any("Gehäuse, 4 µm Grat" in row.cells for row in table.rows())
