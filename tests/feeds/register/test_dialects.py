"""A random plant written in a random dialect reads back as the same plant."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

from hypothesis import given, note
from hypothesis import strategies as st

from moldcare.core.errors import TableRefused
from moldcare.feeds.register.care import read_care
from moldcare.feeds.register.molds import read_molds
from moldcare.feeds.register.opening import CARE, MOLDS, open_register
from moldcare.feeds.register.rows import CareRow, MoldRow
from moldcare.feeds.register.spans import SPANS_KEY
from moldcare.feeds.tables import Question
from tests.feeds.register.dialects import (
    Dialect,
    dialects,
    kg_of,
    molds,
    rules,
    written_halves,
    written_molds,
    written_rules,
)

ENCODINGS = {"cp1252": "windows-1252", "cp850": "ibm850", "utf-16": "utf-16"}


def answered(question: Question, dialect: Dialect) -> str:
    """Answer as the person would who wrote the file; any other question is one too many."""
    if question.key == "dates":
        return "month_first" if dialect.dates.startswith("%m") else "day_first"
    if question.key.startswith("numbers:"):
        grouped, parted = dialect.thousands in (".", ","), dialect.decimal
        if not grouped:
            return "decimal"
        wanted = ("comma_decimal", "thousands") if parted == "," else ("point_decimal", "thousands")
        return next(style for style in wanted if style in {each.value for each in question.choices})
    if question.key == SPANS_KEY:
        return "first"
    if question.key == "encoding":
        return ENCODINGS[dialect.encoding]
    raise AssertionError(question)


def read_back(content: bytes, dialect: Dialect, *, is_care: bool) -> list[Any]:
    """Read a file, answering what it leaves open."""
    answers: dict[str, str] = {}
    opening: dict[str, str] = {}
    for _round in range(4):
        table = open_register(content, name="a file", known=CARE if is_care else MOLDS, **opening)
        plan: Any = (read_care if is_care else read_molds)(table, answers=answers)
        if not plan.open_questions:
            break
        asked = {question.key: question for question in plan.open_questions}
        if "encoding" in asked:
            # what else is asked of a text whose letters are wrong means nothing
            opening["encoding"] = answered(asked["encoding"], dialect)
            continue
        answers |= {key: answered(question, dialect) for key, question in asked.items()}
    note(f"{[(each.key, each.assumed) for each in plan.questions]} {answers}")
    return list(plan.rows())


def bare(row: MoldRow | CareRow, plant: dict[str, Any]) -> dict[str, Any]:
    """Give of a row what the plant says."""
    return {name: None if getattr(row, name) == () else getattr(row, name) for name in plant}


def same(plant: dict[str, Any]) -> dict[str, Any]:
    """Give the plant's own facts, what is not there as rows say it."""
    texts = ("name", "mold_class", "owner", "resin", "finish", "storage_place", "drawing_revision")
    return {name: "" if value is None and name in texts else value for name, value in plant.items()}


@given(st.data(), dialects())
def test_a_register_reads_back_from_any_dialect(data: st.DataObject, dialect: Dialect) -> None:
    plant = data.draw(molds(dialect.language))
    content = written_molds(plant, dialect)
    if dialect.mass_unit == "lb":
        for mold in plant:
            for half in ("mass_a_kg", "mass_b_kg"):
                if mold[half] is not None:
                    mold[half] = kg_of(mold[half])
    rows = read_back(content, dialect, is_care=False)
    assert [row.problem for row in rows] == [None] * len(plant)
    assert [bare(row, mold) for row, mold in zip(rows, plant, strict=True)] == [
        same(mold) for mold in plant
    ]
    assert all(isinstance(row.mass_a_kg, Decimal | None) for row in rows)


@given(st.data(), dialects())
def test_a_register_with_a_row_a_half_reads_back_from_any_dialect(
    data: st.DataObject, dialect: Dialect
) -> None:
    plant = data.draw(molds(dialect.language))
    content = written_halves(plant, dialect)
    for mold in plant:
        if dialect.mass_unit == "lb":
            for half in ("mass_a_kg", "mass_b_kg"):
                mold[half] = mold[half] and kg_of(mold[half])
        mold["circuits"] = mold["circuits"] and tuple(
            replace(circuit, half=circuit.ident[0]) for circuit in mold["circuits"]
        )
    rows = read_back(content, dialect, is_care=False)
    assert [row.problem for row in rows] == [None] * len(plant)
    assert [bare(row, mold) for row, mold in zip(rows, plant, strict=True)] == [
        same(mold) for mold in plant
    ]


@given(st.data(), dialects(), st.sampled_from(["one", "two", "task"]))
def test_a_maintenance_sheet_reads_back_from_any_dialect(
    data: st.DataObject, dialect: Dialect, form: str
) -> None:
    plant = data.draw(rules(dialect.language, form=form))
    if data.draw(st.booleans()):
        # days that name a month alone, which is then read as its first
        dialect = replace(dialect, dates="%m/%Y", holds_values=False)
        for rule in plant:
            rule["last_done"] = rule["last_done"] and rule["last_done"].replace(day=1)
    rows = read_back(written_rules(plant, dialect, form=form), dialect, is_care=True)
    assert [row.problem for row in rows] == [None] * len(plant)
    found = {(row.number, row.task): bare(row, plant[0]) for row in rows}
    assert found == {(rule["number"], rule["task"]): rule for rule in plant}


@given(st.text(max_size=400))
def test_any_text_is_read_or_refused_with_a_sentence(text: str) -> None:
    for known, read in ((MOLDS, read_molds), (CARE, read_care)):
        reader: Any = read
        sentence, rows = "", []
        try:
            table = open_register(text.encode(), name="a file", known=known)
            rows = list(reader(table).rows())
        except TableRefused as refused:
            sentence = str(refused)
        assert sentence or all(row.problem is None or row.problem.reason for row in rows)


@given(
    st.lists(st.text(alphabet="0123456789.,/-+ kgmolbsSchuß()\n", max_size=20), max_size=6),
    st.sampled_from(["interval", "last done", "last count", "task"]),
)
def test_any_cell_is_read_or_said_to_be_none(cells: list[str], heading: str) -> None:
    lines = "".join(f'0417|"{cell}"|x{place}\n' for place, cell in enumerate(cells))
    table = open_register(f"mold|{heading}|note\n{lines}".encode(), name="a file", known=CARE)
    assert all(row.problem is None or row.problem.reason for row in read_care(table).rows())
