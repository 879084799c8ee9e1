"""What a list is that can be exported: its headings, and its rows as plain values."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from functools import cache
from typing import Any, Final, TypeAlias

from django.db import models

from moldcare.acts.rights import Right
from moldcare.core.shifts import ShiftCalendar

Row: TypeAlias = "Sequence[Any]"
Words: TypeAlias = "Callable[[Any], Any]"

ROWS_AT_ONCE: Final = 2_000


@dataclass(frozen=True, kw_only=True, slots=True)
class Asked:
    """What is asked for: as of which instant, and of which span where a list is long.

    Parameters
    ----------
    now : datetime
        States of rules are those of this instant.
    calendar : ShiftCalendar
        The plant's.
    from_at, to_at : datetime or None
        The span, its end left out; None where it is open.
    """

    now: datetime
    calendar: ShiftCalendar
    from_at: datetime | None = None
    to_at: datetime | None = None

    def within(self, name: str) -> models.Q:
        """Return the condition that an instant lies in the span."""
        asked = models.Q()
        if self.from_at is not None:
            asked &= models.Q(**{f"{name}__gte": self.from_at})
        if self.to_at is not None:
            asked &= models.Q(**{f"{name}__lt": self.to_at})
        return asked


@dataclass(frozen=True, kw_only=True, slots=True)
class Column:
    """A column of a list that one query gives.

    Parameters
    ----------
    heading : str
    path : str
        Where the value is; with more paths, the first of them that holds anything.
    words : callable or None
        What is written in place of the value.
    """

    heading: Any
    path: str | tuple[str, ...]
    words: Words | None = None

    @property
    def paths(self) -> tuple[str, ...]:
        """All paths of the column."""
        return (self.path,) if isinstance(self.path, str) else self.path


@dataclass(frozen=True, kw_only=True, slots=True)
class ListShape:
    """A list: its name in addresses, what it is called and about, its headings and rows.

    Parameters
    ----------
    rows : callable
        Gives the rows that are asked for, a few at a time, of text, numbers, instants and dates.
    right : Right
        Who may have it: whoever may see it.
    is_long : bool
        Whether it grows with every shift, so that a span is asked for.
    """

    name: str
    title: Any
    about: Any
    headings: Sequence[Any]
    rows: Callable[[Asked], Iterator[Row]]
    right: Right = Right.LOOK
    is_long: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Queried:
    """The rows of a list that one query gives, column by column."""

    query: Callable[[Asked], models.QuerySet[Any]]
    columns: Sequence[Column]
    at_once: int = field(default=ROWS_AT_ONCE)

    @property
    def headings(self) -> tuple[Any, ...]:
        """The headings of the columns."""
        return tuple(column.heading for column in self.columns)

    def __call__(self, asked: Asked) -> Iterator[Row]:
        """Give the rows."""
        paths = list(dict.fromkeys(path for column in self.columns for path in column.paths))
        where = [[paths.index(path) for path in column.paths] for column in self.columns]
        # what is said in words has few values, and lists have millions of rows
        words = [column.words and cache(column.words) for column in self.columns]
        is_bare = all(len(each) == 1 for each in where) and not any(words)
        rows: Iterable[Row] = self.query(asked).values_list(*paths).iterator(self.at_once)
        if is_bare:
            yield from rows
            return
        for row in rows:
            yield [
                value if say is None or value is None else say(value)
                for say, value in zip(words, (_first(row, each) for each in where), strict=True)
            ]


def _first(row: Row, places: Sequence[int]) -> Any:
    """Return the first value that holds anything."""
    for place in places[:-1]:
        if row[place] not in (None, ""):
            return row[place]
    return row[places[-1]]


def labels(choices: type[models.TextChoices]) -> Words:
    """Return what says a value of choices in words; one that is not known, as it is."""

    def say(value: Any) -> str:
        return str(dict(choices.choices).get(value, value)) if value else ""

    return say


def places(number: Decimal) -> Decimal:
    """Return a decimal with two places: what a subquery gives lost them on the way."""
    return number.quantize(Decimal("0.01"))


def plain(number: float | None) -> Decimal | None:
    """Return a number of the machine's as people would write it, three places at most."""
    return None if number is None else Decimal(f"{number:.3f}").normalize() + 0
