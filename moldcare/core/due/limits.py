"""When each kind of limit says due soon, due, overdue and past limit."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import ceil
from typing import NamedTuple

from moldcare.core.due.course import CountCourse, Span, instant_of, microseconds
from moldcare.core.due.terms import (
    TENTH,
    interval_count,
    interval_h,
    lead_days_of,
    margin_days_of,
)
from moldcare.core.due.values import (
    Basis,
    CalendarCounts,
    CalendarLimit,
    CountLimit,
    EventKind,
    EventLimit,
    Factor,
    LimitKind,
    MeasuredLimit,
    Note,
    RuleHistory,
    RunningLimit,
    Usage,
)
from moldcare.core.recurrence import turn_after, turn_on_grid
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
    """The course of the sum that a limit goes by."""
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


def _later(one: datetime, other: datetime) -> datetime:
    return one if one >= other else other


def _reached_at(count: int, *, course: CountCourse, base_at: datetime) -> datetime | None:
    """When a count was reached by accepted counts, not before the last work."""
    if count > course.newest_count:
        return None
    passed = course.passed_at(count)
    return base_at if passed is None else _later(passed, base_at)


def count_marks(
    limit: CountLimit,
    *,
    factors: Sequence[Factor],
    base: Base,
    usage: Usage,
    calendar: ShiftCalendar,
) -> Marks:
    """What a limit by count says, reached by accepted counts, and forecast by the recent rate."""
    n = interval_count(limit, factors=factors)
    course = course_of(limit.basis, usage=usage)
    start = base.count or 0
    rate = usage.rate_per_h if usage.is_in_press else None
    lead = limit.lead
    if lead is None:
        lead = -(-n // TENTH)
        if rate is not None:
            on = calendar.date_of(usage.newest_fact_at)
            lead = max(lead, ceil(rate * calendar.usual_shift_h(on)))
    soon, due = start + max(0, n - lead), start + n
    overdue: int | None = due + (-(-n // TENTH) if limit.margin is None else limit.margin)
    past = None if limit.hard_limit is None else start + max(n, limit.hard_limit)
    if past is not None and overdue is not None and past <= overdue:
        overdue = None
    if course is None:
        return Marks(
            LimitKind.COUNT, 0.0, 0, n, counts=(soon, due, overdue, past), name=limit.basis
        )
    newest = course.newest_count
    since = max(0, newest - start)
    soon_at = due_at = overdue_at = past_at = None
    if newest >= soon:
        soon_at = _reached_at(soon, course=course, base_at=base.at)
        if newest >= due:
            due_at = _reached_at(due, course=course, base_at=base.at)
            if overdue is not None:
                overdue_at = _reached_at(overdue, course=course, base_at=base.at)
            if past is not None:
                past_at = _reached_at(past, course=course, base_at=base.at)
    return Marks(
        LimitKind.COUNT,
        since / n,
        since,
        n,
        soon_at,
        due_at,
        overdue_at,
        past_at,
        forecast_at(soon, course=course, base_at=base.at, rate_per_h=rate),
        forecast_at(due, course=course, base_at=base.at, rate_per_h=rate),
        limit.basis,
        (soon, due, overdue, past),
    )


def forecast_at(
    count: int, *, course: CountCourse, base_at: datetime, rate_per_h: float | None
) -> datetime | None:
    """When a count not yet reached will be, at a rate of so many an hour since the newest count."""
    left = count - course.newest_count
    if left <= 0 or rate_per_h is None or rate_per_h <= 0:
        return None
    hours = left / rate_per_h
    # A mold that hardly moves has no forecast; dates beyond a lifetime say nothing.
    if hours > 24 * 365 * 50:
        return None
    return _later(course.newest_at + timedelta(hours=hours), base_at)


def calendar_marks(
    limit: CalendarLimit, *, base: Base, usage: Usage, calendar: ShiftCalendar
) -> Marks:
    """What a calendar limit says, on local dates, with storage taken out or alone counted."""
    if limit.anchor_on is None:
        turn = turn_after(base.on, period=limit.period)
    else:
        turn = turn_on_grid(
            base.on,
            anchor=limit.anchor_on,
            period=limit.period,
            window_days=limit.window_days,
            is_work=base.is_done,
        )
    length = turn.length_days
    lead = lead_days_of(limit, length_days=length)
    margin = margin_days_of(limit, length_days=length)
    hard = None if limit.hard_limit_days is None else max(length, limit.hard_limit_days)
    start = max(turn.starts_on, base.on)
    newest_on = calendar.date_of(usage.newest_fact_at)
    ahead = (turn.due_on - start).days
    only = limit.counts is CalendarCounts.ONLY_WHILE_STORED
    stored: list[tuple[date, date | None]] = []
    offsets = (ahead, max(0, ahead - lead), ahead + margin, ahead + (hard or length) - length)
    due_on: date | None
    soon_on: date | None
    overdue_on: date | None
    past_on: date | None
    if limit.counts is CalendarCounts.ALWAYS:
        due_on, soon_on, overdue_on, past_on = [start + timedelta(days=n) for n in offsets]
    else:
        stored = _stored_dates(usage.stored, after=start, calendar=calendar)
        due_on, soon_on, overdue_on, past_on = [
            _counted_date(start, days=n, stored=stored, is_only_stored=only) for n in offsets
        ]
    if hard is None:
        past_on = None
    elif hard - length <= margin:
        overdue_on = None
    is_stored = bool(stored) and stored[-1][1] is None
    is_waiting = limit.counts is CalendarCounts.WAITS_WHILE_STORED and is_stored and due_on is None
    due_at = None if due_on is None else calendar.midnight(due_on)
    soon_at = None
    if not is_waiting and soon_on is not None:
        soon_at = calendar.midnight(soon_on)
    if due_at is not None and limit.lead_days is None:
        notice_at = calendar.whole_shift_before(due_at)
        soon_at = notice_at if soon_at is None or notice_at < soon_at else soon_at
    # Days used and days in all are those from the work to the due date, so that the share is 0 on
    # the one and 1 on the other, also where fixed dates make the first stretch longer or shorter.
    whole = (turn.due_on - base.on).days
    passed = (min(newest_on, start) - base.on).days
    if newest_on > start:
        passed += _days_counted(start, until=newest_on, stored=stored, is_only_stored=only)
    passed = max(0, passed)
    return Marks(
        LimitKind.CALENDAR,
        passed / whole,
        passed,
        whole,
        None if soon_at is None else _later(soon_at, base.at),
        None if due_at is None else _later(due_at, base.at),
        None if overdue_on is None else _later(calendar.midnight(overdue_on), base.at),
        None if past_on is None else _later(calendar.midnight(past_on), base.at),
        due_on=due_on,
        served_on=turn.served_on if base.is_done else None,
        is_waiting=is_waiting,
    )


def _stored_dates(
    stored: Sequence[Span], *, after: date, calendar: ShiftCalendar
) -> list[tuple[date, date | None]]:
    """The local dates of stays in storage, cut off before a date."""
    found: list[tuple[date, date | None]] = []
    for span in stored:
        to_on = None if span.to_at is None else calendar.date_of(span.to_at)
        if to_on is not None and to_on <= after:
            continue
        from_on = max(after, calendar.date_of(span.from_at))
        found.append((from_on, to_on))
    return found


def _counted_date(
    start: date, *, days: int, stored: Sequence[tuple[date, date | None]], is_only_stored: bool
) -> date | None:
    """The date on which so many days have counted; None while it is not known."""
    if days == 0:
        return start
    at, left = start, days
    if is_only_stored:
        for from_on, to_on in stored:
            if to_on is None or (to_on - from_on).days >= left:
                return from_on + timedelta(days=left)
            left -= (to_on - from_on).days
        return None
    for from_on, to_on in stored:
        if (from_on - at).days >= left:
            break
        left -= (from_on - at).days
        if to_on is None:
            return None
        at = to_on
    return at + timedelta(days=left)


def _days_counted(
    start: date, *, until: date, stored: Sequence[tuple[date, date | None]], is_only_stored: bool
) -> int:
    """How many days of the calendar have counted from a date until another."""
    in_storage = 0
    for from_on, to_on in stored:
        last = until if to_on is None else min(to_on, until)
        in_storage += max(0, (last - from_on).days)
    return in_storage if is_only_stored else (until - start).days - in_storage


def running_marks(
    limit: RunningLimit,
    *,
    factors: Sequence[Factor],
    base: Base,
    usage: Usage,
    calendar: ShiftCalendar,
) -> Marks:
    """What a limit by running hours says; a run that is open is taken to go on."""
    hours = interval_h(limit, factors=factors)
    lead = limit.lead_h
    if lead is None:
        lead = max(hours / TENTH, calendar.usual_shift_h(calendar.date_of(usage.newest_fact_at)))
    margin = hours / TENTH if limit.margin_h is None else limit.margin_h
    hard = None if limit.hard_limit_h is None else max(hours, limit.hard_limit_h)
    running = usage.running
    before_us = running.sum_us(microseconds(base.at))

    def reached(after_h: float) -> datetime | None:
        at_us = running.reached_us(before_us + round(after_h * 3_600_000_000))
        return None if at_us is None else _later(instant_of(at_us), base.at)

    since_us = running.sum_us(microseconds(usage.newest_fact_at)) - before_us
    since = max(0.0, since_us / 3_600_000_000)
    is_skipped = hard is not None and hard <= hours + margin
    return Marks(
        LimitKind.RUNNING_HOURS,
        since / hours,
        since,
        hours,
        base.at if lead >= hours else reached(hours - lead),
        reached(hours),
        None if is_skipped else reached(hours + margin),
        None if hard is None else reached(hard),
    )


def event_marks(limit: EventLimit, *, base: Base, usage: Usage, calendar: ShiftCalendar) -> Marks:
    """What a limit at an event says, from the first such event after the last work."""
    overdue_at: datetime | None = None
    if limit.kind is EventKind.BEFORE_SET:
        due_at, overdue_at = _out_of_press(base, usage=usage)
    else:
        if limit.kind is EventKind.BACK_FROM_STORAGE:
            due_at = _back_from_storage(
                limit.after_days, base=base, stored=usage.stored, calendar=calendar
            )
        else:
            due_at = _first_after(usage.events.get(limit.kind, ()), base=base)
        if due_at is not None:
            overdue_at = (
                calendar.nth_whole_shift_end(due_at, n=limit.margin_shifts)
                if limit.margin_shifts
                else due_at
            )
    past_at: datetime | None = None
    if limit.hard_limit_shifts is not None and due_at is not None:
        past_at = due_at
        if limit.hard_limit_shifts:
            past_at = calendar.nth_whole_shift_end(due_at, n=limit.hard_limit_shifts)
        if overdue_at is not None and past_at <= overdue_at:
            overdue_at = None
    is_due = due_at is not None
    return Marks(
        LimitKind.EVENT,
        1.0 if is_due else 0.0,
        1 if is_due else 0,
        1,
        due_at,
        due_at,
        overdue_at,
        past_at,
        name=limit.kind,
    )


def _first_after(events: Sequence[datetime], *, base: Base) -> datetime | None:
    """The first event after the last work; where nothing was done yet, also one at the start."""
    place = bisect_right(events, base.at) if base.is_done else bisect_left(events, base.at)
    return events[place] if place < len(events) else None


def _out_of_press(base: Base, *, usage: Usage) -> tuple[datetime | None, datetime | None]:
    """From when the mold is out of a press without the work, and when it was set without it."""
    pulled = usage.events.get(EventKind.END_OF_RUN, ())
    sets = usage.events.get(EventKind.SET, ())
    out_at = _first_after(pulled, base=base)
    if not base.is_done:
        first_set = _first_after(sets, base=base)
        starts_out = (first_set is None and out_at is None and not usage.is_in_press) or (
            first_set is not None and (out_at is None or first_set < out_at)
        )
        if starts_out:
            return base.at, first_set
    if out_at is None:
        return None, None
    place = bisect_left(sets, out_at)
    return out_at, sets[place] if place < len(sets) else None


def _back_from_storage(
    after_days: int, *, base: Base, stored: Sequence[Span], calendar: ShiftCalendar
) -> datetime | None:
    """The end of the first stay of so many days that ended after the last work."""
    for span in stored:
        if span.to_at is None or span.to_at <= base.at:
            continue
        if (calendar.date_of(span.to_at) - calendar.date_of(span.from_at)).days >= after_days:
            return span.to_at
    return None


def measured_marks(limit: MeasuredLimit, *, base: Base, usage: Usage) -> Marks:
    """What a measured limit says, since its newest measurements have all been beyond it."""
    change = limit.limit - limit.baseline
    measured = [one for one in usage.measurements.get(limit.quantity, ()) if one.at > base.at]
    # Nine digits: binary fractions would set 0.021 a hair off nine tenths of the way to 0.02.
    parts = [round((one.value - limit.baseline) / change, 9) for one in measured]

    def since(part: float) -> datetime | None:
        found = None
        for one, reached in zip(reversed(measured), reversed(parts), strict=True):
            if reached < part:
                break
            found = one.at
        return found

    hard = None
    if limit.hard_limit is not None:
        hard = max(1.0, round((limit.hard_limit - limit.baseline) / change, 9))
    newest = parts[-1] if parts else 0.0
    is_skipped = hard is not None and hard <= 1 + limit.margin_part
    return Marks(
        LimitKind.MEASURED,
        max(0.0, newest),
        measured[-1].value if measured else limit.baseline,
        limit.limit,
        since(1 - limit.lead_part),
        since(1.0),
        None if is_skipped else since(1 + limit.margin_part),
        None if hard is None else since(hard),
        name=limit.quantity,
    )
