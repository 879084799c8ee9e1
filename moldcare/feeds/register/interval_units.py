"""In what unit the columns of intervals count where their cells name none."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Final

from django.utils.translation import gettext as _

from moldcare.feeds.register.gather import text_of
from moldcare.feeds.register.head import Head
from moldcare.feeds.register.intervals import UNITS, Interval, read_interval
from moldcare.feeds.tables import Choice, Column, Meaning, Question, Row
from moldcare.feeds.tables.mold_cells import held_number
from moldcare.feeds.tables.numbers import Signs
from moldcare.feeds.tables.rows import LONGEST_FACT, held

INTERVALS: Final = (Meaning.INTERVAL, Meaning.COUNT_INTERVAL, Meaning.PERIOD)
#: Numbers without a unit that are all at least so large are taken for counts, and shown so.
LARGE: Final = Decimal(1000)
_CHOICES: Final = ("cycles", "shots", "day", "week", "month", "year", "hour")
_IN_THOUSANDS: Final = re.compile(
    r"\b(?:tsd|tausend|thousands?|k|miles|x\s?1[.,\s]?000|in 1[.,\s]?000)\b|[x×]\s?1[.,\s]?000",
    re.IGNORECASE,
)
#: Words of a heading; of single letters only an "h" in brackets is a unit.
_WORD_OR_HOUR: Final = re.compile(r"[^\W\d_]{2,}|(?<=[(\[])h(?=[)\]])")


@dataclass(slots=True)
class IntervalUnits:
    """In what unit each column of intervals counts where its cells name none."""

    head: Head
    answers: Mapping[str, str]
    named: dict[int, str] = field(default_factory=dict)
    bare: dict[int, tuple[int, str, Decimal]] = field(default_factory=dict)
    columns: tuple[Column, ...] = ()

    def add(self, row: Row) -> None:
        """Take the numbers of a row that name no unit into account."""
        for column in self.columns:
            if column.place in self.named:
                continue
            what = held(row, place=column.place)
            text = held_number(what) or text_of(row, column)
            if not 0 < len(text) <= LONGEST_FACT or (
                what is not None and isinstance(what.value, date)
            ):
                continue
            interval = read_interval(text, signs=Signs.THOUSANDS)
            if isinstance(interval, Interval) and interval.bare is not None:
                known = self.bare.get(column.place)
                least = min(interval.bare, known[2]) if known else interval.bare
                first = (row.number, text) if known is None else known[:2]
                self.bare[column.place] = (*first, least)

    def settle(self) -> list[Question]:
        """Take large numbers for counts, and ask about others."""
        questions = []
        unit_column = self.head.of(Meaning.INTERVAL_UNIT)
        for column in self.columns:
            found = self.bare.get(column.place)
            if found is None or column.place in self.named or unit_column is not None:
                continue
            row, text, least = found
            assumed = "cycles" if least >= LARGE else None
            if assumed is not None:
                self.named[column.place] = assumed
            questions.append(
                Question(
                    key=f"unit:{column.key}",
                    text=_("“%(text)s” in “%(column)s”, row %(row)d, names no unit. What is it?")
                    % {"text": text, "column": column.name, "row": row},
                    choices=tuple(Choice(value=unit, text=unit_words(unit)) for unit in _CHOICES),
                    assumed=assumed,
                )
            )
        return questions

    def how(self, column: Column) -> str:
        """Say how a column's numbers without a unit are read."""
        unit = self.named.get(column.place)
        if unit is None or column.meaning not in INTERVALS:
            return ""
        return _("numbers are %(unit)s") % {"unit": unit_words(unit)}


def interval_units(head: Head, *, answers: Mapping[str, str]) -> IntervalUnits:
    """Find the unit that the heading of each column of intervals names, or an answer."""
    columns = tuple(column for column in head.columns if column.meaning in INTERVALS)
    found = IntervalUnits(head=head, answers=answers, columns=columns)
    for column in columns:
        answer = answers.get(f"unit:{column.key}", "")
        unit = answer if answer in _CHOICES else _unit_in(column)
        if unit:
            found.named[column.place] = unit
    return found


def _unit_in(column: Column) -> str:
    words = [UNITS.get(word) for word in _WORD_OR_HOUR.findall(column.name.casefold())]
    units = [unit for unit in words if unit in _CHOICES]
    if units:
        return units[-1] or ""
    return "cycles" if column.meaning is Meaning.COUNT_INTERVAL else ""


def in_thousands(column: Column) -> bool:
    """Say whether a heading counts in thousands, such as "Interval (x1000)".

    Examples
    --------
    >>> from moldcare.feeds.tables.columns import Column
    >>> def named(name):
    ...     return Column(place=0, letter="A", name=name, meaning=Meaning.INTERVAL, reason="")
    >>> in_thousands(named("Intervall (Tsd. Schuss)")), in_thousands(named("Intervall"))
    (True, False)
    """
    return _IN_THOUSANDS.search(column.name) is not None


def unit_words(unit: str) -> str:
    """Return a unit of intervals in words."""
    return {
        "cycles": _("cycles"),
        "shots": _("shots"),
        "day": _("days"),
        "week": _("weeks"),
        "month": _("months"),
        "year": _("years"),
        "hour": _("running hours"),
    }[unit]
