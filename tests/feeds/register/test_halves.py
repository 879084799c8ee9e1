"""Registers with a row for each half of a mold."""

from decimal import Decimal

import pytest

from moldcare.feeds.register.halves import half_in
from moldcare.feeds.register.rows import CircuitRow
from moldcare.feeds.tables import Meaning, Verdict
from tests.feeds.register.reading import molds_of, molds_plan, verdict

#: How plants call the halves: common practice, no source.
HALVES = {
    "a": [
        *(
            "fixed",
            "Fixed half",
            "A",
            "A half",
            "half A",
            "stationary side",
            "cover half",
            "nozzle",
        ),
        *("FS", "DS", "feste Seite", "Düsenseite", "feste Hälfte", "lado fijo", "mitad fija"),
    ],
    "b": [
        *("moving", "moving half", "B", "B side", "ejector half", "ejector"),
        *("BS", "AS", "bewegliche Seite", "Auswerferseite", "lado móvil", "parte móvil"),
    ],
    "ab": ["both", "beide", "ambas", "A+B", "A/B", "komplett"],
}


@pytest.mark.parametrize(
    ("half", "text"), [(half, text) for half, texts in HALVES.items() for text in texts]
)
def test_halves_are_known_in_three_languages(half: str, text: str) -> None:
    assert half_in(text) == half


@pytest.mark.parametrize("text", ["core", "cavity", "1", "", "fixed and moving", "half", "left"])
def test_what_names_no_half_is_none(text: str) -> None:
    assert half_in(text) is None


@pytest.mark.parametrize(
    "content",
    [
        "Mold;Half;Weight kg\n0417;fixed;420\n0417;moving;515\n",
        "Mold;Half;Weight kg\n0417;moving;515\n0417;fixed;420\n",
        "Werkzeug;Seite;Gewicht [kg]\n0417;Düsenseite;420\n0417;Auswerferseite;515\n",
        "Wkz;Hälfte;Masse\n0417;FS;420 kg\n0417;BS;515 kg\n",
        "Molde;Lado;Peso (kg)\n0417;fijo;420\n0417;móvil;515\n",
        "Mold;What;Weight kg\n0417;fixed half;420\n0417;moving half;515\n0418;moving half;\n",
    ],
)
def test_a_row_for_each_half_gives_one_mold_with_both_masses(content: str) -> None:
    row = molds_of(content)[0]
    assert (row.number, row.mass_a_kg, row.mass_b_kg) == ("0417", Decimal(420), Decimal(515))
    assert (row.mass_kg, row.problem) == (None, None)
    assert molds_plan(content).open_questions == ()


def test_the_second_half_may_stand_below_without_a_number() -> None:
    content = "Mold;Half;Weight kg;Cavities\n0417;fixed;420;8\n;moving;515;\n"
    (row,) = molds_of(content, answers={"mold_above": "yes"})
    assert (row.mass_a_kg, row.mass_b_kg, row.cavity_count) == (Decimal(420), Decimal(515), 8)


def test_circuits_are_those_of_the_half_of_their_row() -> None:
    (row,) = molds_of("Mold;Half;Circuits;Bore mm\n0417;fixed;1, 2;8\n0417;moving;1, W3;10\n")
    assert row.circuits == (
        CircuitRow(ident="A1", half="A", bore_mm=Decimal("8.00")),
        CircuitRow(ident="A2", half="A", bore_mm=Decimal("8.00")),
        CircuitRow(ident="B1", half="B", bore_mm=Decimal("10.00")),
        CircuitRow(ident="W3", half="B", bore_mm=Decimal("10.00")),
    )
    assert "Circuits of the A half: A1, A2." in row.notes
    (twice,) = molds_of("Mold;Half;Circuits\n0417;fixed;W1\n0417;moving;W1\n")
    assert verdict(twice) is Verdict.REFUSED


def test_a_half_that_is_none_is_said() -> None:
    first, second = molds_of(
        "Mold;Half;Weight kg\n1;fixed;420\n1;moving;515\n2;core;80\n2;both;170\n"
    )
    assert first.problem is None
    assert second.problem is not None
    assert "“core” is no half" in second.problem.reason
    (whole,) = molds_of("Mold;Half;Weight kg\n1;both;935\n")
    assert (whole.mass_kg, whole.mass_a_kg) == (Decimal(935), None)


def test_half_rows_that_contradict_each_other_are_refused() -> None:
    (row,) = molds_of("Mold;Half;Weight kg\n1;fixed;420\n1;fixed;430\n")
    assert verdict(row) is Verdict.REFUSED
    (row,) = molds_of("Mold;Half;Weight kg\n1;fixed;420/515\n")
    assert verdict(row) is Verdict.REFUSED


def test_a_side_that_is_no_half_is_left_alone() -> None:
    plan = molds_plan("Werkzeug;Seite;Gewicht kg\n0417;12;420\n0418;13;515\n")
    assert [column.meaning for column in plan.columns] == [
        Meaning.MOLD,
        Meaning.REST,
        Meaning.MASS,
    ]


@pytest.mark.parametrize("heading", ["Gewicht Hälfte 1 kg", "Weight of side", "Peso total lado"])
def test_the_word_for_a_half_inside_a_heading_changes_nothing(heading: str) -> None:
    (row,) = molds_of(f"Mold;{heading}\n0417;420\n")
    assert row.mass_kg == Decimal(420)
