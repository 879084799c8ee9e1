"""What the cells of a maintenance sheet say about one task: its interval, and when last done."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Final
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from moldcare.feeds.register.cells import count_in, count_of, date_in, date_of, number_text
from moldcare.feeds.register.gather import text_of
from moldcare.feeds.register.head import Head
from moldcare.feeds.register.intervals import (
    UNITS,
    Interval,
    counts_in,
    read_interval,
    with_unit,
)
from moldcare.feeds.register.last_done import last_parts
from moldcare.feeds.register.task_columns import OF_A_TASK, interval_in_heading
from moldcare.feeds.tables import Choice, Column, Meaning, Problem, Question, Row, words_of
from moldcare.feeds.tables.date_order import DateDecision
from moldcare.feeds.tables.mold_cells import held_number
from moldcare.feeds.tables.numbers import NumberDecision, Signs, has_signs
from moldcare.feeds.tables.problems import refused, too_long, waiting
from moldcare.feeds.tables.rows import LONGEST_FACT, held

INTERVALS: Final = (Meaning.INTERVAL, Meaning.COUNT_INTERVAL, Meaning.PERIOD)
#: Numbers without a unit that are all at least so large are taken for counts, and shown so.
LARGE: Final = Decimal(1000)
_CHOICES: Final = ("cycles", "shots", "day", "week", "month", "year")
_IN_THOUSANDS: Final = re.compile(
    r"\b(?:tsd|tausend|thousands?|k|miles|x\s?1[.,\s]?000|in 1[.,\s]?000)\b|[x×]\s?1[.,\s]?000",
    re.IGNORECASE,
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Columns:
    """The columns that say something about one task, or about the task of each row."""

    task_text: str | None
    letter: str
    by_meaning: Mapping[Meaning, tuple[Column, ...]]
    interval: Interval | None = None

    def of(self, meaning: Meaning) -> Column | None:
        """Return the column with this meaning."""
        return next(iter(self.by_meaning.get(meaning, ())), None)

    def are_empty(self, row: Row) -> bool:
        """Say whether a row has nothing about this task."""
        return not any(
            text_of(row, column)
            for columns in self.by_meaning.values()
            for column in columns
            if column.task_text is not None
        )


def column_groups(head: Head) -> tuple[Columns, ...]:
    """Give the columns of each task, or those of all tasks where each row names its own."""
    shared: dict[Meaning, tuple[Column, ...]] = {
        meaning: head.all_of(meaning) for meaning in (*OF_A_TASK, Meaning.INTERVAL_UNIT)
    }
    groups: dict[str, list[Column]] = {}
    for column in head.columns:
        if column.task_text is not None:
            groups.setdefault(words_of(column.task_text), []).append(column)
    if not groups:
        task = head.of(Meaning.TASK)
        return (Columns(task_text=None, letter=task.letter if task else "A", by_meaning=shared),)
    found = []
    for columns in groups.values():
        own: dict[Meaning, tuple[Column, ...]] = {}
        for column in columns:
            own[column.meaning] = (*own.get(column.meaning, ()), column)
        intervals = [_interval_of_heading(column.name) for column in columns]
        found.append(
            Columns(
                task_text=columns[0].task_text,
                letter=columns[0].letter,
                by_meaning={
                    meaning: own.get(meaning) or shared.get(meaning, ()) for meaning in shared
                },
                interval=next((interval for interval in intervals if interval), None),
            )
        )
    return tuple(found)


def _interval_of_heading(heading: str) -> Interval | None:
    """Give the interval that a heading names; a large number without a unit is of cycles."""
    interval = interval_in_heading(heading)[1]
    if interval is None or interval.bare is None:
        return interval
    settled = with_unit(interval, unit="cycles") if interval.bare >= LARGE else None
    return settled if isinstance(settled, Interval) else None


def numbers_in(column: Column, text: str) -> tuple[str, ...]:
    """Numbers of a cell whose points and commas need the column's decision."""
    if column.meaning is Meaning.PERIOD:
        return ()
    if column.meaning in INTERVALS:
        return counts_in(text)
    count = last_parts(text)[1] if column.meaning is Meaning.LAST_DONE else text
    return counts_in(count)


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
    words = [UNITS.get(word) for word in re.findall(r"[^\W\d_]{2,}", column.name.casefold())]
    units = [unit for unit in words if unit in _CHOICES]
    if units:
        return units[-1] or ""
    return "cycles" if column.meaning is Meaning.COUNT_INTERVAL else ""


@dataclass(frozen=True, kw_only=True, slots=True)
class CareFacts:
    """Reads what the cells of one task say, as decided for the whole table."""

    numbers: NumberDecision | None
    dates: DateDecision
    units: IntervalUnits
    zone: ZoneInfo | None

    def of(
        self, row: Row, *, columns: Columns
    ) -> tuple[dict[str, Any], tuple[str, ...], Problem | None]:
        """Return the interval and the last time, notes on them, and the first thing in the way."""
        facts: dict[str, Any] = {}
        notes: list[str] = []
        interval = self._interval(row, columns=columns)
        problem = interval if isinstance(interval, Problem) else None
        if isinstance(interval, Interval):
            if interval.count:
                facts |= {"count_interval": interval.count, "count_basis": interval.basis}
            if interval.period_n:
                facts |= {"period_n": interval.period_n, "period_unit": interval.period_unit}
        last = self._last(row, columns=columns, notes=notes)
        if isinstance(last, Problem):
            problem = problem or last
        else:
            facts |= {name: value for name, value in last.items() if value is not None}
        if problem is None and not facts:
            problem = refused(_("This task has neither an interval nor a time when last done."))
        return facts, tuple(notes), problem

    def _interval(self, row: Row, *, columns: Columns) -> Interval | Problem:
        found = columns.interval or Interval()
        unit_text = text_of(row, columns.of(Meaning.INTERVAL_UNIT))
        for meaning in INTERVALS:
            for column in columns.by_meaning.get(meaning, ()):
                one = self._interval_in(row, column, unit_text=unit_text)
                if isinstance(one, Problem):
                    return one
                if one is None:
                    continue
                if (one.count and found.count and columns.interval is None) or (
                    one.period_n and found.period_n and columns.interval is None
                ):
                    return refused(_("This row names two intervals of one kind for a task."))
                found = Interval(
                    count=one.count or found.count,
                    basis=one.basis if one.count else found.basis,
                    period_n=one.period_n or found.period_n,
                    period_unit=one.period_unit or found.period_unit,
                )
        return found

    def _interval_in(
        self, row: Row, column: Column, *, unit_text: str
    ) -> Interval | Problem | None:
        digits = number_text(row, column)
        if isinstance(digits, Problem):
            return digits
        text, shown, is_held = digits
        if not shown:
            return None
        decision = self.numbers
        signs = Signs.POINT_DECIMAL if is_held else decision.signs if decision else None
        if signs is None and any(map(has_signs, counts_in(text))):
            return waiting(decision.question.text if decision and decision.question else shown)
        interval = read_interval(text, signs=signs)
        if isinstance(interval, str):
            return refused(interval)
        if interval.bare is None:
            return interval
        unit = UNITS.get(unit_text.casefold().strip(" ."), "") if unit_text else ""
        if unit_text and not unit:
            return refused(
                _("“%(text)s” is no unit of an interval: cycles, shots, days, weeks, months.")
                % {"text": unit_text}
            )
        unit = unit or self.units.named.get(column.place, "")
        if not unit:
            return waiting(
                _("“%(text)s” in “%(column)s” names no unit.")
                % {"text": shown, "column": column.name}
            )
        if unit in ("cycles", "shots") and in_thousands(column):
            interval = Interval(
                bare=interval.bare * 1000,
                period_n=interval.period_n,
                period_unit=interval.period_unit,
            )
        settled = with_unit(interval, unit=unit)
        return refused(settled) if isinstance(settled, str) else settled

    def _last(
        self, row: Row, *, columns: Columns, notes: list[str]
    ) -> dict[str, date | int | None] | Problem:
        found: dict[str, date | int | None] = {"last_done": None, "last_count": None}
        plain = self.numbers or NumberDecision(signs=Signs.THOUSANDS)
        for column in columns.by_meaning.get(Meaning.LAST_DONE, ()):
            what = held(row, place=column.place)
            if what is not None and (what.flaw or isinstance(what.value, date | datetime)):
                on = date_in(row, column, decision=self.dates, zone=self.zone)
                count: tuple[int | None, str] | Problem = (None, "")
            else:
                text = text_of(row, column)
                if len(text) > LONGEST_FACT:
                    return too_long(column.name)
                day_text, count_text = last_parts(text)
                on = date_of(day_text, decision=self.dates, zone=self.zone)
                count = count_of(count_text, shown=count_text, decision=plain)
            if isinstance(on, Problem):
                return on
            if isinstance(count, Problem):
                return count
            found["last_done"] = found["last_done"] or on
            found["last_count"] = count[0] if count[0] is not None else found["last_count"]
            notes += [count[1]] if count[1] else []
        for column in columns.by_meaning.get(Meaning.LAST_COUNT, ()):
            count = count_in(row, column, decision=plain, times=1000 if in_thousands(column) else 1)
            if isinstance(count, Problem):
                return count
            if count[0] is not None:
                if found["last_count"] not in (None, count[0]):
                    return refused(_("This row names two counts for the last time."))
                found["last_count"] = count[0]
                notes += [count[1]] if count[1] else []
        return found


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
    }[unit]
