"""What the cells of a maintenance sheet say about one task: its interval, and when last done."""

import re
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any, Final

from django.utils.translation import gettext as _

from moldcare.feeds.register.cells import count_in, count_of, number_text
from moldcare.feeds.register.days import Days
from moldcare.feeds.register.events import event_words
from moldcare.feeds.register.gather import text_of
from moldcare.feeds.register.interval_units import INTERVALS, IntervalUnits, in_thousands
from moldcare.feeds.register.intervals import (
    UNITS,
    Interval,
    counts_in,
    joined,
    read_interval,
    with_unit,
)
from moldcare.feeds.register.last_done import last_parts
from moldcare.feeds.register.task_groups import Columns
from moldcare.feeds.tables import Column, Meaning, Problem, Row
from moldcare.feeds.tables.numbers import NumberDecision, Signs, has_signs
from moldcare.feeds.tables.problems import refused, too_long, waiting
from moldcare.feeds.tables.rows import LONGEST_FACT, held

#: What says in a column headed by a task that the mold has it.
_MARKED: Final = frozenset(
    ["x", "✓", "✔", "☒", "☑", "●", "•", "*", "yes", "ja", "j", "y", "sí", "si"]
)
#: A number that may be a year as well as a count.
_LIKE_A_YEAR: Final = re.compile(r"(?:19[7-9]|20[0-9])[0-9]", re.ASCII)


def numbers_in(column: Column, text: str) -> tuple[str, ...]:
    """Numbers of a cell whose points and commas need the column's decision."""
    if column.meaning is Meaning.PERIOD:
        return ()
    if column.meaning in INTERVALS:
        return counts_in(text)
    count = last_parts(text)[1] if column.meaning is Meaning.LAST_DONE else text
    return counts_in(count)


@dataclass(frozen=True, kw_only=True, slots=True)
class CareFacts:
    """Reads what the cells of one task say, as decided for the whole table."""

    numbers: NumberDecision | None
    days: Days
    units: IntervalUnits

    def of(
        self, row: Row, *, columns: Columns
    ) -> tuple[dict[str, Any], tuple[str, ...], Problem | None]:
        """Return the interval and the last time, notes on them, and the first thing in the way."""
        facts: dict[str, Any] = {}
        notes: list[str] = []
        interval = self._interval(row, columns=columns, notes=notes)
        problem = interval if isinstance(interval, Problem) else None
        if isinstance(interval, Interval):
            if interval.count:
                facts |= {"count_interval": interval.count, "count_basis": interval.basis}
            if interval.period_n:
                facts |= {"period_n": interval.period_n, "period_unit": interval.period_unit}
            if interval.hours:
                facts["hours_limit"] = interval.hours
            if interval.event:
                facts["event"] = interval.event
        last = self._last(row, columns=columns, notes=notes)
        if isinstance(last, Problem):
            problem = problem or last
        else:
            facts |= {name: value for name, value in last.items() if value is not None}
        if problem is None and not facts:
            problem = _without_facts(row, columns=columns)
        return facts, tuple(notes), problem

    def _interval(self, row: Row, *, columns: Columns, notes: list[str]) -> Interval | Problem:
        found = Interval()
        unit_text = text_of(row, columns.of(Meaning.INTERVAL_UNIT))
        for meaning in INTERVALS:
            for column in columns.by_meaning.get(meaning, ()):
                one = self._interval_in(row, column, unit_text=unit_text)
                if isinstance(one, Problem):
                    return one
                if one is None:
                    continue
                if found.has_kind_of(one):
                    return refused(_("This row names two intervals of one kind for a task."))
                notes += _taken_for(one, text=text_of(row, column))
                found = joined(found, more=one)
        # what a cell says goes before what its heading says for all of them
        return joined(found, more=columns.interval or Interval())

    def _interval_in(
        self, row: Row, column: Column, *, unit_text: str
    ) -> Interval | Problem | None:
        digits = number_text(row, column)
        if isinstance(digits, Problem):
            return digits
        text, shown, is_held = digits
        if not shown or _is_marked(column, text=shown):
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
                _(
                    "“%(text)s” is no unit of an interval: cycles, shots, days, weeks, months, "
                    "hours."
                )
                % {"text": unit_text}
            )
        unit = unit or self.units.named.get(column.place, "")
        if not unit:
            return waiting(
                _("“%(text)s” in “%(column)s” names no unit.")
                % {"text": shown, "column": column.name}
            )
        if unit in ("cycles", "shots") and in_thousands(column):
            interval = replace(interval, bare=interval.bare * 1000)
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
                on = self.days.inside(row, column)
                count: tuple[int | None, str] | Problem = (None, "")
            else:
                text = text_of(row, column)
                if _is_marked(column, text=text):
                    continue
                if len(text) > LONGEST_FACT:
                    return too_long(column.name)
                if _LIKE_A_YEAR.fullmatch(text):
                    return refused(
                        _(
                            "“%(text)s” in “%(column)s” may be a year or a count. Write a day, a "
                            "month, or “%(text)s shots”."
                        )
                        % {"text": text, "column": column.name}
                    )
                day_text, count_text = last_parts(text)
                on = self.days.written(day_text)
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


def _is_marked(column: Column, *, text: str) -> bool:
    """Tell a mark that says that a mold has the task of a column, and no more."""
    return column.task_text is not None and text.casefold() in _MARKED


def _without_facts(row: Row, *, columns: Columns) -> Problem:
    """Say that a task has no interval and no last time, and where a mark's interval belongs."""
    for several in columns.by_meaning.values():
        for column in several:
            text = text_of(row, column)
            if _is_marked(column, text=text):
                return refused(
                    _(
                        "“%(text)s” says that the mold has this task, and not how often. Write "
                        "the interval into the cell, or into the heading: “%(task)s (every 20,000 "
                        "shots)”."
                    )
                    % {"text": text, "task": column.task_text}
                )
    return refused(_("This task has neither an interval nor a time when last done."))


def _taken_for(interval: Interval, *, text: str) -> list[str]:
    """Say what hours and events were taken for: sheets have many words for them."""
    notes = []
    if interval.hours:
        notes.append(
            _("“%(text)s” is taken for %(hours)d hours in which the mold runs.")
            % {"text": text, "hours": interval.hours}
        )
    if interval.event:
        notes.append(
            _("“%(text)s” is taken for: %(event)s.")
            % {"text": text, "event": event_words(interval.event)}
        )
    return notes
