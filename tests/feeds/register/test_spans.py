"""Months, weeks and years in the place of a day: asked, never guessed."""

from datetime import date, datetime

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from moldcare.feeds.register.spans import SPANS_KEY, written_span
from moldcare.feeds.tables import Verdict
from tests.feeds.register.make_examples import saved
from tests.feeds.register.reading import care_of, care_plan, molds_of, molds_plan, verdict

MARCH = [
    *("03/2024", "3/2024", "03.2024", "03-2024", "2024-03", "2024/03", "03 / 2024"),
    *("March 2024", "Mar 2024", "Mar. 2024", "März 2024", "Mrz. 2024", "marzo de 2024"),
    *("marzo 2024", "MÄRZ 2024", "Mar-2024", " March  2024"),
]
NO_SPAN = [
    *("12.03.2024", "2024-03-12", "March 24", "03/24", "13/2024", "00/2024", "2024", "202403"),
    *("Foo 2024", "KW 54/2024", "KW 53/2024", "KW 0/2024", "3 March 2024", "", "1/2/2024"),
]


@pytest.mark.parametrize("text", MARCH)
def test_a_month_is_known_however_it_is_written(text: str) -> None:
    assert written_span(" ".join(text.split())) == (date(2024, 3, 1), date(2024, 3, 31))


@pytest.mark.parametrize("text", NO_SPAN)
def test_what_names_a_day_or_nothing_is_no_month(text: str) -> None:
    assert written_span(text) is None


@given(st.dates(date(1971, 1, 4), date(2099, 12, 20)))
def test_weeks_are_those_of_the_standard_library(day: date) -> None:
    # Python's date.fromisocalendar follows ISO 8601
    year, week, _weekday = day.isocalendar()
    for text in (f"KW {week}/{year}", f"CW{week:02d} {year}", f"{year}-W{week:02d}"):
        span = written_span(text)
        assert span is not None
        assert span.first <= day <= span.last
        assert (span.first.isoweekday(), span.last.isoweekday()) == (1, 7)


@pytest.mark.parametrize(("answer", "day"), [("first", 1), ("last", 29)])
def test_it_is_asked_which_day_is_taken(answer: str, day: int) -> None:
    content = "mold;task;interval;last done\n1;vents;weekly;02/2024\n2;vents;weekly;2024-02-10\n"
    (question,) = care_plan(content).open_questions
    assert question.key == SPANS_KEY
    assert [choice.text for choice in question.choices] == [
        "the first: 2024-02-01",
        "the last: 2024-02-29",
    ]
    waits, plain = care_of(content)
    assert (verdict(waits), waits.last_done) == (Verdict.NEEDS_ANSWER, None)
    assert (verdict(plain), plain.last_done) == (None, date(2024, 2, 10))
    answered, plain = care_of(content, answers={SPANS_KEY: answer})
    assert (answered.last_done, answered.problem) == (date(2024, 2, day), None)
    assert plain.last_done == date(2024, 2, 10)
    assert care_plan(content, answers={SPANS_KEY: answer}).open_questions == ()


def test_an_answer_that_is_none_leaves_it_open() -> None:
    content = "mold;task;interval;last done\n1;vents;weekly;02/2024\n"
    assert care_plan(content, answers={SPANS_KEY: "middle"}).open_questions
    (row,) = care_of(content, answers={SPANS_KEY: "middle"})
    assert verdict(row) is Verdict.NEEDS_ANSWER


def test_a_register_asks_the_same_of_the_day_of_its_counts() -> None:
    content = "mold;life count;as of\n1;184.250;März 2026\n"
    assert [each.key for each in molds_plan(content).open_questions] == [SPANS_KEY]
    (row,) = molds_of(content, answers={SPANS_KEY: "last"})
    assert (row.opening_at, row.opening_count) == (date(2026, 3, 31), 184_250)


def test_month_and_count_in_one_cell_are_parted() -> None:
    content = "mold;task;interval;last done\n1;vents;weekly;03/2026 (184.000)\n"
    (row,) = care_of(content, answers={SPANS_KEY: "first"})
    assert (row.last_done, row.last_count) == (date(2026, 3, 1), 184_000)


@pytest.mark.parametrize(
    ("number_format", "is_asked"),
    [
        *[(code, True) for code in ("mm/yyyy", "mmm-yy", "[$-407]MMMM JJJJ", "yyyy")],
        *[(code, False) for code in ("dd.mm.yyyy", "yyyy-mm-dd", "mm-dd-yy", "General")],
    ],
)
def test_a_workbook_that_shows_a_month_holds_no_day(number_format: str, is_asked: bool) -> None:
    book = openpyxl.Workbook()
    book.active.append(["mold", "task", "interval", "last done"])
    book.active.append(["1", "vents", "weekly", datetime.fromisoformat("2026-03-01")])
    book.active["D2"].number_format = number_format
    plan = care_plan(saved(book))
    asked = [each.key for each in plan.open_questions if each.key == SPANS_KEY]
    assert bool(asked) is is_asked
    if is_asked:
        (row,) = care_of(saved(book), answers={SPANS_KEY: "last"})
        assert row.last_done == date(2026, 12 if number_format == "yyyy" else 3, 31)


@pytest.mark.parametrize("text", ["1998", "2024"])
def test_a_bare_year_is_taken_neither_for_a_day_nor_for_a_count(text: str) -> None:
    (row,) = care_of(f"mold;task;interval;last done\n1;vents;weekly;{text}\n")
    assert verdict(row) is Verdict.REFUSED
    assert row.problem is not None
    assert f"“{text} shots”" in row.problem.reason
    (row,) = care_of(f"mold;task;interval;last done\n1;vents;weekly;{text} shots\n")
    assert (row.last_count, row.problem) == (int(text), None)
    (row,) = care_of(f"mold;task;interval;last count\n1;vents;weekly;{text}\n")
    assert (row.last_count, row.problem) == (int(text), None)
