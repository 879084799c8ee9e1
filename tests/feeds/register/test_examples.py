"""What must become of each file in fixtures/registers."""

import io
from datetime import date
from decimal import Decimal
from typing import Any

import openpyxl
import pytest

from moldcare.core.errors import TableRefused, WrongFile
from moldcare.feeds.register.rows import CircuitRow
from moldcare.feeds.tables import Verdict
from tests.feeds.register.kept_by_people import KEPT_TEXTS, KEPT_WORKBOOKS
from tests.feeds.register.make_examples import TEXTS, WORKBOOKS, saved
from tests.feeds.register.reading import (
    EXAMPLES,
    care_of,
    care_plan,
    circuits,
    example,
    facts,
    molds_of,
    molds_plan,
    verdict,
)

REFUSED, WAITS, SKIPPED = Verdict.REFUSED, Verdict.NEEDS_ANSWER, Verdict.SKIPPED

#: The plant of the registers in three languages, without names and rows.
PLANT: list[dict[str, Any]] = [
    {
        "number": "0417",
        "mold_class": "101",
        "cavity_count": 8,
        "mass_a_kg": Decimal(420),
        "mass_b_kg": Decimal(515),
        "owner": "Nordhafen",
        "resin": "PP",
        "resin_group": "mild",
        "filler": "none",
        "finish": "A-2",
        "cycle_time_s": Decimal("12.5"),
        "storage_place": "B4-2",
        "circuits": circuits("A1", "A2", "B1"),
        "opening_count": 184250,
        "opening_at": date(2026, 3, 25),
        "drawing_revision": "C",
    },
    {
        "number": "0418",
        "mold_class": "102",
        "cavity_count": 4,
        "mass_a_kg": Decimal("612.5"),
        "mass_b_kg": Decimal(580),
        "owner": "Nordhafen",
        "resin": "PA66-GF30",
        "resin_group": "medium",
        "filler": "glass",
        "finish": "VDI 27",
        "cycle_time_s": Decimal(34),
        "storage_place": "B4-3",
        "circuits": circuits("A1", "B1"),
        "opening_count": 1204880,
        "opening_at": date(2026, 3, 25),
        "drawing_revision": "B",
    },
    {
        "number": "417",
        "mold_class": "103",
        "cavity_count": 16,
        "mass_a_kg": Decimal(95),
        "mass_b_kg": Decimal(88),
        "resin": "POM",
        "resin_group": "gassy",
        "filler": "none",
        "finish": "C-1",
        "cycle_time_s": Decimal("7.8"),
        "storage_place": "C1-1",
        "circuits": circuits("A1"),
        "opening_count": 40,
        "opening_at": date(2026, 3, 26),
        "drawing_revision": "A",
    },
    {
        "number": "K-12",
        "mold_class": "102",
        "cavity_count": 2,
        "mass_a_kg": Decimal(150),
        "mass_b_kg": Decimal("162.5"),
        "owner": "Weststadt",
        "resin": "PVC",
        "resin_group": "corrosive",
        "filler": "none",
        "cycle_time_s": Decimal(45),
        "storage_place": "A1-9",
    },
]

#: Of each register: row, number, verdict, and facts that it must hold.
MOLDS: dict[str, list[tuple[int, str, Verdict | None, dict[str, Any]]]] = {
    "masses-in-pounds.csv": [
        # 1 lb is 0.45359237 kg exactly (NIST SP 811, appendix B.8)
        (3, "0417", None, {"mass_a_kg": Decimal("420.0"), "cycle_time_s": Decimal(30)}),
        (4, "0418", None, {"mass_a_kg": Decimal("612.5"), "cavity_count": 4}),
        (5, "0500", None, {"mass_b_kg": Decimal("453.6"), "cycle_time_s": Decimal(65)}),
    ],
    "both-halves-in-one-cell.csv": [
        (2, "0417", None, {"mass_a_kg": Decimal(420), "mass_b_kg": Decimal(515)}),
        (3, "0418", None, {"mass_a_kg": Decimal("612.5"), "cycle_time_s": Decimal(30)}),
        (4, "0500", None, {"mass_kg": Decimal(935), "cavity_count": 8}),
        (5, "0501", None, {"mass_a_kg": Decimal(400), "mass_b_kg": Decimal(500)}),
        (6, "0502", REFUSED, {}),
        (7, "0503", None, {"mass_kg": Decimal(800)}),
    ],
    "spelled-twice.csv": [
        (2, "0417", WAITS, {}),
        (3, "0417", WAITS, {}),
        (4, "mold 0417", WAITS, {}),
        (5, "417", None, {"name": "Lid"}),
        (6, "M-0500", WAITS, {}),
        (7, "M0500", WAITS, {}),
        (8, "k-12", None, {"storage_place": "A1-9"}),
        (10, "0600", REFUSED, {}),
    ],
    "odd-values.csv": [
        (2, "0001", REFUSED, {"mold_class": "101"}),
        (3, "0002", REFUSED, {"cavity_count": 4}),
        (4, "0003", REFUSED, {"mold_class": "104", "cavity_count": 4}),
        (5, "0004", REFUSED, {"cavity_count": 8}),
        (6, "0005", REFUSED, {}),
        (7, "0006", REFUSED, {}),
        (8, "0007", REFUSED, {}),
        (9, "1.20E+06", REFUSED, {}),
        (10, "0008", None, {"opening_count": 20000}),
        (11, "", WAITS, {}),
        (12, "0009", REFUSED, {}),
        (13, "0010", None, {"opening_count": 5, "storage_place": "A1"}),
    ],
    "day-or-month.csv": [(2, "0417", WAITS, {}), (3, "0418", WAITS, {})],
    "circuits-below.csv": [
        (2, "0417", None, {"circuits": circuits("A1")}),
        (3, "", WAITS, {"circuits": circuits("A2")}),
        (4, "", WAITS, {"circuits": circuits("B1")}),
        (5, "0418", None, {"name": "Gehäuse"}),
    ],
    "circuits-in-inches.csv": [
        # 1 in is 25.4 mm exactly (NIST SP 811, appendix B.8)
        (
            2,
            "0417",
            None,
            {
                "circuits": (
                    CircuitRow(ident="A1", bore_mm=Decimal("9.525"), length_mm=Decimal("1219.2")),
                    CircuitRow(ident="A2", bore_mm=Decimal("11.1125"), length_mm=Decimal("914.4")),
                    CircuitRow(ident="B1", bore_mm=Decimal("8.00"), length_mm=Decimal("1000.0")),
                )
            },
        ),
        (
            5,
            "0418",
            None,
            {
                "circuits": tuple(
                    CircuitRow(ident=ident, bore_mm=Decimal("6.35"), length_mm=Decimal("609.6"))
                    for ident in ("A1", "A2")
                )
            },
        ),
        (6, "0500", REFUSED, {}),
        (7, "0501", REFUSED, {}),
        (8, "0502", REFUSED, {}),
    ],
    "old-program-code-page-850.csv": [
        (2, "0417", None, {"name": "Kappe für Düse", "storage_place": "Regal größer Saal"}),
        (3, "0418", None, {"name": "Gehäuse", "storage_place": "Außenlager"}),
    ],
    "letters-do-not-tell.csv": [(2, "0417", WAITS, {})],
    "circuits-in-rows.xlsx": [
        (4, "0417", None, {"mass_a_kg": Decimal(420), "circuits": circuits("A1", "A2", "B1")}),
        (7, "0418", None, {"mass_b_kg": Decimal(580), "circuits": circuits("A1")}),
    ],
    "cell-formats.xlsx": [
        (2, "0417", None, {"mass_a_kg": Decimal(420), "opening_at": date(2026, 3, 25)}),
        (3, "0418", WAITS, {"mass_a_kg": Decimal("419.6"), "cavity_count": 4}),
        (4, "0419", None, {"opening_count": 1389130, "opening_at": date(2026, 3, 25)}),
        (5, "0420", REFUSED, {"storage_place": "C2"}),
    ],
    "register-behind-notes.xlsx": [(2, "0417", None, {"name": "Cap", "storage_place": "B4-2"})],
    "two-registers.xlsx": [(2, "0417", WAITS, {})],
}

#: Of each sheet: row, number, task, verdict, and facts that it must hold.
CARE: dict[str, list[tuple[int, str, str, Verdict | None, dict[str, Any]]]] = {
    "sheet-one-row-a-task.csv": [
        (
            *(2, "0417", "Vent clean", None),
            {
                "family": "vents",
                "count_interval": 100_000,
                "count_basis": "shots",
                "period_n": 6,
                "period_unit": "month",
                "last_done": date(2026, 3, 4),
                "last_count": 150_250,
            },
        ),
        (3, "0417", "Grease guides", None, {"period_n": 1, "period_unit": "week"}),
        (4, "0417", "Grease slides, lifters", None, {"count_interval": 20_000}),
        (5, "0418", "Inspection", None, {"count_interval": 250_000, "period_unit": "year"}),
        (6, "0418", "Descale circuits", None, {"period_n": 12, "family": "descaling"}),
        (7, "0418", "Start-up check", None, {"event": "end_of_run"}),
        (8, "0418", "", SKIPPED, {}),
    ],
    "wartungsplan-windows-1252.csv": [
        (4, "0417", "Führungen fetten", None, {"period_n": 14, "family": "lubrication"}),
        (4, "0417", "Sichtprüfung", None, {"period_n": 14, "last_count": 183_900}),
        (5, "0417", "Entlüftung reinigen", None, {"count_interval": 100_000, "family": "vents"}),
        (5, "0417", "Politur prüfen", None, {"count_basis": "shots", "family": "finish"}),
        (6, "0418", "Kühlkreise entkalken", None, {"period_n": 1, "period_unit": "year"}),
        (
            *(7, "0418", "Auswerfer, Schieber", None),
            {
                "count_interval": 50_000,
                "period_n": 6,
                "last_done": date(2025, 11, 2),
                "last_count": 1_100_000,
            },
        ),
        (8, "0418", "Spülen", None, {"hours_limit": 500}),
    ],
    "sheet-column-a-task.csv": [
        (4, "0417", "Vents", None, {"count_interval": 100_000, "last_done": date(2026, 3, 4)}),
        (4, "0417", "Grease guides", None, {"period_n": 1, "last_done": date(2026, 3, 20)}),
        (4, "0417", "Rust protection", None, {"last_done": date(2026, 1, 10)}),
        (5, "0418", "Vents", None, {"count_interval": 250_000, "last_done": date(2025, 11, 2)}),
        (6, "417", "", SKIPPED, {}),
    ],
    "tareas-por-columna.csv": [
        (2, "0417", "Venteos", None, {"count_interval": 100_000, "last_done": date(2026, 3, 4)}),
        (2, "0417", "Engrase de guías", None, {"period_n": 1, "last_done": date(2026, 3, 20)}),
        (3, "0418", "Venteos", None, {"count_interval": 100_000, "last_done": date(2025, 11, 2)}),
        (3, "0418", "inspección", None, {"last_done": date(2026, 1, 15)}),
    ],
    "sheet-number-and-unit.csv": [
        (2, "0417", "vents", None, {"count_interval": 100_000, "last_count": 150_250}),
        (2, "0417", "polish", None, {"count_basis": "shots", "last_done": date(2026, 3, 4)}),
        (3, "0417", "hoses", None, {"period_n": 6, "period_unit": "month"}),
        (4, "0418", "springs", None, {"count_interval": 500_000, "last_count": 1_100_000}),
        (5, "0418", "o-rings", REFUSED, {}),
    ],
    "sheet-without-units.csv": [
        (2, "0417", "vents", WAITS, {"last_done": date(2026, 3, 4)}),
        (3, "0418", "vents", WAITS, {}),
    ],
    "sheet-molds-above.csv": [
        (2, "0417", "grease", None, {"period_n": 1}),
        (3, "", "vents", WAITS, {"period_unit": "month"}),
        (4, "0418", "grease", None, {"period_n": 1}),
    ],
    "sheet-same-task-twice.csv": [
        (2, "0417", "grease", WAITS, {}),
        (3, "0417", "Grease", WAITS, {}),
        (4, "0417", "grease", WAITS, {}),
        (5, "M-0417", "grease", WAITS, {}),
    ],
    "sheet-with-pairs.xlsx": [
        (3, "0417", "Entlüftung", None, {"count_interval": 100_000, "count_basis": "shots"}),
        (3, "0417", "Auswerfer", None, {"period_n": 6, "last_count": 150_250}),
        (4, "0418", "Entlüftung", None, {"last_done": date(2025, 11, 2)}),
        (4, "0418", "Auswerfer", None, {"period_n": 12, "last_count": 1_100_000}),
        (5, "0419", "Entlüftung", WAITS, {"count_interval": 250_000}),
    ],
}

REGISTERS_OF_THE_PLANT = {
    "register-plain.csv": [2, 3, 4, 5],
    "werkzeugliste-windows-1252.csv": [5, 6, 7, 8],
    "moldes-unicode-text.txt": [2, 3, 4, 5],
}
NOT_READ = {
    "both-orders-of-date.csv": (TableRefused, "row 2 .* row 3"),
    "picture-named-csv.csv": (WrongFile, "picture"),
}
OPEN = {
    "spelled-twice.csv": ["same:0417", "same:0500"],
    "odd-values.csv": ["mold_above"],
    "day-or-month.csv": ["dates"],
    "circuits-below.csv": ["mold_above"],
    "letters-do-not-tell.csv": ["encoding"],
    "cell-formats.xlsx": ["zeros:mold"],
    "two-registers.xlsx": ["sheet"],
    "sheet-without-units.csv": ["unit:interval"],
    "sheet-molds-above.csv": ["mold_above"],
    "sheet-same-task-twice.csv": ["same:0417"],
    "sheet-with-pairs.xlsx": ["serial_days"],
}


def test_every_file_of_the_folder_is_made_described_and_expected() -> None:
    names = {path.name for path in EXAMPLES.iterdir()} - {"README.md"}
    assert names == {*TEXTS, *WORKBOOKS}
    by_hand = {*KEPT_TEXTS, *KEPT_WORKBOOKS}
    assert names == {*REGISTERS_OF_THE_PLANT, *MOLDS, *CARE, *NOT_READ, *by_hand}
    described = (EXAMPLES / "README.md").read_text()
    assert all(f"`{name}`" in described for name in names)


@pytest.mark.parametrize("name", sorted(TEXTS))
def test_text_files_are_what_their_maker_writes(name: str) -> None:
    assert example(name) == TEXTS[name]


@pytest.mark.parametrize("name", sorted(WORKBOOKS))
def test_workbooks_hold_what_their_maker_writes(name: str) -> None:
    made = openpyxl.load_workbook(io.BytesIO(saved(WORKBOOKS[name]())), data_only=True)
    kept = openpyxl.load_workbook(io.BytesIO(example(name)), data_only=True)
    for sheet, other in zip(kept, made, strict=True):
        assert (sheet.title, sheet.merged_cells.ranges) == (other.title, other.merged_cells.ranges)
        assert [[cell.value for cell in row] for row in sheet] == [
            [cell.value for cell in row] for row in other
        ]


@pytest.mark.parametrize("name", sorted(REGISTERS_OF_THE_PLANT))
def test_one_plant_reads_alike_from_three_languages(name: str) -> None:
    rows = [row for row in molds_of(example(name)) if verdict(row) is not SKIPPED]
    assert [row.row for row in rows] == REGISTERS_OF_THE_PLANT[name]
    assert [verdict(row) for row in rows] == [None] * len(rows)
    assert all(row.name for row in rows)
    bare = [
        {key: facts(row)[key] for key in facts(row) if key not in ("row", "name")} for row in rows
    ]
    assert bare == PLANT
    assert molds_plan(example(name)).open_questions == ()


@pytest.mark.parametrize("name", sorted(MOLDS))
def test_molds_are_taken_or_wait_or_are_refused(name: str) -> None:
    rows = molds_of(example(name))
    assert [(row.row, row.number, verdict(row)) for row in rows] == [
        expected[:3] for expected in MOLDS[name]
    ]
    for row, (*_place, expected) in zip(rows, MOLDS[name], strict=True):
        assert expected.items() <= facts(row).items()
        assert row.problem is None or row.problem.reason


@pytest.mark.parametrize("name", sorted(CARE))
def test_rules_are_taken_or_wait_or_are_refused(name: str) -> None:
    rows = care_of(example(name))
    assert [(row.row, row.number, row.task, verdict(row)) for row in rows] == [
        expected[:4] for expected in CARE[name]
    ]
    for row, (*_place, expected) in zip(rows, CARE[name], strict=True):
        assert expected.items() <= {**facts(row), "count_basis": row.count_basis}.items()


@pytest.mark.parametrize("name", sorted({*MOLDS, *CARE}))
def test_only_what_the_file_leaves_open_is_asked(name: str) -> None:
    plan = molds_plan(example(name)) if name in MOLDS else care_plan(example(name))
    assert [question.key for question in plan.open_questions] == OPEN.get(name, [])
    assert all(question.text for question in plan.questions)


@pytest.mark.parametrize("name", sorted(NOT_READ))
def test_files_that_cannot_be_read_are_refused_with_a_sentence(name: str) -> None:
    error, sentence = NOT_READ[name]
    with pytest.raises(error, match=sentence):
        molds_plan(example(name))
