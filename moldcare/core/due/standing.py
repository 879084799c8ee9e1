"""Where a rule stands: the first of its limits to say so, a deferral in its place, the forecast."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from moldcare.core.due.calendar import calendar_marks
from moldcare.core.due.limits import (
    count_marks,
    event_marks,
    forecast_at,
    measured_marks,
    running_marks,
)
from moldcare.core.due.marks import Base, Marks, base_of, course_of, later
from moldcare.core.due.values import (
    DeferralTerms,
    LimitKind,
    Note,
    Reached,
    RuleHistory,
    RuleTerms,
    Standing,
    State,
    Usage,
)
from moldcare.core.errors import TermsContradict
from moldcare.core.shifts import ShiftCalendar


def standing(
    terms: RuleTerms,
    *,
    history: RuleHistory,
    usage: Usage,
    calendar: ShiftCalendar,
    deferral: DeferralTerms | None = None,
) -> Standing:
    """Where a rule stands, as of the newest fact about its target.

    Parameters
    ----------
    terms : RuleTerms
        The rule's limits, of which the first to say so counts.
    history : RuleHistory
        Its last work, or where counting begins without any.
    usage : Usage
        What the facts say of its target.
    calendar : ShiftCalendar
        The plant's shifts and zone. One calendar for many calls is quicker.
    deferral : DeferralTerms, optional
        The newest deferral of the rule. Work after it ends it.

    Returns
    -------
    Standing
        To be read at any instant with `state_at`.

    Raises
    ------
    TermsContradict
        The rule has no limit at all.

    Notes
    -----
    Due soon, due, overdue and past limit each begin at the earliest instant at which any limit says
    so: by accepted counts, or on dates. A limit of which the past-limit point lies inside its
    margin has no overdue point.

    A margin of m is used up at m past the due point: due at 20,000 with a margin of 2,000 is
    overdue at 22,000, and due on the 1st with a margin of 3 days is overdue from 00:00 on the 4th,
    the margin's days being the 1st, 2nd and 3rd.

    While a deferral is in force its new limit takes the place of all of these but due soon: the
    rule is deferred until then, and past its limit from then on.

    The count makes no rule unsure that has no limit by count.
    """
    count_limit = terms.count
    course = None if count_limit is None else course_of(count_limit.basis, usage=usage)
    base = base_of(history, course=course, calendar=calendar)
    # the last work is a fact too, and often the newest one
    newest_at = later(usage.newest_fact_at, base.at)
    newest_on = calendar.date_of(newest_at)
    marks = _marks_of(terms, base=base, usage=usage, newest_on=newest_on, calendar=calendar)
    if not marks:
        raise TermsContradict("A care rule needs at least one limit.")
    if len(marks) == 1:
        leading = marks[0]
        soon_at, due_at = leading.soon_at, leading.due_at
        overdue_at, past_at = leading.overdue_at, leading.past_at
    else:
        leading = max(marks, key=_lead_order)
        soon_at = _earliest(mark.soon_at for mark in marks)
        due_at = _earliest(mark.due_at for mark in marks)
        overdue_at = _earliest(mark.overdue_at for mark in marks)
        past_at = _earliest(mark.past_at for mark in marks)
    forecast_soon_at, forecast_due_at = soon_at, due_at
    if marks[0].forecast_due_at is not None:
        forecast_soon_at = _earliest((soon_at, marks[0].forecast_soon_at))
        forecast_due_at = _earliest((due_at, marks[0].forecast_due_at))

    undeferred = deferred_until_at = None
    in_force = deferral if _is_in_force(deferral, history=history, calendar=calendar) else None
    if in_force is not None:
        undeferred = Reached(due_at=due_at, overdue_at=overdue_at, past_limit_at=past_at)
        due_at = overdue_at = None
        past_at, forecast_due_at, deferred_until_at = _deferred(
            in_force, usage=usage, calendar=calendar
        )
    by_count = marks[0] if count_limit is not None else None
    counts = by_count.counts if by_count is not None else None
    soon_count, due_count, overdue_count, past_count = counts or (None, None, None, None)
    by_calendar = next((mark for mark in marks if mark.kind is LimitKind.CALENDAR), None)
    unsure = usage.unsure if count_limit is not None else None
    notes = base.notes
    if count_limit is not None and course is None:
        notes = (*notes, Note.NO_COUNTS)
    interval = leading.interval
    return Standing(
        due_soon_at=soon_at,
        due_at=due_at,
        overdue_at=overdue_at,
        past_limit_at=past_at,
        due_soon_count=soon_count,
        due_count=due_count,
        overdue_count=overdue_count,
        past_limit_count=past_count,
        forecast_soon_at=forecast_soon_at,
        forecast_due_at=forecast_due_at,
        due_on=None if by_calendar is None else by_calendar.due_on,
        served_on=None if by_calendar is None else by_calendar.served_on,
        since_on=base.on,
        since_count=_since_count(base, newest=None if course is None else course.newest_count),
        since_days=max(0, (newest_on - base.on).days),
        limiting=leading.kind,
        limiting_name=leading.name,
        interval=interval,
        since=leading.since,
        remaining=interval - leading.since,
        share=leading.share,
        basis=None if count_limit is None else count_limit.basis,
        is_waiting=by_calendar is not None and by_calendar.is_waiting,
        deferred_from_at=None if in_force is None else in_force.made_at,
        deferred_until_at=deferred_until_at,
        deferred_until_count=None if in_force is None else in_force.until_count,
        undeferred=undeferred,
        unsure_at=None if unsure is None else unsure.at,
        unsure_why=None if unsure is None else unsure.why,
        no_record_yet=not base.is_done,
        notes=notes,
        computed_at=newest_at,
    )


def _marks_of(
    terms: RuleTerms, *, base: Base, usage: Usage, newest_on: date, calendar: ShiftCalendar
) -> list[Marks]:
    """Return what each limit of a rule says, the one by count first."""
    marks: list[Marks] = []
    shift_h = calendar.usual_shift_h(newest_on)
    if terms.count is not None:
        marks.append(
            count_marks(terms.count, factors=terms.factors, base=base, usage=usage, shift_h=shift_h)
        )
    if terms.calendar is not None:
        marks.append(
            calendar_marks(
                terms.calendar, base=base, usage=usage, newest_on=newest_on, calendar=calendar
            )
        )
    if terms.running is not None:
        marks.append(
            running_marks(
                terms.running, factors=terms.factors, base=base, usage=usage, shift_h=shift_h
            )
        )
    for event in terms.events:
        marks.append(event_marks(event, base=base, usage=usage, calendar=calendar))
    for measured in terms.measured:
        marks.append(measured_marks(measured, base=base, usage=usage))
    return marks


def _lead_order(mark: Marks) -> float:
    """Order of limits by how much of each is used."""
    return mark.share


def _earliest(instants: Iterable[datetime | None]) -> datetime | None:
    found: datetime | None = None
    for instant in instants:
        if instant is not None and (found is None or instant < found):
            found = instant
    return found


def _since_count(base: Base, *, newest: int | None) -> int | None:
    if newest is None or base.count is None:
        return None
    return max(0, newest - base.count)


def _is_in_force(
    deferral: DeferralTerms | None, *, history: RuleHistory, calendar: ShiftCalendar
) -> bool:
    """Whether no work was done since the deferral was made."""
    if deferral is None:
        return False
    if history.done_at is not None:
        return history.done_at < deferral.made_at
    if history.done_on is not None:
        return history.done_on <= calendar.date_of(deferral.made_at)
    return True


def _deferred(
    deferral: DeferralTerms, *, usage: Usage, calendar: ShiftCalendar
) -> tuple[datetime | None, datetime | None, datetime | None]:
    """When the new limit was reached, when it will be by forecast, and when by its date alone."""
    until_at = None
    if deferral.until_on is not None:
        until_at = max(calendar.midnight(deferral.until_on), deferral.made_at)
    past_at = forecast_past_at = until_at
    course = course_of(deferral.basis, usage=usage)
    if deferral.until_count is not None and course is not None:
        count = deferral.until_count
        if count <= course.newest_count:
            passed = course.passed_at(count)
            reached = deferral.made_at if passed is None else max(passed, deferral.made_at)
            past_at = _earliest((past_at, reached))
            forecast_past_at = past_at
        else:
            rate = usage.rate_per_h if usage.is_in_press else None
            forecast = forecast_at(count, course=course, base_at=deferral.made_at, rate_per_h=rate)
            forecast_past_at = _earliest((past_at, forecast))
    return past_at, forecast_past_at, until_at


def state_at(standing: Standing, *, at: datetime) -> State:
    """Return what a standing says at an instant.

    Parameters
    ----------
    standing : Standing
        As computed from the facts.
    at : datetime
        At or after the newest fact it was computed from.

    Returns
    -------
    State
        The first that holds of: past limit, overdue, due, deferred, unsure, due soon, waiting, not
        due. Where only the forecast has passed a point, the rule is due soon.
    """
    if standing.past_limit_at is not None and standing.past_limit_at <= at:
        return State.PAST_LIMIT
    if standing.overdue_at is not None and standing.overdue_at <= at:
        return State.OVERDUE
    if standing.due_at is not None and standing.due_at <= at:
        return State.DUE
    if standing.deferred_from_at is not None and standing.deferred_from_at <= at:
        return State.DEFERRED
    if standing.unsure_at is not None and standing.unsure_at <= at:
        return State.UNSURE
    if standing.forecast_soon_at is not None and standing.forecast_soon_at <= at:
        return State.DUE_SOON
    return State.WAITING if standing.is_waiting else State.NOT_DUE


def is_by_forecast(standing: Standing, *, at: datetime) -> bool:
    """Tell whether only the forecast makes a rule due soon, or would make it due.

    Parameters
    ----------
    standing : Standing
        As computed from the facts.
    at : datetime
        The instant for which its state is shown.

    Returns
    -------
    bool
        False in every state but due soon.
    """
    if state_at(standing, at=at) is not State.DUE_SOON:
        return False
    is_due = standing.forecast_due_at is not None and standing.forecast_due_at <= at
    return is_due or standing.due_soon_at is None or standing.due_soon_at > at


def days_overdue(standing: Standing, *, at: datetime, calendar: ShiftCalendar) -> int | None:
    """Return how many days a rule has been due, by local dates [days].

    Parameters
    ----------
    standing : Standing
        As computed from the facts.
    at : datetime
        The instant at which it is asked.
    calendar : ShiftCalendar
        For local dates.

    Returns
    -------
    int or None
        None while the rule is not due.
    """
    if standing.due_at is None or standing.due_at > at:
        return None
    return (calendar.date_of(at) - calendar.date_of(standing.due_at)).days


def share_at(standing: Standing, *, at: datetime, calendar: ShiftCalendar) -> float:
    """Return the share used at an instant, where days have gone on since the newest fact.

    Parameters
    ----------
    standing : Standing
        As computed from the facts.
    at : datetime
        The instant for which the share is shown.
    calendar : ShiftCalendar
        For local dates.

    Returns
    -------
    float
        Of the limit that led at the newest fact, or of the calendar where it has overtaken that
        limit since; at least 0.

    Notes
    -----
    Counts, hours and measurements stay as the facts have them. A calendar that waits stays too.
    """
    days = overtaking_days(standing, at=at, calendar=calendar)
    if days is not None:
        return days[0] / days[1]
    if not standing.interval:
        return standing.share
    return standing.share + _days_gone_on(standing, at=at, calendar=calendar) / standing.interval


def overtaking_days(
    standing: Standing, *, at: datetime, calendar: ShiftCalendar
) -> tuple[int, int] | None:
    """Return the days used and the days of the period, where the calendar has taken the lead.

    Parameters
    ----------
    standing : Standing
        As computed from the facts, when another limit led.
    at : datetime
        The instant for which the lead is asked.
    calendar : ShiftCalendar
        For local dates.

    Returns
    -------
    tuple of int and int or None
        None while the limit that led at the newest fact still leads, or the calendar waits.
    """
    if standing.limiting in (None, LimitKind.CALENDAR) or standing.is_waiting:
        return None
    if standing.due_on is None or standing.since_on is None:
        return None
    of = (standing.due_on - standing.since_on).days
    used = (calendar.date_of(at) - standing.since_on).days
    return (used, of) if of > 0 and used > standing.share * of else None


def since_at(standing: Standing, *, at: datetime, calendar: ShiftCalendar) -> float | None:
    """Return how much is used at an instant, where days have gone on since the newest fact.

    Parameters
    ----------
    standing : Standing
        As computed from the facts.
    at : datetime
        The instant for which it is shown.
    calendar : ShiftCalendar
        For local dates.

    Returns
    -------
    float or None
        In the unit of the limit that led at the newest fact; None without one.

    Notes
    -----
    Counts, hours and measurements stay as the facts have them. A calendar that waits stays too.
    """
    if standing.since is None:
        return None
    return standing.since + _days_gone_on(standing, at=at, calendar=calendar)


def _days_gone_on(standing: Standing, *, at: datetime, calendar: ShiftCalendar) -> int:
    """Return the days since the newest fact where they count, else 0 [d]."""
    if standing.limiting is not LimitKind.CALENDAR or standing.due_on is None:
        return 0
    if standing.is_waiting:
        return 0
    return max(0, (calendar.date_of(at) - calendar.date_of(standing.computed_at)).days)
