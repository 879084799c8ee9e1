"""When a calendar limit says due soon, due, overdue and past limit, on local dates."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from moldcare.core.due.course import Span
from moldcare.core.due.marks import Base, Marks, later
from moldcare.core.due.terms import lead_days_of, margin_days_of
from moldcare.core.due.values import CalendarCounts, CalendarLimit, LimitKind, Usage
from moldcare.core.recurrence import turn_after, turn_on_grid
from moldcare.core.shifts import ShiftCalendar


def calendar_marks(
    limit: CalendarLimit,
    *,
    base: Base,
    usage: Usage,
    newest_on: date,
    calendar: ShiftCalendar,
) -> Marks:
    """Return what a calendar limit says on local dates; storage is taken out or alone counted."""
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
        None if soon_at is None else later(soon_at, base.at),
        None if due_at is None else later(due_at, base.at),
        None if overdue_on is None else later(calendar.midnight(overdue_on), base.at),
        None if past_on is None else later(calendar.midnight(past_on), base.at),
        due_on=due_on,
        served_on=turn.served_on if base.is_done else None,
        is_waiting=is_waiting,
    )


def _stored_dates(
    stored: Sequence[Span], *, after: date, calendar: ShiftCalendar
) -> list[tuple[date, date | None]]:
    """Return the local dates of stays in storage, cut off before a date."""
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
    """Return the date on which so many days have counted; None while it is not known."""
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
