"""When limits by count, running hours, event and measurement say that a rule is due."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from datetime import datetime, timedelta
from math import ceil

from moldcare.core.due.course import CountCourse, Span, instant_of, microseconds
from moldcare.core.due.marks import Base, Marks, course_of, later
from moldcare.core.due.terms import TENTH, interval_count, interval_h
from moldcare.core.due.values import (
    CountLimit,
    EventKind,
    EventLimit,
    Factor,
    LimitKind,
    MeasuredLimit,
    RunningLimit,
    Usage,
)
from moldcare.core.shifts import ShiftCalendar


def _reached_at(count: int, *, course: CountCourse, base_at: datetime) -> datetime | None:
    """When a count was reached by accepted counts, not before the last work."""
    if count > course.newest_count:
        return None
    passed = course.passed_at(count)
    return base_at if passed is None else later(passed, base_at)


def count_marks(
    limit: CountLimit,
    *,
    factors: Sequence[Factor],
    base: Base,
    usage: Usage,
    shift_h: float,
) -> Marks:
    """Return what a limit by count says, by accepted counts and by the recent rate."""
    n = interval_count(limit, factors=factors)
    course = course_of(limit.basis, usage=usage)
    start = base.count or 0
    rate = usage.rate_per_h if usage.is_in_press else None
    lead = limit.lead
    if lead is None:
        lead = -(-n // TENTH)
        if rate is not None:
            lead = max(lead, ceil(rate * shift_h))
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
    return later(course.newest_at + timedelta(hours=hours), base_at)


def running_marks(
    limit: RunningLimit,
    *,
    factors: Sequence[Factor],
    base: Base,
    usage: Usage,
    shift_h: float,
) -> Marks:
    """Return what a limit by running hours says; a run that is open is taken to go on."""
    hours = interval_h(limit, factors=factors)
    lead = limit.lead_h
    if lead is None:
        lead = max(hours / TENTH, shift_h)
    margin = hours / TENTH if limit.margin_h is None else limit.margin_h
    hard = None if limit.hard_limit_h is None else max(hours, limit.hard_limit_h)
    running = usage.running
    before_us = running.sum_us(microseconds(base.at))

    def reached(after_h: float) -> datetime | None:
        at_us = running.reached_us(before_us + round(after_h * 3_600_000_000))
        return None if at_us is None else later(instant_of(at_us), base.at)

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
    """Return what a limit at an event says, from the first such event after the last work."""
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
    """Return the first event after the last work, or from the start where nothing was done."""
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
    """Return the end of the first stay of so many days that ended after the last work."""
    for span in stored:
        if span.to_at is None or span.to_at <= base.at:
            continue
        if (calendar.date_of(span.to_at) - calendar.date_of(span.from_at)).days >= after_days:
            return span.to_at
    return None


def measured_marks(limit: MeasuredLimit, *, base: Base, usage: Usage) -> Marks:
    """Return what a measured limit says, since its newest measurements have all been beyond it."""
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
