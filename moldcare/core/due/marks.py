"""What one limit says, and from where all limits of a rule count."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import NamedTuple

from moldcare.core.due.course import CountCourse
from moldcare.core.due.values import Basis, LimitKind, Note, RuleHistory, Usage
from moldcare.core.shifts import ShiftCalendar


class Marks(NamedTuple):
    """What one limit says: where its states begin, and how much of it is used.

    `forecast_...` are by the recent rate alone. `share` is never below 0. An overdue instant that
    would lie at or behind the one of past limit is None.
    """

    kind: LimitKind
    share: float
    since: float
    interval: float
    soon_at: datetime | None = None
    due_at: datetime | None = None
    overdue_at: datetime | None = None
    past_at: datetime | None = None
    forecast_soon_at: datetime | None = None
    forecast_due_at: datetime | None = None
    name: str = ""
    counts: tuple[int, int, int | None, int | None] | None = None
    due_on: date | None = None
    served_on: date | None = None
    is_waiting: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Base:
    """From where the limits of a rule count: its last work, or the start of the records."""

    at: datetime
    on: date
    count: int | None
    is_done: bool
    notes: tuple[Note, ...] = ()


def course_of(basis: Basis, *, usage: Usage) -> CountCourse | None:
    """Return the course of the sum that a limit goes by."""
    return usage.shots if basis is Basis.SHOTS else usage.cycles


def base_of(history: RuleHistory, *, course: CountCourse | None, calendar: ShiftCalendar) -> Base:
    """From where the limits of a rule count.

    Parameters
    ----------
    history : RuleHistory
        What is known of the last work.
    course : CountCourse, optional
        Course of the sum that the limit by count goes by; None for a rule without one.
    calendar : ShiftCalendar
        For local dates.

    Returns
    -------
    Base
        A last work of which only the date is known takes its count from the facts of that date, one
        of which only the count is known takes its instant from them. Where the facts do not reach
        so far, counting starts with the records, which is the least that has passed since then, and
        a note says that it is open.
    """
    notes: tuple[Note, ...] = ()
    count = history.done_count
    if history.done_at is not None:
        at = history.done_at
        on = calendar.date_of(at)
    elif history.done_on is not None:
        on = history.done_on
        at = calendar.midnight(on)
    else:
        passed = None if count is None or course is None else course.passed_at(count)
        if passed is not None:
            at = passed
            on = calendar.date_of(at)
        else:
            on = history.entered_on
            at = calendar.midnight(on)
            if count is not None:
                notes = (Note.DATE_OPEN,)
            else:
                return Base(at=at, on=on, count=history.first_count, is_done=False)
    if count is None and course is not None:
        count = course.count_at(at)
        if count is None:
            count = history.first_count
            notes = (*notes, Note.COUNT_OPEN)
    return Base(at=at, on=on, count=count, is_done=True, notes=notes)


def later(one: datetime, other: datetime) -> datetime:
    """Return the later of two instants."""
    return one if one >= other else other
