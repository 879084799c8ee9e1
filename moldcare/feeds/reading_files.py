"""A file of counter readings: opened, looked at, brought in."""

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import islice
from typing import BinaryIO
from zoneinfo import ZoneInfo

from moldcare.feeds.queries import matchers, remembered_meanings
from moldcare.feeds.tables import (
    Meaning,
    Plan,
    Row,
    Table,
    open_table,
    read_readings,
    words_of,
)
from moldcare.feeds.tables.heading_row import HEADING_ROWS

#: The answers that are about opening the table, not about what stands in it.
_OPENING = ("encoding", "delimiter", "sheet")


class Tee:
    """Gives a table's rows and remembers the one that was given last: its cells as they came."""

    def __init__(self, table: Table) -> None:
        self._rows = table.rows
        self.last: Row | None = None

    def rows(self) -> Iterator[Row]:
        """Give the rows from the first."""
        for row in self._rows():
            self.last = row
            yield row


@dataclass(frozen=True, kw_only=True, slots=True)
class ReadingFile:
    """A file that was opened, with what will be read from it.

    `answers` are what a person said, all of them; `takes_estimates` whether values that the file
    calls estimates are to be taken as such.
    """

    name: str
    sha256: str
    table: Table
    plan: Plan
    tee: Tee
    heading: tuple[str, ...]
    answers: Mapping[str, str]
    takes_estimates: bool


def hash_of(file: BinaryIO) -> str:
    """Return the SHA-256 of a file's bytes."""
    digest = hashlib.sha256()
    file.seek(0)
    while chunk := file.read(1 << 20):
        digest.update(chunk)
    file.seek(0)
    return digest.hexdigest()


def open_reading_file(
    file: BinaryIO, *, name: str, zone: ZoneInfo, answers: Mapping[str, str] | None = None
) -> ReadingFile:
    """Open a file of counter readings and work out how to read it.

    Raises
    ------
    TableRefused
        When it is no table, contradicts itself, or an answer fits nothing.
    """
    given = dict(answers or {})
    opening = {key: given[key] for key in _OPENING if given.get(key)}
    table = open_table(file, name=name, **opening)
    tee = Tee(table)
    table = replace(table, rows=tee.rows)
    ours = matchers(given)
    about_rows = {
        key: value
        for key, value in given.items()
        if key not in (*_OPENING, "estimates") and not key.startswith("is:") and value
    }
    top = list(islice(table.rows(), HEADING_ROWS))
    plan = read_readings(
        table,
        zone=zone,
        answers=about_rows,
        match_mold=ours["mold"],
        match_counter=ours["counter"],
        match_press=ours["press"],
        remembered={**remembered_meanings(row.cells for row in top), **_said(given)},
    )
    heading = next((row.cells for row in top if row.number == plan.heading_row), [])
    return ReadingFile(
        name=name[:200],
        sha256=hash_of(file),
        table=table,
        plan=plan,
        tee=tee,
        heading=tuple(heading),
        answers=given,
        takes_estimates=given.get("estimates") == "take",
    )


def _said(answers: Mapping[str, str]) -> dict[str, Meaning]:
    """Return what headings mean by the answers: so a heading that nobody knows is found by them."""
    return {
        words_of(key.removeprefix("column:")): Meaning(value)
        for key, value in answers.items()
        if key.startswith("column:") and value in set(Meaning)
    }
