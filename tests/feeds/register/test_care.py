"""Maintenance sheets: intervals, tasks, the last time, columns by task, answers."""

from datetime import date

import openpyxl
import pytest

from moldcare.care.families import FAMILIES
from moldcare.feeds.register.intervals import Interval, read_interval
from moldcare.feeds.register.last_done import last_parts
from moldcare.feeds.register.tasks import family_of, tasks_in
from moldcare.feeds.tables import Meaning, Verdict
from moldcare.feeds.tables.numbers import Signs
from tests.feeds.register.make_examples import saved
from tests.feeds.register.reading import OURS, care_of, care_plan, example, facts, verdict


@pytest.mark.parametrize(
    ("text", "count", "basis", "n", "unit"),
    [
        ("50.000 Schuss", 50_000, "shots", None, ""),
        ("every 3 months", None, "cycles", 3, "month"),
        ("alle 14 Tage", None, "cycles", 14, "day"),
        ("50k", 50_000, "cycles", None, ""),
        ("250k shots or 6 months", 250_000, "shots", 6, "month"),
        ("250.000/6 Monate", None, "cycles", 6, "month"),
        ("weekly", None, "cycles", 1, "week"),
        ("jährlich", None, "cycles", 1, "year"),
        ("cada 6 meses", None, "cycles", 6, "month"),
        ("cada semana", None, "cycles", 1, "week"),
        ("100 mil ciclos", 100_000, "cycles", None, ""),
        ("50 000 Hübe", 50_000, "cycles", None, ""),
        ("0,5 Mio Schuss", 500_000, "shots", None, ""),
        ("4x jährlich", None, "cycles", 3, "month"),
        ("1,5 Jahre", None, "cycles", 18, "month"),
        ("quarterly", None, "cycles", 3, "month"),
        ("14-tägig", None, "cycles", 2, "week"),
        ("alle 50.000 Schuss, spätestens 12 Monate", 50_000, "shots", 12, "month"),
        ("250,000 cycles / yearly, whichever comes first", 250_000, "cycles", 1, "year"),
    ],
)
def test_intervals_are_understood_in_three_languages(
    text: str, count: int | None, basis: str, n: int | None, unit: str
) -> None:
    found = read_interval(text, signs=Signs.THOUSANDS)
    assert isinstance(found, Interval)
    assert (found.count, found.basis, found.period_n, found.period_unit) == (count, basis, n, unit)


@pytest.mark.parametrize(
    "text",
    [
        "as needed",
        "1.5 h",
        "0 h",
        "soon",
        "each run or at each set",
        "200 h or 500 h",
        "-5",
        "0",
        "3 / 6",
        "1,5 Tage",
        "6 months or 1 year",
        "2x a week",
    ],
)
def test_what_is_no_interval_is_said_and_not_guessed(text: str) -> None:
    assert isinstance(read_interval(text, signs=Signs.THOUSANDS), str)


@pytest.mark.parametrize(
    ("name", "family"),
    [
        ("Vent wipe", "vents"),
        ("Entlüftungen reinigen", "vents"),
        ("Grease slides, lifters", "lubrication"),
        ("Führungen fetten", "lubrication"),
        ("Engrase de guías", "lubrication"),
        ("Inspection, quick", "inspection"),
        ("Sichtprüfung", "inspection"),
        ("Re-polish", "finish"),
        ("Descale circuits", "descaling"),
        ("Kühlkreise entkalken", "descaling"),
        ("Bubblers, baffles out", "bubblers_and_baffles"),
        ("O-rings", "seals_and_hoses"),
        ("Leak test", "leak_test"),
        ("Dichtheitsprüfung", "leak_test"),
        ("Springs, set change", "wear_parts"),
        ("Tips, valve pins", "hot_runner"),
        ("Heißkanal prüfen", "hot_runner"),
        ("Ejector pins out", "ejection_and_slides"),
        ("Schieber prüfen", "ejection_and_slides"),
        ("Rust protection", "rust_protection"),
        ("Counter check", "counter_check"),
        ("odd jobs", ""),
    ],
)
def test_families_are_told_by_words_of_the_trade(name: str, family: str) -> None:
    # common practice, no source
    assert family_of(name) == family
    assert not family or family in {start.key for start in FAMILIES}


@pytest.mark.parametrize(
    ("text", "tasks"),
    [
        ("grease + inspect", ("grease", "inspect")),
        ("vents / polish", ("vents", "polish")),
        ("vents\npolish", ("vents", "polish")),
        ("Entlüftung reinigen, Politur prüfen", ("Entlüftung reinigen", "Politur prüfen")),
        ("Schmieren und Sichtprüfung", ("Schmieren", "Sichtprüfung")),
        ("Grease slides, lifters", ("Grease slides, lifters",)),
        ("Vent clean, inserts out", ("Vent clean, inserts out",)),
        ("O-rings/hoses", ("O-rings/hoses",)),
        ("clean and inspect vents", ("clean and inspect vents",)),
    ],
)
def test_two_tasks_in_one_cell_are_two_and_one_task_with_a_comma_is_one(
    text: str, tasks: tuple[str, ...]
) -> None:
    assert tasks_in(text) == tasks


def test_two_tasks_of_a_cell_are_shown_as_such() -> None:
    first, second = care_of("mold;task;interval\n0417;grease + inspect;weekly\n")
    assert (first.task, second.task) == ("grease", "inspect")
    assert "names 2 tasks; this is number 2" in second.notes[0]
    assert (first.period_unit, second.period_unit) == ("week", "week")


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("03.08.2026 / 184.000", ("03.08.2026", "184.000")),
        ("184.000 Schuss (03.08.2026)", ("03.08.2026", "184.000 Schuss")),
        ("03.08.2026 bei 184.000", ("03.08.2026", "184.000")),
        ("2026-08-03 @ 184000", ("2026-08-03", "184000")),
        ("03/08/2026 184000", ("03/08/2026", "184000")),
        ("3 August 2026", ("3 August 2026", "")),
        ("184000", ("", "184000")),
        ("last week", ("last week", "")),
    ],
)
def test_day_and_count_of_the_last_time_are_parted(text: str, parts: tuple[str, str]) -> None:
    assert last_parts(text) == parts


def test_the_last_time_is_read_from_one_cell_or_two() -> None:
    one = care_of("mold;task;interval;last done\n1;vents;weekly;25.03.2026 / 184.250\n")
    two = care_of("mold;task;interval;last done;last count\n1;vents;weekly;25.03.2026;184.250\n")
    assert facts(one[0]) == facts(two[0])
    assert (one[0].last_done, one[0].last_count) == (date(2026, 3, 25), 184_250)


def test_intervals_stand_in_one_column_or_two() -> None:
    rows = [
        *care_of("mold;task;interval\n1;vents;100000 shots or 6 months\n"),
        *care_of("mold;task;interval shots;interval months\n1;vents;100000;6\n"),
    ]
    for row in rows:
        assert (row.count_interval, row.count_basis) == (100_000, "shots")
        assert (row.period_n, row.period_unit) == (6, "month")


def test_a_number_without_a_unit_waits_unless_it_can_only_be_a_count() -> None:
    assert [verdict(row) for row in care_of(example("sheet-without-units.csv"))] == [
        Verdict.NEEDS_ANSWER,
        Verdict.NEEDS_ANSWER,
    ]
    answered = care_of(example("sheet-without-units.csv"), answers={"unit:interval": "month"})
    assert [(row.period_n, row.period_unit) for row in answered] == [(6, "month"), (12, "month")]
    plan = care_plan("mold;task;interval\n1;vents;100000\n")
    (question,) = plan.questions
    assert (question.key, question.assumed) == ("unit:interval", "cycles")
    assert next(plan.rows()).count_interval == 100_000


def test_a_heading_that_counts_in_thousands_is_followed() -> None:
    content = "Werkzeug;Aufgabe;Intervall (Tsd. Schuss);Zuletzt bei (Tsd.)\n1;Fetten;50;184,25\n"
    (row,) = care_of(content)
    assert (row.count_interval, row.count_basis, row.last_count) == (50_000, "shots", 184_250)


def test_round_intervals_are_thousands_said_and_changeable() -> None:
    plan = care_plan("mold;task;interval\n1;vents;50.000 Schuss\n")
    assert [(each.key, each.assumed) for each in plan.questions] == [
        ("numbers:counts", "thousands")
    ]
    assert next(plan.rows()).count_interval == 50_000


def test_a_task_said_twice_is_said_and_a_contradiction_is_refused() -> None:
    rows = care_of(example("sheet-same-task-twice.csv"), answers={"same:0417": "same"})
    assert [verdict(row) for row in rows] == [
        *(None, Verdict.DUPLICATE, Verdict.REFUSED, Verdict.DUPLICATE),
    ]
    assert rows[1].problem is not None
    assert rows[1].problem.reason == "Row 2 says the same."


def test_rows_below_a_mold_belong_to_it_only_when_somebody_says_so() -> None:
    rows = care_of(example("sheet-molds-above.csv"), answers={"mold_above": "yes"})
    assert [(row.number, row.task) for row in rows] == [
        *(("0417", "grease"), ("0417", "vents"), ("0418", "grease")),
    ]


def test_molds_that_are_none_of_ours_are_listed() -> None:
    content = "mold;task;interval\n0417;vents;weekly\n9999;vents;weekly\nM-0418;vents;weekly\n"
    ours, strange, alike = care_of(content, match_mold=OURS)
    assert (ours.mold, verdict(ours)) == (1, None)
    assert verdict(strange) is Verdict.NOT_OURS
    assert verdict(alike) is Verdict.NEEDS_ANSWER
    (*_others, alike) = care_of(content, match_mold=OURS, answers={"same:0418": "same"})
    assert (alike.mold, alike.number, alike.problem) == (3, "0418", None)


def test_a_mold_of_ours_does_not_wait_for_another_spelling_of_it() -> None:
    content = "mold;task;interval\n0417;vents;weekly\nM-0417;grease;weekly\n"
    ours, doubtful = care_of(content, match_mold=OURS)
    assert (ours.mold, ours.problem) == (1, None)
    assert verdict(doubtful) is Verdict.NEEDS_ANSWER
    settled = care_of(content, match_mold=OURS, answers={"same:0417": "same"})
    assert [(row.mold, row.problem) for row in settled] == [(1, None), (1, None)]


def test_a_day_number_waits_and_is_the_day_that_was_answered() -> None:
    content = example("sheet-with-pairs.xlsx")
    # Day 46,085 counted from 30 December 1899 (ECMA-376 part 1, 18.17.4.1): 4 March 2026.
    *_rest, row = care_of(content, answers={"serial_days": "1900"})
    assert row.last_done == date(2026, 3, 4)


def test_a_date_where_an_interval_belongs_is_refused() -> None:
    book = openpyxl.Workbook()
    book.active.append(["mold", "task", "interval"])
    book.active.append(["0417", "vents", date(2026, 6, 3)])
    (row,) = care_of(saved(book))
    assert verdict(row) is Verdict.REFUSED
    assert row.problem is not None
    assert "date" in row.problem.reason


def test_one_column_a_task_names_task_and_facet_of_each_column() -> None:
    plan = care_plan(example("sheet-column-a-task.csv"))
    assert [(column.task_text, str(column.meaning)) for column in plan.columns] == [
        *((None, "mold"), (None, "name"), ("Vents", "interval"), ("Vents", "last_done")),
        *(("Grease guides", "interval"), ("Grease guides", "last_done")),
        ("Rust protection", "last_done"),
    ]
    assert all(column.reason for column in plan.columns)


def test_when_something_is_due_next_is_not_when_it_was_done() -> None:
    content = "Werkzeug;Aufgabe;Intervall;Nächste Wartung;Fällig am\n1;Fetten;weekly;2026-12-01;x\n"
    plan = care_plan(content)
    assert [str(column.meaning) for column in plan.columns] == [
        *("mold", "task", "interval", "rest", "rest"),
    ]
    assert next(plan.rows()).last_done is None
    plan = care_plan("mold;Vents interval;Vents next due\n1;weekly;2026-12-01\n")
    assert [str(column.meaning) for column in plan.columns] == ["mold", "interval", "rest"]


def test_tasks_and_intervals_are_found_by_what_cells_hold() -> None:
    lines = "0417;vents;weekly\n0417;grease;monthly\n0418;springs;100 Tage\n"
    plan = care_plan(f"mold;xx;yy\n{lines}")
    assert [column.reason for column in plan.columns[1:]] == [
        *("by the tasks in it", "by the intervals in it"),
    ]
    assert [row.problem for row in plan.rows()] == [None] * 3


def test_a_person_may_say_what_a_column_under_a_task_holds() -> None:
    content = "mold;Vents\n0417;150250\n"
    (row,) = care_of(content, answers={"column:vents": "last_count"})
    assert (row.task, row.last_count, row.count_interval) == ("Vents", 150_250, None)


def test_a_column_that_is_no_task_is_left_alone() -> None:
    plan = care_plan("mold;Vents;Last run;Letzte Produktion;Press\n0417;weekly;2026-03-01;x;3\n")
    meanings = {column.name: str(column.meaning) for column in plan.columns}
    assert meanings == {
        **{"mold": "mold", "Vents": "interval", "Last run": "rest"},
        **{"Letzte Produktion": "rest", "Press": "rest"},
    }


def test_what_a_sheet_meant_before_is_remembered() -> None:
    remembered = {"wann": Meaning.INTERVAL}
    (row,) = care_of("mold;task;wann\n0417;vents;weekly\n", remembered=remembered)
    assert row.period_unit == "week"


def test_a_sheet_without_tasks_is_asked_for_them() -> None:
    content = "mold;what else;interval\n0417;x;weekly\n"
    plan = care_plan(content)
    assert [question.key for question in plan.open_questions] == ["meaning:task"]
    assert [verdict(row) for row in plan.rows()] == [Verdict.NEEDS_ANSWER]
    (row,) = care_of(content, answers={"meaning:task": "what else"})
    assert (row.task, row.problem) == ("x", None)


def test_a_sheet_about_one_task_is_asked_which_it_is() -> None:
    content = "mold;last PM;last PM count;PM interval\n0417;2026-03-01;184250;100000\n"
    (question,) = care_plan(content).open_questions
    assert (question.key, question.choices) == ("task_for_all", ())
    (row,) = care_of(content, answers={"task_for_all": "PM service"})
    assert facts(row) == {
        **{"row": 2, "column": "A", "number": "0417", "task": "PM service"},
        **{"count_interval": 100_000, "last_done": date(2026, 3, 1), "last_count": 184_250},
    }


def test_a_row_of_intervals_below_the_tasks_belongs_to_the_heading() -> None:
    plan = care_plan(
        "Werkzeug;Entlüftung;Führungen fetten\nIntervall;100.000;wöchentlich\n"
        "0417;12.03.2026;20.03.2026\n0418;;21.03.2026\n"
    )
    assert plan.heading_row == 2
    assert [(row.number, row.task, row.count_interval, row.period_unit) for row in plan.rows()] == [
        ("0417", "Entlüftung", 100_000, ""),
        ("0417", "Führungen fetten", None, "week"),
        ("0418", "Führungen fetten", None, "week"),
    ]
