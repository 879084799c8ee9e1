"""Calendar periods on local dates, and grids of dates counted from their anchor.

Month ends clamp: one month after 31 January is 28 or 29 February. The k-th date of a grid is always
counted from the anchor, never from the date before it, so 31 March follows 28 February. The
recurrence rules of RFC 5545 leave out such dates instead; for days, weeks, and for months and years
from a day that every month has, the two agree.
"""

from __future__ import annotations

from calendar import monthrange
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

#: Part of a period before a fixed date in which work done early serves that date. Ours.
EARLY_PART = 5


class Unit(StrEnum):
    """Unit of a calendar period."""

    DAY = "day"
    WEEK = "week"
    MONTH = "month"
    YEAR = "year"


@dataclass(frozen=True, kw_only=True, slots=True)
class Period:
    """A calendar period: `n` days, weeks, months or years, with n at least 1."""

    n: int
    unit: Unit


def date_after(start: date, *, period: Period, times: int = 1) -> date:
    """Return the date some periods after a date, at the month's end where its day is missing.

    Parameters
    ----------
    start : date
        Local date.
    period : Period
        Calendar period.
    times : int
        How many periods, counted in one step from `start`; may be negative.

    Returns
    -------
    date
        Clamped to the last day of its month.

    Notes
    -----
    Two steps of one month are not one step of two: from 31 January they lead to 28 March, not to
    31 March. So a grid is counted with `times`, and never step by step.

    Examples
    --------
    >>> date_after(date(2027, 1, 31), period=Period(n=1, unit=Unit.MONTH))
    datetime.date(2027, 2, 28)
    >>> date_after(date(2027, 1, 31), period=Period(n=1, unit=Unit.MONTH), times=2)
    datetime.date(2027, 3, 31)
    """
    steps = period.n * times
    if period.unit is Unit.DAY:
        return start + timedelta(days=steps)
    if period.unit is Unit.WEEK:
        return start + timedelta(days=7 * steps)
    months = start.year * 12 + start.month - 1
    months += 12 * steps if period.unit is Unit.YEAR else steps
    year, month = months // 12, months % 12 + 1
    day = start.day
    if day > 28:
        day = min(day, monthrange(year, month)[1])
    return date(year, month, day)


def steps_after(anchor: date, *, period: Period, after: date) -> int:
    """Return the number k of the first grid date after a date; never below 0.

    Parameters
    ----------
    anchor : date
        The grid's date with k = 0.
    period : Period
        Distance of the grid's dates.
    after : date
        The grid date found is later than this one. Before the anchor the answer is 0.

    Returns
    -------
    int
        Found without walking along the grid.
    """
    if after < anchor:
        return 0
    if period.unit is Unit.DAY or period.unit is Unit.WEEK:
        length = period.n * (7 if period.unit is Unit.WEEK else 1)
        return (after - anchor).days // length + 1
    length = period.n * (12 if period.unit is Unit.YEAR else 1)
    months = (after.year - anchor.year) * 12 + after.month - anchor.month
    k = months // length
    while date_after(anchor, period=period, times=k) <= after:
        k += 1
    return k


def early_window_days(length_days: int) -> int:
    """How many days before a fixed date work serves it, a fifth of the period, rounded down [d]."""
    return length_days // EARLY_PART


@dataclass(frozen=True, kw_only=True, slots=True)
class Turn:
    """Where a rule stands on its calendar.

    `served_on` is the grid date that the last work served (None without fixed dates, or when it
    came before the first), `starts_on` the date from which the running period counts, `due_on` the
    date on which it ends, `length_days` the distance of the two.
    """

    served_on: date | None
    starts_on: date
    due_on: date
    length_days: int


def turn_after(done_on: date, *, period: Period) -> Turn:
    """Return the turn that counts from the date of the last work.

    Parameters
    ----------
    done_on : date
        Local date of the last work.
    period : Period
        Calendar period.

    Returns
    -------
    Turn
        Due one period later, clamped to the month's end.
    """
    due_on = date_after(done_on, period=period)
    return Turn(
        served_on=None, starts_on=done_on, due_on=due_on, length_days=(due_on - done_on).days
    )


def turn_on_grid(
    done_on: date,
    *,
    anchor: date,
    period: Period,
    window_days: int | None = None,
    is_work: bool = True,
) -> Turn:
    """Return the turn of a rule with fixed dates after work was done on a date.

    Parameters
    ----------
    done_on : date
        Local date of the last work, or the date on which counting began.
    anchor : date
        First fixed date.
    period : Period
        Distance of the fixed dates.
    window_days : int, optional
        Work so many days or fewer before a fixed date serves that date. A fifth of the period that
        ends there unless given.
    is_work : bool
        False where `done_on` is only the date on which counting began: it serves no date.

    Returns
    -------
    Turn
        However late the work was, the next date is the first fixed one after it, or the one after
        that when the first was served early. Missed dates are not made up for.

    Examples
    --------
    >>> monthly = Period(n=1, unit=Unit.MONTH)
    >>> turn_on_grid(
    ...     date(2027, 3, 10), anchor=date(2027, 1, 15), period=monthly, window_days=7
    ... ).due_on
    datetime.date(2027, 4, 15)
    """
    k = steps_after(anchor, period=period, after=done_on)
    due_on = date_after(anchor, period=period, times=k)
    before = date_after(anchor, period=period, times=k - 1)
    served_on = before if k > 0 else None
    if is_work:
        window = early_window_days((due_on - before).days) if window_days is None else window_days
        if (due_on - done_on).days <= window:
            served_on, before = due_on, due_on
            due_on = date_after(anchor, period=period, times=k + 1)
    else:
        served_on = None
    return Turn(
        served_on=served_on,
        starts_on=before,
        due_on=due_on,
        length_days=(due_on - before).days,
    )


def dates_missed(anchor: date, *, period: Period, after: date, until: date) -> tuple[date, ...]:
    """Return the fixed dates between two dates, that no work served.

    Parameters
    ----------
    anchor : date
        First fixed date.
    period : Period
        Distance of the fixed dates.
    after : date
        The dates found are later; usually the last date that was served.
    until : date
        The dates found are earlier; usually the date that the next work serves.

    Returns
    -------
    tuple of date
        They belong to the share of work done on time, and are not open work.
    """
    missed = []
    k = steps_after(anchor, period=period, after=after)
    while (on := date_after(anchor, period=period, times=k)) < until:
        missed.append(on)
        k += 1
    return tuple(missed)


@dataclass(frozen=True, kw_only=True, slots=True)
class Week:
    """A numbered week: the year it belongs to, its number, its first date, the rule's name."""

    year: int
    number: int
    starts_on: date
    rule: str

    @property
    def label(self) -> str:
        """The week as written, e.g. 2027-W01; other rules than ISO 8601 name themselves."""
        if self.rule == ISO_WEEKS:
            return f"{self.year:04d}-W{self.number:02d}"
        return f"{self.year:04d} week {self.number:02d} ({self.rule})"


ISO_WEEKS = "ISO 8601"
SUNDAY_WEEKS = "Sunday weeks"


def week_of(on: date, *, week_starts_on: int = 0) -> Week:
    """Return the numbered week of a local date.

    Parameters
    ----------
    on : date
        Local date.
    week_starts_on : int
        0 for Monday: weeks after ISO 8601. 6 for Sunday: our rule "Sunday weeks".

    Returns
    -------
    Week
        With the year that the week belongs to, which near the new year is not the date's.

    Notes
    -----
    Both rules give a week to the year that has at least four of its days. So no week is split and
    none is left out, and one step back from week 1 is the last week of the year before.

    Examples
    --------
    >>> week_of(date(2024, 12, 30)).label
    '2025-W01'
    """
    starts_on = on - timedelta(days=(on.weekday() - week_starts_on) % 7)
    fourth = starts_on + timedelta(days=3)
    return Week(
        year=fourth.year,
        number=(fourth.timetuple().tm_yday - 1) // 7 + 1,
        starts_on=starts_on,
        rule=ISO_WEEKS if week_starts_on == 0 else SUNDAY_WEEKS,
    )
