"""Registers and maintenance sheets given as rows, for tests that need no file to be read."""

from collections.abc import Sequence
from typing import Any

from moldcare.acts.doing import Doing
from moldcare.acts.moving_in import MovedIn
from moldcare.feeds.models import ImportBatch
from moldcare.feeds.register.bring_in import bring_in_register
from moldcare.feeds.register.rows import CareRow, MoldRow, RegisterPlan
from moldcare.feeds.register_files import RegisterFile
from moldcare.feeds.tables import Column, Meaning, RowVerdict, Table
from moldcare.feeds.tables.kinds import Kind
from moldcare.feeds.tables.rows import Row

HEADINGS = ("Mold", "What")


def register_of(
    rows: Sequence[MoldRow] | Sequence[CareRow],
    *,
    name: str = "register.csv",
    sha256: str = "a" * 64,
    **answers: str,
) -> RegisterFile:
    """A file that was read already: what it holds, and what was answered about it."""
    is_care = any(isinstance(row, CareRow) for row in rows)
    lines = [
        Row(1, list(HEADINGS), None),
        *(Row(each.row, [each.number, "x"], None) for each in rows),
    ]
    columns = tuple(
        Column(place=place, letter="AB"[place], name=heading, meaning=meaning, reason="")
        for place, (heading, meaning) in enumerate(
            zip(HEADINGS, (Meaning.MOLD, Meaning.REST), strict=True)
        )
    )
    plan: RegisterPlan[Any] = RegisterPlan(
        questions=(),
        columns=columns,
        heading_row=1,
        rows_count=len(rows),
        rows=lambda: iter(rows),
    )
    return RegisterFile(
        name=name,
        sha256=sha256,
        kind=ImportBatch.Kind.RULES if is_care else ImportBatch.Kind.MOLDS,
        table=Table(name=name, kind=Kind.TEXT, rows=lambda: iter(lines)),
        plan=plan,
        heading=HEADINGS,
        answers={key.replace("__", ":"): value for key, value in answers.items()},
    )


def brought_in(
    doing: Doing,
    rows: Sequence[MoldRow] | Sequence[CareRow],
    *,
    name: str = "register.csv",
    **answers: str,
) -> tuple[MovedIn, list[RowVerdict]]:
    """Bring rows in; return what it came to, and the verdict on each row."""
    told: list[RowVerdict] = []
    done = bring_in_register(doing, file=register_of(rows, name=name, **answers), tell=told.append)
    return done, told
