"""A standing in words: its parts as data, and the English sentences they make."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from moldcare.core.due.standing import is_by_forecast, overtaking_days, since_at, state_at
from moldcare.core.due.values import (
    EventKind,
    LimitKind,
    Note,
    Standing,
    State,
    UnsureWhy,
)
from moldcare.core.shifts import ShiftCalendar

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

#: So far ahead a weekday and a shift name an instant; beyond it a date does [days].
NEAR_DAYS = 6


class PartKind(StrEnum):
    """What one part of a reason says."""

    NO_RECORD = "no_record"
    USED_COUNT = "used_count"
    USED_DAYS = "used_days"
    USED_HOURS = "used_hours"
    EVENT = "event"
    MEASURED = "measured"
    PAST_LIMIT_SINCE = "past_limit_since"
    OVERDUE_SINCE = "overdue_since"
    DUE_SINCE = "due_since"
    DUE_AT = "due_at"
    DUE_ABOUT = "due_about"
    BY_FORECAST = "by_forecast"
    DEFERRED = "deferred"
    WAITING = "waiting"
    UNSURE = "unsure"
    COUNT_OPEN = "count_open"
    DATE_OPEN = "date_open"
    NO_COUNTS = "no_counts"
    SERVED = "served"


@dataclass(frozen=True, kw_only=True, slots=True)
class When:
    """An instant as people on the floor say it: its local date and, if one is worked, the shift.

    `on` is the date that the shift belongs to. `is_near` says that a weekday is enough.
    """

    on: date
    shift: str = ""
    is_near: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Part:
    """One sentence of a reason as data; `name` is a basis, event, quantity, state or cause."""

    kind: PartKind
    used: float | None = None
    of: float | None = None
    name: str = ""
    when: When | None = None
    count: int | None = None


def when_of(instant: datetime, *, at: datetime, calendar: ShiftCalendar) -> When:
    """Return an instant as people on the floor say it, seen from another.

    Parameters
    ----------
    instant : datetime
        What is named.
    at : datetime
        From where it is seen: near it a weekday is enough.
    calendar : ShiftCalendar
        For local dates and the names of shifts.

    Returns
    -------
    When
        With the shift worked at the instant, if there is one, and the date it belongs to.
    """
    shift = calendar.shift_at(instant)
    on = calendar.date_of(instant) if shift is None else shift.belongs_to
    days = (on - calendar.date_of(at)).days
    return When(
        on=on, shift="" if shift is None else shift.name, is_near=-NEAR_DAYS <= days <= NEAR_DAYS
    )


_USED = {
    LimitKind.COUNT: PartKind.USED_COUNT,
    LimitKind.CALENDAR: PartKind.USED_DAYS,
    LimitKind.RUNNING_HOURS: PartKind.USED_HOURS,
    LimitKind.MEASURED: PartKind.MEASURED,
}

_NOTES = {
    Note.COUNT_OPEN: PartKind.COUNT_OPEN,
    Note.DATE_OPEN: PartKind.DATE_OPEN,
    Note.NO_COUNTS: PartKind.NO_COUNTS,
}


def reason(standing: Standing, *, at: datetime, calendar: ShiftCalendar) -> tuple[Part, ...]:
    """Why a rule stands as it does at an instant.

    Parameters
    ----------
    standing : Standing
        As computed from the facts.
    at : datetime
        The instant for which its state is shown.
    calendar : ShiftCalendar
        For local dates and the names of shifts.

    Returns
    -------
    tuple of Part
        In the order in which they are said; `say` makes English of them.
    """
    parts: list[Part] = []
    if standing.no_record_yet:
        parts.append(Part(kind=PartKind.NO_RECORD))
    days = overtaking_days(standing, at=at, calendar=calendar)
    if days is not None:
        parts.append(Part(kind=PartKind.USED_DAYS, used=days[0], of=days[1]))
    elif standing.limiting is LimitKind.EVENT:
        if standing.share > 0:
            parts.append(Part(kind=PartKind.EVENT, name=standing.limiting_name))
    elif standing.limiting is not None:
        parts.append(
            Part(
                kind=_USED[standing.limiting],
                used=since_at(standing, at=at, calendar=calendar),
                of=standing.interval,
                name=standing.limiting_name,
            )
        )
    parts += _state_parts(standing, at=at, calendar=calendar)
    if standing.served_on is not None:
        served = When(on=standing.served_on, is_near=False)
        parts.append(Part(kind=PartKind.SERVED, when=served))
    parts += [Part(kind=_NOTES[note]) for note in standing.notes]
    return tuple(parts)


def _state_parts(standing: Standing, *, at: datetime, calendar: ShiftCalendar) -> list[Part]:
    """Return what is said of the state itself, and of when it comes."""

    def since(kind: PartKind, instant: datetime | None, name: str = "") -> Part:
        when = None if instant is None else when_of(instant, at=at, calendar=calendar)
        return Part(kind=kind, when=when, name=name)

    state = state_at(standing, at=at)
    why = standing.unsure_why or UnsureWhy.OLD_READING
    is_unsure = standing.unsure_at is not None and standing.unsure_at <= at
    unsure = [since(PartKind.UNSURE, standing.unsure_at, why)] if is_unsure else []
    if state is State.PAST_LIMIT:
        return [since(PartKind.PAST_LIMIT_SINCE, standing.past_limit_at), *unsure]
    if state is State.OVERDUE:
        return [since(PartKind.OVERDUE_SINCE, standing.overdue_at), *unsure]
    if state is State.DUE:
        return [since(PartKind.DUE_SINCE, standing.due_at), *unsure]
    if state is State.DEFERRED:
        until = standing.deferred_until_at
        when = None if until is None else when_of(until, at=at, calendar=calendar)
        deferred = Part(
            kind=PartKind.DEFERRED,
            when=when,
            count=standing.deferred_until_count,
            name=standing.basis or "",
        )
        return [deferred, *_undeferred(standing, at=at, calendar=calendar), *unsure]
    if state is State.WAITING:
        return [Part(kind=PartKind.WAITING)]
    parts = list(unsure)
    if is_by_forecast(standing, at=at):
        is_due = standing.forecast_due_at is not None and standing.forecast_due_at <= at
        instant = standing.forecast_due_at if is_due else standing.forecast_soon_at
        name = State.DUE if is_due else State.DUE_SOON
        parts.append(since(PartKind.BY_FORECAST, instant, name))
        if is_due:
            return parts
    if standing.forecast_due_at is not None and standing.forecast_due_at > at:
        is_date = standing.forecast_due_at == standing.due_at
        kind = PartKind.DUE_AT if is_date else PartKind.DUE_ABOUT
        parts.append(since(kind, standing.forecast_due_at))
    return parts


def _undeferred(standing: Standing, *, at: datetime, calendar: ShiftCalendar) -> list[Part]:
    """Return what would have been reached without the deferral, the worst alone."""
    reached = standing.undeferred
    if reached is None:
        return []
    for kind, instant in (
        (PartKind.PAST_LIMIT_SINCE, reached.past_limit_at),
        (PartKind.OVERDUE_SINCE, reached.overdue_at),
        (PartKind.DUE_SINCE, reached.due_at),
    ):
        if instant is not None and instant <= at:
            return [Part(kind=kind, when=when_of(instant, at=at, calendar=calendar))]
    return []


_EVENTS = {
    EventKind.END_OF_RUN: "Asked for at the end of a run.",
    EventKind.BEFORE_SET: "Asked for before the mold is set.",
    EventKind.INTO_STORAGE: "Asked for when the mold goes into storage.",
    EventKind.BACK_FROM_STORAGE: "Asked for when the mold comes back from storage.",
    EventKind.MOLD_OPENED: "Asked for whenever the mold was opened.",
    EventKind.EACH_SERVICE: "Asked for at each service.",
    EventKind.SET: "Asked for at each set.",
}

_UNSURE = {
    UnsureWhy.OLD_READING: "the newest reading is too old",
    UnsureWhy.HELD_READING: "a newer reading is held",
    UnsureWhy.AMBIGUOUS_SPAN: "the count can be read in two ways",
}

_PLAIN = {
    PartKind.NO_RECORD: "No record yet.",
    PartKind.WAITING: "Stored; the calendar waits.",
    PartKind.COUNT_OPEN: "The count at the last work is open; at least this much has run since.",
    PartKind.DATE_OPEN: "The date of the last work is open; it was at least this long ago.",
    PartKind.NO_COUNTS: "No count is known.",
}

_DATED = {
    PartKind.PAST_LIMIT_SINCE: "Past limit since",
    PartKind.OVERDUE_SINCE: "Overdue since",
    PartKind.DUE_SINCE: "Due since",
    PartKind.DUE_AT: "Due",
    PartKind.DUE_ABOUT: "Due about",
    PartKind.SERVED: "Last work served",
}


def say(parts: tuple[Part, ...]) -> str:
    """Return the English sentences of a reason.

    Examples
    --------
    >>> thursday = When(on=date(2026, 11, 26), shift="Night", is_near=True)
    >>> say((
    ...     Part(kind=PartKind.USED_COUNT, used=12400, of=20000, name="shots"),
    ...     Part(kind=PartKind.DUE_AT, when=thursday),
    ... ))
    '12,400 of 20,000 shots. Due Thu night shift.'
    """
    return " ".join(_said(part) for part in parts)


def _said(part: Part) -> str:
    if part.kind in _PLAIN:
        return _PLAIN[part.kind]
    if part.kind in _DATED:
        return f"{_DATED[part.kind]} {_said_when(part.when)}."
    if part.kind is PartKind.USED_COUNT:
        return f"{part.used:,.0f} of {part.of:,.0f} {part.name}."
    if part.kind is PartKind.USED_DAYS:
        return f"{part.used:,.0f} of {part.of:,.0f} days."
    if part.kind is PartKind.USED_HOURS:
        return f"{part.used:,.0f} of {part.of:,.0f} running hours."
    if part.kind is PartKind.EVENT:
        return _EVENTS[EventKind(part.name)]
    if part.kind is PartKind.MEASURED:
        name = part.name[:1].upper() + part.name[1:]
        return f"{name} {part.used:g}, limit {part.of:g}."
    if part.kind is PartKind.UNSURE:
        return f"Unsure since {_said_when(part.when)}: {_UNSURE[UnsureWhy(part.name)]}."
    if part.kind is PartKind.BY_FORECAST:
        state = "Due" if part.name == State.DUE else "Due soon"
        return f"{state} by forecast since {_said_when(part.when)}: read the counter."
    until = [] if part.when is None else [_said_when(part.when)]
    if part.count is not None:
        until.append(f"a count of {part.count:,}")
    return f"Deferred until {' or '.join(until)}." if until else "Deferred."


def _said_when(when: When | None) -> str:
    if when is None:
        return "a time not known"
    day = WEEKDAYS[when.on.weekday()]
    if not when.is_near:
        return f"{day} {when.on.day} {MONTHS[when.on.month - 1]} {when.on.year}"
    return f"{day} {when.shift.lower()} shift" if when.shift else day
