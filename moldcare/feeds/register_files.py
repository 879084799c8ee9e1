"""A file of molds or of care rules: opened, with what will be read from it."""

import io
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import islice
from typing import Any, BinaryIO
from zoneinfo import ZoneInfo

from moldcare.feeds.models import ImportBatch
from moldcare.feeds.queries import matchers, remembered_meanings
from moldcare.feeds.reading_files import hash_of
from moldcare.feeds.register.care import read_care
from moldcare.feeds.register.molds import read_molds
from moldcare.feeds.register.opening import CARE, MOLDS, open_register
from moldcare.feeds.register.rows import RegisterPlan
from moldcare.feeds.tables import Meaning, Table, words_of
from moldcare.feeds.tables.heading_row import HEADING_ROWS

#: The answers that are about opening the table, not about what stands in it.
_OPENING = ("encoding", "delimiter", "sheet")
#: The answer that says why intervals change that are here already.
REASON = "reason"
#: How answers begin that are about what becomes of rows, not about how they are read.
ABOUT_ROWS = ("is:", "change:", "changes", "family:", REASON)


@dataclass(frozen=True, kw_only=True, slots=True)
class RegisterFile:
    """A file that was opened; `answers` are what a person said, all of them."""

    name: str
    sha256: str
    kind: str
    table: Table
    plan: RegisterPlan[Any]
    heading: tuple[str, ...]
    answers: Mapping[str, str]

    def cells_of(self, rows: set[int]) -> dict[int, list[str]]:
        """Read the cells of rows as they came, going through the file once more."""
        last = max(rows, default=0)
        found: dict[int, list[str]] = {}
        for row in self.table.rows():
            if row.number in rows:
                found[row.number] = row.cells
            if row.number >= last:
                break
        return found

    @property
    def headings(self) -> list[str]:
        """What each column is called."""
        return [column.name for column in self.plan.columns]


def open_register_file(
    file: bytes | BinaryIO,
    *,
    name: str,
    kind: str,
    zone: ZoneInfo,
    answers: Mapping[str, str] | None = None,
) -> RegisterFile:
    """Open a mold register or a maintenance sheet and work out how to read it.

    Raises
    ------
    TableRefused
        When it is no table, contradicts itself, or an answer fits nothing.
    """
    stream = io.BytesIO(file) if isinstance(file, bytes) else file
    given = dict(answers or {})
    opening = {key: given[key] for key in _OPENING if given.get(key)}
    known = MOLDS if kind == ImportBatch.Kind.MOLDS else CARE
    table = open_register(stream, name=name, known=known, **opening)
    top = list(islice(table.rows(), HEADING_ROWS))
    read: Any = read_molds if kind == ImportBatch.Kind.MOLDS else read_care
    plan = read(
        table,
        zone=zone,
        answers={
            key: value
            for key, value in given.items()
            if value and key not in _OPENING and not key.startswith(ABOUT_ROWS)
        },
        remembered={
            **remembered_meanings((row.cells for row in top), kind=kind),
            **_said(given),
        },
        match_mold=matchers(given)["mold"],
    )
    heading = next((row.cells for row in top if row.number == plan.heading_row), [])
    return RegisterFile(
        name=name[:200],
        sha256=hash_of(stream),
        kind=kind,
        table=table,
        plan=plan,
        heading=tuple(heading),
        answers=given,
    )


def _said(answers: Mapping[str, str]) -> dict[str, Meaning]:
    """Return what headings mean by the answers: so a heading that nobody knows is found by them."""
    return {
        words_of(key.removeprefix("column:")): Meaning(value)
        for key, value in answers.items()
        if key.startswith("column:") and value in set(Meaning)
    }
