"""What the terms of a rule come to: intervals after factors, lead, margin, and their checks."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_FLOOR, Decimal
from math import isfinite

from moldcare.core.due.values import (
    CalendarCounts,
    CalendarLimit,
    CountLimit,
    EventKind,
    EventLimit,
    Factor,
    MeasuredLimit,
    RuleTerms,
    RunningLimit,
)
from moldcare.core.errors import TermsContradict
from moldcare.core.recurrence import Unit

#: Factors together never bring an interval below this part of its base. Ours.
LEAST_PART = Decimal("0.3")

#: Lead and margin where a rule gives none: one part in ten of the interval. Ours.
TENTH = 10

#: Longest calendar period that a rule may have [years]. Ours.
LONGEST_YEARS = 100

#: So many days, or hours, are the most that any limit may name; later dates have no meaning here.
MOST_DAYS = 366 * LONGEST_YEARS
MOST_HOURS = 24 * MOST_DAYS

#: The most shifts that a margin or hard limit at an event may have. Ours.
MOST_SHIFTS = 1000

_UNIT_DAYS = {Unit.DAY: 1, Unit.WEEK: 7, Unit.MONTH: 28, Unit.YEAR: 365}
_UNITS_IN_A_YEAR = {Unit.DAY: 365, Unit.WEEK: 52, Unit.MONTH: 12, Unit.YEAR: 1}


def factors_together(factors: Sequence[Factor]) -> Decimal:
    """Return the product of the factors, never below `LEAST_PART`; 1 without any.

    Examples
    --------
    >>> factors_together([Factor(value=Decimal("0.5")), Factor(value=Decimal("0.5"))])
    Decimal('0.3')
    """
    product = Decimal(1)
    for factor in factors:
        product *= factor.value
    return max(product, LEAST_PART)


def interval_count(limit: CountLimit, *, factors: Sequence[Factor] = ()) -> int:
    """Return the interval after factors, in whole counts.

    Parameters
    ----------
    limit : CountLimit
        With the interval as written.
    factors : sequence of Factor
        Multiplied with each other, together never below 0.3.

    Returns
    -------
    int
        Rounded down, at least 1.
    """
    if not factors:
        return limit.n
    scaled = (limit.n * factors_together(factors)).to_integral_value(rounding=ROUND_FLOOR)
    return max(1, int(scaled))


def interval_h(limit: RunningLimit, *, factors: Sequence[Factor] = ()) -> float:
    """Return the interval of running hours after factors [h].

    Parameters
    ----------
    limit : RunningLimit
        With the interval as written.
    factors : sequence of Factor
        Multiplied with each other, together never below 0.3.

    Returns
    -------
    float
        Not rounded.
    """
    return limit.hours * float(factors_together(factors)) if factors else limit.hours


def margin_days_of(limit: CalendarLimit, *, length_days: int) -> int:
    """Return the margin [days] of a period: a tenth of its length rounded up unless given."""
    return -(-length_days // TENTH) if limit.margin_days is None else limit.margin_days


def lead_days_of(limit: CalendarLimit, *, length_days: int) -> int:
    """Return the lead [days] of a period: a tenth of its length rounded down unless given."""
    return length_days // TENTH if limit.lead_days is None else limit.lead_days


def check_terms(terms: RuleTerms) -> None:
    """Refuse terms of a rule that contradict each other or can never be reached.

    Parameters
    ----------
    terms : RuleTerms
        As somebody entered them.

    Raises
    ------
    TermsContradict
        There is no limit; an interval, lead, margin, window or factor is out of its range; a lead
        is as long as its interval or longer; a hard limit lies below the due point.

    Notes
    -----
    Computing is more patient than entry: with a lead longer than the interval a rule is due soon at
    once, and a hard limit below the due point lies at it.
    """
    if not (terms.count or terms.calendar or terms.running or terms.events or terms.measured):
        raise TermsContradict("A care rule needs at least one limit.")
    for factor in terms.factors:
        if not (factor.value.is_finite() and 0 < factor.value <= 10):
            raise TermsContradict(f"A factor of {factor.value} is not between 0 and 10.")
    if terms.count is not None:
        _check_range(
            "count",
            interval=interval_count(terms.count, factors=terms.factors),
            written=terms.count.n,
            lead=terms.count.lead,
            margin=terms.count.margin,
            hard_limit=terms.count.hard_limit,
        )
    if terms.running is not None:
        _check_range(
            "running hours",
            interval=interval_h(terms.running, factors=terms.factors),
            written=terms.running.hours,
            lead=terms.running.lead_h,
            margin=terms.running.margin_h,
            hard_limit=terms.running.hard_limit_h,
            most=MOST_HOURS,
        )
    if terms.calendar is not None:
        _check_calendar(terms.calendar)
    for event in terms.events:
        _check_event(event)
    for measured in terms.measured:
        _check_measured(measured)


def _check_range(
    name: str,
    *,
    interval: float,
    written: float,
    lead: float | None,
    margin: float | None,
    hard_limit: float | None,
    most: float = 10**12,
) -> None:
    """Refuse one limit whose numbers do not go together; an inverted test lets no NaN through."""
    if not (isfinite(written) and written > 0):
        raise TermsContradict(f"The interval by {name} must be more than 0, not {written:,}.")
    for number in (written, margin, hard_limit):
        if number is not None and number > most:
            raise TermsContradict(f"{number:,} by {name} is more than the {most:,} that we take.")
    if lead is not None and not lead >= 0:
        raise TermsContradict(f"The lead by {name} cannot be {lead:,}.")
    if margin is not None and not margin >= 0:
        raise TermsContradict(f"The margin by {name} cannot be {margin:,}.")
    if lead is not None and not lead < interval:
        raise TermsContradict(
            f"The lead of {lead:,} by {name} is not shorter than the interval of {interval:,}; "
            "the rule would always be due soon."
        )
    if hard_limit is not None and not hard_limit >= interval:
        raise TermsContradict(
            f"The hard limit of {hard_limit:,} by {name} lies below the due point at {interval:,}."
        )


def _check_calendar(limit: CalendarLimit) -> None:
    period = limit.period
    if not 1 <= period.n <= LONGEST_YEARS * _UNITS_IN_A_YEAR[period.unit]:
        raise TermsContradict(
            f"A period of {period.n:,} {period.unit}s is not between 1 {period.unit} "
            f"and {LONGEST_YEARS} years."
        )
    # The shortest length that the period can have, so that no month breaks the rule later.
    shortest = period.n * _UNIT_DAYS[period.unit]
    _check_range(
        "days",
        interval=shortest,
        written=shortest,
        lead=limit.lead_days,
        margin=limit.margin_days,
        hard_limit=limit.hard_limit_days,
        most=MOST_DAYS,
    )
    if limit.window_days is not None and not 0 <= limit.window_days < shortest:
        raise TermsContradict(
            f"An early window of {limit.window_days:,} days is not shorter than the period."
        )
    if limit.window_days is not None and limit.anchor_on is None:
        raise TermsContradict("An early window needs fixed dates to be early for.")
    if limit.anchor_on is not None and limit.counts is CalendarCounts.ONLY_WHILE_STORED:
        raise TermsContradict(
            "Fixed dates cannot count storage alone; count the calendar from the last work."
        )


def _check_event(limit: EventLimit) -> None:
    if limit.after_days < 0:
        raise TermsContradict(f"A stay of {limit.after_days} days is not possible.")
    if limit.after_days and limit.kind is not EventKind.BACK_FROM_STORAGE:
        raise TermsContradict("Only coming back from storage can ask for a number of days.")
    if not 0 <= limit.margin_shifts <= MOST_SHIFTS:
        raise TermsContradict(f"A margin of {limit.margin_shifts} shifts is not possible.")
    if limit.hard_limit_shifts is not None and not 0 <= limit.hard_limit_shifts <= MOST_SHIFTS:
        raise TermsContradict(f"A hard limit of {limit.hard_limit_shifts} shifts is not possible.")


def _check_measured(limit: MeasuredLimit) -> None:
    change = limit.limit - limit.baseline
    if not isfinite(change) or change == 0:
        raise TermsContradict(
            f"The limit of {limit.quantity} must be a number other than its baseline."
        )
    if not (0 <= limit.lead_part < 1 and limit.margin_part >= 0):
        raise TermsContradict(
            f"Lead and margin of {limit.quantity} are parts of its change, such as 0.1."
        )
    if limit.hard_limit is not None and not (limit.hard_limit - limit.limit) / change >= 0:
        raise TermsContradict(f"The hard limit of {limit.quantity} lies before its limit.")
