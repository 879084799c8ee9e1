"""Circuits of a register: bores and lengths, their units, and what is no bore."""

from decimal import ROUND_HALF_UP, Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from moldcare.feeds.register.rows import CircuitRow
from moldcare.feeds.tables import Meaning, Verdict
from moldcare.molds.models import Circuit
from tests.feeds.register.reading import molds_of, molds_plan, verdict

# In mm: NIST SP 811, appendix B.8 (inch and foot, exact by the international inch of 1959).
MM = {
    "mm": Decimal(1),
    "cm": Decimal(10),
    "m": Decimal(1000),
    "in": Decimal("25.4"),
    "″": Decimal("25.4"),
    "ft": Decimal("304.8"),
}


def circuit_of(heading: str, text: str) -> CircuitRow:
    """The one circuit of a register with a further column."""
    (row,) = molds_of(f"mold;circuit;{heading}\n1;A1;{text}\n")
    assert row.problem is None
    (circuit,) = row.circuits
    return circuit


@pytest.mark.parametrize(
    ("heading", "text", "mm"),
    [
        ("Bore mm", "8", "8"),
        ("Bore in mm", "8.5", "8.5"),
        ("Bore [in]", "0.375", "9.525"),
        ("Bore (″)", "0.5", "12.7"),
        ("Bore ″", "0.5", "12.7"),
        ("Bore in", "7/16", "11.1125"),
        ("Bohrung", "10 mm", "10"),
        ("Bohrung (mm)", "9,5", "9.5"),
        ("Bohrung Zoll", "3/8", "9.525"),
        ("Ø", "Ø 8 mm", "8"),
        ("Ø mm", "8", "8"),
        ("Diámetro del canal", "1/4 pulgadas", "6.35"),
        ("Bore", "1 1/4 in", "31.75"),
        ("Bore", "1½″", "38.1"),
        ("Bore", "0,8 cm", "8"),
        ("Circuit bore (in)", "8 mm", "8"),
        ("Kühlkreis Ø mm", "8", "8"),
        ("Cooling bore [in]", "3/8", "9.525"),
    ],
)
def test_bores_come_in_mm(heading: str, text: str, mm: str) -> None:
    circuit = circuit_of(heading, text)
    assert (circuit.bore_mm, circuit.length_mm) == (Decimal(mm), None)


@pytest.mark.parametrize(
    ("heading", "text", "mm"),
    [
        ("Length in", "48", "1219.2"),
        ("Length in mm", "1200", "1200"),
        ("Circuit length [ft]", "3.5", "1066.8"),
        ("Länge mm", "950", "950"),
        ("Kühlkreis Länge mm", "950", "950"),
        ("Cooling Length [in]", "48", "1219.2"),
        ("Länge", "1,2 m", "1200"),
        ("Länge cm", "95", "950"),
        ("Longitud", "120 cm", "1200"),
        ("Longitud (pulgadas)", "24", "609.6"),
    ],
)
def test_lengths_come_in_mm(heading: str, text: str, mm: str) -> None:
    circuit = circuit_of(heading, text)
    assert (circuit.bore_mm, circuit.length_mm) == (None, Decimal(mm))


@given(
    st.decimals(min_value="0.01", max_value=30, places=2),
    st.sampled_from(sorted(MM)),
    st.booleans(),
    st.sampled_from(".,"),
)
def test_any_bore_in_any_unit_is_its_mm(
    value: Decimal, unit: str, in_heading: bool, point: str
) -> None:
    written = str(value).replace(".", point)
    heading, text = (f"Bore [{unit}]", written) if in_heading else ("Bore", f"{written} {unit}")
    mm = (value * MM[unit]).quantize(Decimal("0.00001"), rounding=ROUND_HALF_UP)
    (row,) = molds_of(f"mold;circuit;{heading}\n1;A1;{text}\n")
    if mm >= 10_000:
        assert verdict(row) is Verdict.REFUSED
    else:
        assert row.circuits == (CircuitRow(ident="A1", bore_mm=mm),)


def test_what_was_turned_into_mm_is_said_and_what_was_mm_is_not() -> None:
    turned, plain = molds_of("mold;circuit;bore in;length mm\n1;A1;3/8;1200\n2;A1;8 mm;1000\n")
    assert turned.notes == ("3/8 in is 9.525 mm.",)
    assert plain.notes == ()


def test_a_bore_without_a_unit_is_taken_as_mm_said_and_changeable() -> None:
    content = "mold;circuit;bore\n1;A1;8\n"
    (question,) = molds_plan(content).questions
    assert (question.key, question.assumed) == ("unit:bore", "mm")
    assert {choice.value for choice in question.choices} == {"mm", "cm", "m", "in", "ft"}
    (row,) = molds_of(content, answers={"unit:bore": "in"})
    assert row.circuits[0].bore_mm == Decimal("203.2")


def test_one_bore_is_that_of_all_circuits_of_its_cell() -> None:
    (row,) = molds_of("mold;circuits;bore mm;length mm\n1;A1, A2;8;900\n1;B1;10;\n")
    assert row.circuits == (
        CircuitRow(ident="A1", bore_mm=Decimal(8), length_mm=Decimal(900)),
        CircuitRow(ident="A2", bore_mm=Decimal(8), length_mm=Decimal(900)),
        CircuitRow(ident="B1", bore_mm=Decimal(10)),
    )


def test_rows_of_one_circuit_add_to_each_other_or_contradict() -> None:
    added, refused = molds_of(
        "mold;circuit;bore mm;length mm\n1;A1;8;\n1;A1;;900\n2;A1;8;900\n2;A1;10;900\n"
    )
    assert added.circuits == (CircuitRow(ident="A1", bore_mm=Decimal(8), length_mm=Decimal(900)),)
    assert refused.problem is not None
    assert refused.problem.reason == "Circuit A1 is given with 8 mm and with 10 mm."


@pytest.mark.parametrize(
    "text",
    [
        "0",
        "-8",
        "0/8",
        "3/0",
        "10000",
        "400 in",
        "0.000001",
        "wide",
        "8 furlongs",
        "8x10",
        "4/8",
        "8/10 in",
    ],
)
def test_what_is_no_bore_keeps_its_row_with_a_sentence(text: str) -> None:
    (row,) = molds_of(f"mold;circuit;bore mm\n1;A1;{text}\n")
    assert row.problem is not None
    assert row.problem.verdict in {Verdict.REFUSED, Verdict.NEEDS_ANSWER}
    assert row.problem.reason
    assert row.circuits == ()


def test_the_widest_bore_and_the_longest_length_are_what_the_record_keeps() -> None:
    circuit = Circuit(ident="A1", half="A", bore_mm=Decimal("9999.99999"))
    circuit.length_mm = Decimal("9999999.999")
    circuit.clean_fields(exclude=["mold"])
    (row,) = molds_of("mold;circuit;bore mm;length mm\n1;A1;9999.99999;9999999.999\n")
    assert row.circuits == (
        CircuitRow(ident="A1", bore_mm=circuit.bore_mm, length_mm=circuit.length_mm),
    )


def test_a_bore_of_no_circuit_is_said() -> None:
    (row,) = molds_of("mold;circuit;bore mm\n1;;8\n")
    assert verdict(row) is Verdict.REFUSED
    assert row.problem is not None
    assert "Name the circuit" in row.problem.reason


@pytest.mark.parametrize(
    "heading",
    [
        "mold;length mm;width mm;circuits",
        "mold;länge;breite;kühlkreise",
        "mold;sprue length;bore of sprue;circuits",
        "mold;length mm;bore mm;rack",
    ],
)
def test_sizes_of_the_mold_are_not_taken_for_those_of_circuits(heading: str) -> None:
    plan = molds_plan(f"{heading}\n1;400;300;A1\n")
    assert {Meaning.BORE, Meaning.LENGTH}.isdisjoint(column.meaning for column in plan.columns)
    (row,) = plan.rows()
    assert row.problem is None
    assert all(circuit.length_mm is None for circuit in row.circuits)


def test_the_length_below_the_heading_of_the_circuits_is_theirs_beside_a_width() -> None:
    (row,) = molds_of("mold;length mm;width mm;circuit;circuit length mm\n1;400;300;A1;950\n")
    assert row.circuits == (CircuitRow(ident="A1", length_mm=Decimal(950)),)


def test_two_columns_of_bores_are_asked_about() -> None:
    (question,) = molds_plan("mold;circuit;bore mm;bore in\n1;A1;8;0.3\n").questions
    assert (question.key, question.assumed) == ("meaning:bore", "bore mm")


def test_a_person_says_that_a_column_holds_bores() -> None:
    content = "mold;circuit;d1\n1;A1;8\n"
    (row,) = molds_of(content, answers={"column:d1": "bore"})
    assert row.circuits == (CircuitRow(ident="A1", bore_mm=Decimal(8)),)
    (row,) = molds_of(content, remembered={"d1": Meaning.BORE})
    assert row.circuits == (CircuitRow(ident="A1", bore_mm=Decimal(8)),)


def test_a_person_says_that_a_column_of_lengths_is_not_needed() -> None:
    (row,) = molds_of("mold;circuit;length mm\n1;A1;900\n", answers={"column:length mm": "rest"})
    assert row.circuits == (CircuitRow(ident="A1"),)
