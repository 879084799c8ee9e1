"""What becomes of registers and sheets that people keep by hand, before and after answers."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from moldcare.feeds.register.rows import CircuitRow
from moldcare.feeds.tables import Verdict
from tests.feeds.register.kept_by_people import KEPT_TEXTS, KEPT_WORKBOOKS
from tests.feeds.register.reading import (
    care_of,
    care_plan,
    example,
    facts,
    molds_of,
    molds_plan,
    verdict,
)

REFUSED, WAITS, SKIPPED = Verdict.REFUSED, Verdict.NEEDS_ANSWER, Verdict.SKIPPED

#: Of each register: what it asks, what a person answers, and then row, number, verdict, facts.
Expected = list[tuple[int, str, Verdict | None, dict[str, Any]]]
MOLDS: dict[str, tuple[dict[str, str], Expected]] = {
    "zeile-je-haelfte.csv": (
        {"mold_above": "yes"},
        [
            (
                *(2, "W-101", None),
                {
                    "mass_a_kg": Decimal(420),
                    "mass_b_kg": Decimal(515),
                    "circuits": (
                        CircuitRow(ident="A1", half="A", bore_mm=Decimal("8.00")),
                        CircuitRow(ident="A2", half="A", bore_mm=Decimal("8.00")),
                        CircuitRow(ident="B1", half="B", bore_mm=Decimal("10.00")),
                    ),
                },
            ),
            (4, "W-102", None, {"mass_a_kg": Decimal("30.5"), "mass_b_kg": Decimal("35.5")}),
            (6, "W-103", REFUSED, {"name": "Schale"}),
        ],
    ),
    "units-in-the-title.csv": (
        {},
        [
            # 1 lb is 0.45359237 kg exactly (NIST SP 811, appendix B.8)
            (5, "0417", None, {"name": 'Cap "blue" 24 mm', "mass_kg": Decimal("419.6")}),
            (6, "0418", None, {"name": "Housing", "mass_kg": Decimal("612.3")}),
            (7, "0419", None, {"mass_kg": Decimal(420), "cycle_time_s": Decimal(30)}),
        ],
    ),
    "twin-headings.csv": (
        {
            "meaning:mass": "",
            "column:weight (kg)": "mass_a",
            "column:weight (kg) (d)": "mass_b",
        },
        [
            (2, "0417", None, {"mass_a_kg": Decimal(420), "mass_b_kg": Decimal(515)}),
            (3, "0418", None, {"mass_a_kg": Decimal(612), "mass_b_kg": Decimal(580)}),
        ],
    ),
    "moldes-dos-filas.csv": (
        {},
        [
            (4, "0417", None, {"mass_a_kg": Decimal("420.5"), "cycle_time_s": Decimal("12.5")}),
            (5, "0418", None, {"mass_b_kg": Decimal(580), "cavity_count": 4}),
        ],
    ),
    "padded-with-nothing.csv": (
        {},
        [
            *((row, f"{row + 598:04d}", None, {"cavity_count": 4}) for row in range(2, 42)),
            (42, "0417", None, {"name": "Cap", "cavity_count": 8}),
        ],
    ),
    "hidden-rows.xlsx": (
        {},
        [
            (2, "0417", None, {"mass_kg": Decimal(935), "opening_at": date(2026, 3, 25)}),
            (3, "0418", REFUSED, {"opening_count": 1_204_880}),
            (4, "0419", REFUSED, {"name": "Lid"}),
            (5, "0420", None, {"name": "Scrapped tray"}),
        ],
    ),
}

#: Of each sheet: what it asks, what a person answers, and then row, number, task, verdict, facts.
CARE: dict[
    str, tuple[dict[str, str], list[tuple[int, str, str, Verdict | None, dict[str, Any]]]]
] = {
    "sheet-hours-and-events.csv": (
        {},
        [
            (
                *(2, "0417", "Hot runner check", None),
                {"hours_limit": 200, "last_done": date(2026, 3, 4)},
            ),
            (3, "0417", "Clean vents", None, {"count_interval": 20_000, "event": "end_of_run"}),
            (4, "0417", "Grease slides", None, {"event": "set", "last_done": date(2026, 3, 20)}),
            (5, "0417", "Rust protection", None, {"event": "into_storage"}),
            (6, "0418", "O-rings", None, {"event": "mold_opened"}),
            (7, "0418", "Inspection", None, {"event": "each_service"}),
            (8, "0418", "Look over", REFUSED, {}),
        ],
    ),
    "wartung-nach-monaten.csv": (
        {"days_of_spans": "first"},
        [
            (
                *(2, "0417", "Entlüftung reinigen", None),
                {"event": "before_set", "last_done": date(2026, 3, 1)},
            ),
            # week 12 of 2026 begins on Monday, 16 March (ISO 8601)
            (3, "0417", "Schieber fetten", None, {"last_done": date(2026, 3, 16)}),
            (
                *(4, "0418", "Heißkanal prüfen", None),
                {"hours_limit": 1000, "last_done": date(2026, 3, 1)},
            ),
            (5, "0418", "Konservieren", None, {"last_done": date(2026, 3, 4)}),
            (6, "K-12", "Politur", REFUSED, {"period_unit": "year"}),
        ],
    ),
    "sheet-with-marks.csv": (
        {},
        [
            (2, "0417", "Vents", None, {"count_interval": 20_000, "count_basis": "shots"}),
            (2, "0417", "Grease", None, {"period_n": 1, "period_unit": "week"}),
            (2, "0417", "Descaling", None, {"event": "end_of_run"}),
            (3, "0418", "Vents", None, {"count_interval": 20_000}),
            (3, "0418", "Polish", REFUSED, {}),
            (4, "417", "", SKIPPED, {}),
        ],
    ),
    "tareas-por-sucesos.csv": (
        {"days_of_spans": "last"},
        [
            (
                *(2, "0417", "Limpiar venteos", None),
                {"count_interval": 20_000, "last_count": 184_000, "last_done": date(2026, 3, 15)},
            ),
            (3, "0417", "Engrasar correderas", None, {"event": "set"}),
            (
                *(4, "0418", "Revisión canal caliente", None),
                {"hours_limit": 200, "last_done": date(2026, 3, 31)},
            ),
            (5, "0418", "Proteger contra óxido", None, {"event": "into_storage"}),
        ],
    ),
    "wartungsplan-verbunden.xlsx": (
        {},
        [
            (
                *(3, "0417", "Entlüftung", None),
                {"count_interval": 20_000, "last_count": 150_250, "last_done": date(2026, 3, 4)},
            ),
            (3, "0417", "Politur", None, {"count_interval": 20_000, "last_count": 150_250}),
            (4, "0417", "Schieber fetten", None, {"period_n": 1, "period_unit": "week"}),
            (5, "0417", "Kühlkreise entkalken", None, {"period_n": 6, "period_unit": "month"}),
            (6, "0418", "Auswerfer", None, {"last_done": date(2025, 11, 2)}),
            (7, "0418", "Schieber fetten", None, {"period_n": 2, "period_unit": "week"}),
        ],
    ),
    "sheet-since-1904.xlsx": (
        {"days_of_spans": "last", "serial_days": "1904"},
        [
            (2, "0417", "Vents", None, {"last_done": date(2026, 3, 4)}),
            (3, "0418", "Vents", None, {"last_done": date(2026, 3, 31)}),
            # day 0 of that calendar is 1 January 1904 (ECMA-376, part 1, 18.17.4.1)
            (4, "K-12", "Vents", None, {"last_done": date(2026, 3, 4)}),
        ],
    ),
}


def test_every_file_has_its_expected_verdicts() -> None:
    assert {*KEPT_TEXTS, *KEPT_WORKBOOKS} == {*MOLDS, *CARE}


@pytest.mark.parametrize("name", sorted(MOLDS))
def test_molds_come_as_expected_once_what_is_open_is_answered(name: str) -> None:
    answers, expected = MOLDS[name]
    asked = {question.key for question in molds_plan(example(name)).open_questions}
    assert asked == {key for key in answers if not key.startswith("column:")}
    given = {key: value for key, value in answers.items() if value}
    assert molds_plan(example(name), answers=given).open_questions == ()
    rows = molds_of(example(name), answers=given)
    assert [(row.row, row.number, verdict(row)) for row in rows] == [each[:3] for each in expected]
    for row, (*_place, wanted) in zip(rows, expected, strict=True):
        assert wanted.items() <= facts(row).items()
        assert row.problem is None or row.problem.reason


@pytest.mark.parametrize("name", sorted(CARE))
def test_rules_come_as_expected_once_what_is_open_is_answered(name: str) -> None:
    answers, expected = CARE[name]
    assert {question.key for question in care_plan(example(name)).open_questions} == {*answers}
    assert care_plan(example(name), answers=answers).open_questions == ()
    rows = care_of(example(name), answers=answers)
    assert [(row.row, row.number, row.task, verdict(row)) for row in rows] == [
        each[:4] for each in expected
    ]
    for row, (*_place, wanted) in zip(rows, expected, strict=True):
        assert wanted.items() <= {**facts(row), "count_basis": row.count_basis}.items()
        assert row.problem is None or row.problem.reason


@pytest.mark.parametrize("name", sorted({*MOLDS, *CARE}))
def test_nothing_is_taken_that_waits_for_an_answer(name: str) -> None:
    plan: Any = molds_plan(example(name)) if name in MOLDS else care_plan(example(name))
    if plan.open_questions:
        assert WAITS in {verdict(row) for row in plan.rows()}
