"""What a file does not say is asked or taken from its titles, and shown; nothing is guessed."""

from decimal import Decimal
from typing import Any

import openpyxl
import pytest

from moldcare.feeds.register.bare_counts import BARE_COUNTS_KEY
from moldcare.feeds.register.gather import HIDDEN_KEY
from moldcare.feeds.tables import Meaning, Verdict
from tests.feeds.register.make_examples import saved
from tests.feeds.register.reading import care_of, care_plan, molds_of, molds_plan, verdict

BEHIND = "mold;task;interval;last done;{}\n1;vents;20,000 shots;2026-03-04;184,000\n"
APART = "mold;task;interval;{};last done\n1;vents;weekly;184,000;2026-03-04\n"


def columns(plan: Any) -> dict[str, Meaning]:
    return {column.name: column.meaning for column in plan.columns}


@pytest.mark.parametrize("heading", ["Shots", "Cycles", "Schuss", "Zyklen", "Disparos", "Ciclos"])
def test_bare_counts_behind_the_last_day_are_those_of_the_last_time(heading: str) -> None:
    content = BEHIND.format(heading)
    question = next(each for each in care_plan(content).questions if each.key == BARE_COUNTS_KEY)
    assert question.assumed == Meaning.LAST_COUNT
    (row,) = care_of(content)
    assert (row.count_interval, row.last_count, row.problem) == (20_000, 184_000, None)


@pytest.mark.parametrize(
    ("answer", "interval", "last"),
    [("last_count", None, 184_000), ("count_interval", 184_000, None), ("rest", None, None)],
)
def test_bare_counts_that_may_be_anything_are_asked(
    answer: str, interval: int | None, last: int | None
) -> None:
    content = APART.format("Shots")
    assert [each.key for each in care_plan(content).open_questions] == [BARE_COUNTS_KEY]
    (waits,) = care_of(content)
    assert verdict(waits) is Verdict.NEEDS_ANSWER
    (row,) = care_of(content, answers={BARE_COUNTS_KEY: answer})
    assert (row.count_interval, row.last_count, row.problem) == (interval, last, None)


def test_what_a_person_said_of_bare_counts_is_not_asked_again() -> None:
    content = APART.format("Shots")
    told = care_plan(content, answers={"column:shots": "last_count"})
    known = care_plan(content, remembered={"shots": Meaning.LAST_COUNT})
    for plan in (told, known):
        assert plan.open_questions == ()
        assert columns(plan)["Shots"] is Meaning.LAST_COUNT
    assert care_plan("mold;task;shots\n1;vents;20,000\n").open_questions == ()
    assert care_plan("mold;task;interval;every shots\n1;vents;weekly;20,000\n").open_questions == ()


@pytest.mark.parametrize(
    ("title", "mass", "seconds"),
    [
        ("Molds, all weights in lb", Decimal("190.5"), Decimal(30)),
        ("Weights: pounds. Cycle times: minutes.", Decimal("190.5"), Decimal(1800)),
        ("Gewichte in kg, Zeiten in Sekunden", Decimal(420), Decimal(30)),
        ("Pesos en toneladas", Decimal(420_000), Decimal(30)),
        ("Weights in kg, in the old list in lb", Decimal(420), Decimal(30)),
        ("To be kept in the office", Decimal(420), Decimal(30)),
    ],
)
def test_units_that_stand_in_a_title_alone_are_taken_and_shown(
    title: str, mass: Decimal, seconds: Decimal
) -> None:
    content = f"{title};;\nmold;mass;cycle time\n0417;420;30\n"
    (row,) = molds_of(content)
    assert (row.mass_kg, row.cycle_time_s) == (mass, seconds)
    asked = {each.key: each.assumed for each in molds_plan(content).questions}
    assert {*asked} == {"unit:mass", "unit:cycle time"}
    (row,) = molds_of(content, answers={"unit:mass": "g"})
    assert row.mass_kg == Decimal("0.4")
    (row,) = molds_of(f"{title};;\nmold;mass (kg);cycle time (s)\n0417;420;30\n")
    assert (row.mass_kg, row.cycle_time_s) == (Decimal(420), Decimal(30))


def test_of_two_columns_under_the_very_same_heading_none_is_taken() -> None:
    content = "mold;weight kg;cavities;weight kg\n0417;420;8;515\n"
    assert [each.key for each in molds_plan(content).open_questions] == ["meaning:mass"]
    (waits,) = molds_of(content)
    assert (verdict(waits), waits.mass_kg) == (Verdict.NEEDS_ANSWER, None)
    said = {"column:weight kg": "mass_a", "column:weight kg (d)": "mass_b"}
    (row,) = molds_of(content, answers=said)
    assert (row.mass_a_kg, row.mass_b_kg, row.problem) == (Decimal(420), Decimal(515), None)


@pytest.mark.parametrize("read", [molds_plan, care_plan])
def test_hidden_rows_are_said_and_may_be_left(read: Any) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    for row in (["mold", "task", "interval"], ["1", "vents", "weekly"], ["2", "vents", "weekly"]):
        sheet.append(row)
    sheet.append([None, None, None])
    sheet.auto_filter.ref = "A1:C3"
    assert HIDDEN_KEY not in {each.key for each in read(saved(book)).questions}
    # an empty row that is hidden is none
    for hidden in (3, 4):
        sheet.row_dimensions[hidden].hidden = True
    (question,) = [each for each in read(saved(book)).questions if each.key == HIDDEN_KEY]
    assert (question.assumed, question.text) == (
        "read",
        "Row 3 is hidden in the workbook. Is it read?",
    )
    rows = list(read(saved(book)).rows())
    assert [(row.number, verdict(row)) for row in rows] == [("1", None), ("2", None)]
    rows = list(read(saved(book), answers={HIDDEN_KEY: "leave"}).rows())
    assert [(row.row, verdict(row)) for row in rows] == [(2, None), (3, Verdict.SKIPPED)]


def test_signs_that_no_database_takes_are_gone() -> None:
    content = "mold;name\n" + "0416;Lid\n" * 600 + "0417\0\0\0;Hou\0sing\x01\n"
    row = molds_of(content)[-1]
    assert (row.number, row.name) == ("0417", "Housing")
    (row,) = care_of("mold;task;interval;note\n0417\0;ve\0nts;weekly;" + "x" * 200 + "\n")
    assert (row.number, row.task, row.period_unit) == ("0417", "vents", "week")


def test_a_cell_that_holds_no_value_is_named_by_its_column() -> None:
    book = openpyxl.Workbook()
    for values in (["mold", "mass kg", "as of"], ["1", "#REF!", None], ["2", None, "=TODAY()"]):
        book.active.append(values)
    book.active["B2"].data_type = "e"
    reasons = [row.problem.reason if row.problem else "" for row in molds_of(saved(book))]
    assert reasons[0] == "“mass kg” holds the error “#REF!”."
    assert reasons[1].startswith("“as of” holds a formula whose result was not saved.")


def test_what_a_point_may_mean_is_said_in_numbers_that_tell_the_two_apart() -> None:
    (question,) = molds_plan("mold;shots\n1;184.000\n").questions
    assert [choice.text for choice in question.choices] == ["184.000 = 184000", "184.000 = 184"]


def test_twin_headings_say_that_each_may_have_a_meaning_of_its_own() -> None:
    (question,) = molds_plan("mold;weight kg;weight kg\n1;420;515\n").questions
    assert question.text == (
        "Several columns are called “weight kg”. Which one is the mass? Or say of each column what "
        "it means."
    )
