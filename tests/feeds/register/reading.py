"""What these tests share: registers and sheets from a text or a file in one call."""

from pathlib import Path
from typing import Any

from moldcare.feeds.register.care import read_care
from moldcare.feeds.register.molds import read_molds
from moldcare.feeds.register.opening import CARE, MOLDS, open_register
from moldcare.feeds.register.rows import CareRow, CircuitRow, MoldRow, RegisterPlan
from moldcare.feeds.tables import Matcher, Verdict, matcher

EXAMPLES = Path(__file__).resolve().parents[3] / "fixtures" / "registers"
OURS: Matcher = matcher([(1, "0417"), (2, "417"), (3, "0418"), (4, "K-12")])


def molds_plan(
    content: str | bytes,
    *,
    encoding: str | None = None,
    sheet: str | None = None,
    delimiter: str | None = None,
    **more: Any,
) -> RegisterPlan[MoldRow]:
    """Read a register given as a text or as bytes."""
    table = open_register(
        content.encode() if isinstance(content, str) else content,
        name="register.csv",
        known=MOLDS,
        encoding=encoding,
        sheet=sheet,
        delimiter=delimiter,
    )
    return read_molds(table, **more)


def care_plan(
    content: str | bytes,
    *,
    encoding: str | None = None,
    sheet: str | None = None,
    **more: Any,
) -> RegisterPlan[CareRow]:
    """Read a maintenance sheet given as a text or as bytes."""
    table = open_register(
        content.encode() if isinstance(content, str) else content,
        name="sheet.csv",
        known=CARE,
        encoding=encoding,
        sheet=sheet,
    )
    return read_care(table, **more)


def molds_of(content: str | bytes, **options: Any) -> list[MoldRow]:
    """Give all molds of a register."""
    return list(molds_plan(content, **options).rows())


def care_of(content: str | bytes, **options: Any) -> list[CareRow]:
    """Give all rules of a sheet."""
    return list(care_plan(content, **options).rows())


def facts(row: MoldRow | CareRow) -> dict[str, Any]:
    """Give what a row holds, apart from what is empty and from notes and problems."""
    return {
        name: value
        for name in row.__slots__
        if name not in ("notes", "problem")
        and (value := getattr(row, name)) not in (None, "", ())
        and (name, value) != ("count_basis", "cycles")
    }


def circuits(*idents: str) -> tuple[CircuitRow, ...]:
    """Give circuits without bore and length."""
    return tuple(CircuitRow(ident=ident) for ident in idents)


def verdict(row: MoldRow | CareRow) -> Verdict | None:
    """Give the verdict that a row's problem brings, None where it is good."""
    return None if row.problem is None else row.problem.verdict


def example(name: str) -> bytes:
    """Give the bytes of an example file."""
    return (EXAMPLES / name).read_bytes()
