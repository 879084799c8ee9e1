from datetime import date
from decimal import Decimal

import pytest

from moldcare.core.due import (
    CalendarCounts,
    CalendarLimit,
    CountLimit,
    EventKind,
    EventLimit,
    Factor,
    MeasuredLimit,
    RuleTerms,
    RunningLimit,
    check_terms,
    factors_together,
    interval_count,
    interval_h,
)
from moldcare.core.errors import TermsContradict
from moldcare.core.recurrence import Period, Unit

MONTHLY = Period(n=1, unit=Unit.MONTH)


def factor(value):
    return Factor(value=Decimal(value))


@pytest.mark.parametrize(
    ("terms", "sentence"),
    [
        (RuleTerms(), "A care rule needs at least one limit."),
        (
            RuleTerms(count=CountLimit(n=0)),
            "The interval by count must be more than 0, not 0.",
        ),
        (
            RuleTerms(count=CountLimit(n=1_000, lead=1_000)),
            "The lead of 1,000 by count is not shorter than the interval of 1,000; "
            "the rule would always be due soon.",
        ),
        (
            RuleTerms(count=CountLimit(n=1_000, lead=700), factors=(factor("0.6"),)),
            "The lead of 700 by count is not shorter than the interval of 600; "
            "the rule would always be due soon.",
        ),
        (RuleTerms(count=CountLimit(n=1_000, lead=-1)), "The lead by count cannot be -1."),
        (RuleTerms(count=CountLimit(n=1_000, margin=-1)), "The margin by count cannot be -1."),
        (
            RuleTerms(count=CountLimit(n=20_000, hard_limit=19_999)),
            "The hard limit of 19,999 by count lies below the due point at 20,000.",
        ),
        (
            RuleTerms(running=RunningLimit(hours=float("nan"))),
            "The interval by running hours must be more than 0, not nan.",
        ),
        (
            RuleTerms(running=RunningLimit(hours=500, margin_h=float("nan"))),
            "The margin by running hours cannot be nan.",
        ),
        (
            RuleTerms(count=CountLimit(n=10), factors=(factor("0"),)),
            "A factor of 0 is not between 0 and 10.",
        ),
        (
            RuleTerms(count=CountLimit(n=10), factors=(factor("NaN"),)),
            "A factor of NaN is not between 0 and 10.",
        ),
        (
            RuleTerms(calendar=CalendarLimit(period=Period(n=0, unit=Unit.DAY))),
            "A period of 0 days is not between 1 day and 100 years.",
        ),
        (
            RuleTerms(calendar=CalendarLimit(period=Period(n=101, unit=Unit.YEAR))),
            "A period of 101 years is not between 1 year and 100 years.",
        ),
        (
            RuleTerms(calendar=CalendarLimit(period=MONTHLY, lead_days=28)),
            "The lead of 28 by days is not shorter than the interval of 28; "
            "the rule would always be due soon.",
        ),
        (
            RuleTerms(calendar=CalendarLimit(period=MONTHLY, margin_days=40_000)),
            "40,000 by days is more than the 36,600 that we take.",
        ),
        (
            RuleTerms(running=RunningLimit(hours=500.0, hard_limit_h=1e9)),
            "1,000,000,000.0 by running hours is more than the 878,400 that we take.",
        ),
        (
            RuleTerms(events=(EventLimit(kind=EventKind.SET, margin_shifts=1_001),)),
            "A margin of 1001 shifts is not possible.",
        ),
        (
            RuleTerms(
                calendar=CalendarLimit(period=MONTHLY, anchor_on=date(2026, 1, 1), window_days=28)
            ),
            "An early window of 28 days is not shorter than the period.",
        ),
        (
            RuleTerms(calendar=CalendarLimit(period=MONTHLY, window_days=5)),
            "An early window needs fixed dates to be early for.",
        ),
        (
            RuleTerms(
                calendar=CalendarLimit(
                    period=MONTHLY,
                    anchor_on=date(2026, 1, 1),
                    counts=CalendarCounts.ONLY_WHILE_STORED,
                )
            ),
            "Fixed dates cannot count storage alone; count the calendar from the last work.",
        ),
        (
            RuleTerms(events=(EventLimit(kind=EventKind.SET, after_days=3),)),
            "Only coming back from storage can ask for a number of days.",
        ),
        (
            RuleTerms(events=(EventLimit(kind=EventKind.BACK_FROM_STORAGE, after_days=-3),)),
            "A stay of -3 days is not possible.",
        ),
        (
            RuleTerms(events=(EventLimit(kind=EventKind.SET, margin_shifts=-1),)),
            "A margin of -1 shifts is not possible.",
        ),
        (
            RuleTerms(events=(EventLimit(kind=EventKind.SET, hard_limit_shifts=-1),)),
            "A hard limit of -1 shifts is not possible.",
        ),
        (
            RuleTerms(measured=(MeasuredLimit(quantity="vent depth", baseline=0.02, limit=0.02),)),
            "The limit of vent depth must be a number other than its baseline.",
        ),
        (
            RuleTerms(
                measured=(
                    MeasuredLimit(quantity="vent depth", baseline=0.03, limit=0.02, lead_part=1.0),
                )
            ),
            "Lead and margin of vent depth are parts of its change, such as 0.1.",
        ),
        (
            RuleTerms(
                measured=(
                    MeasuredLimit(
                        quantity="vent depth", baseline=0.03, limit=0.02, hard_limit=0.025
                    ),
                )
            ),
            "The hard limit of vent depth lies before its limit.",
        ),
    ],
)
def test_terms_that_contradict_each_other_are_refused(terms, sentence):
    with pytest.raises(TermsContradict) as refused:
        check_terms(terms)
    assert str(refused.value) == sentence


def test_terms_that_go_together_are_taken():
    check_terms(
        RuleTerms(
            count=CountLimit(n=20_000, lead=2_000, margin=0, hard_limit=20_000),
            calendar=CalendarLimit(
                period=MONTHLY,
                anchor_on=date(2026, 1, 31),
                window_days=7,
                lead_days=3,
                counts=CalendarCounts.WAITS_WHILE_STORED,
            ),
            running=RunningLimit(hours=500.0),
            events=(EventLimit(kind=EventKind.BACK_FROM_STORAGE, after_days=30),),
            measured=(
                MeasuredLimit(quantity="vent depth", baseline=0.03, limit=0.02, hard_limit=0.01),
            ),
            factors=(factor("0.6"),),
        )
    )


@pytest.mark.parametrize(
    ("n", "factors", "interval"),
    [
        (20_000, [], 20_000),
        (20_000, ["0.8"], 16_000),
        (20_000, ["0.6", "0.6"], 7_200),
        (20_000, ["0.5", "0.5"], 6_000),
        (9_999, ["0.8"], 7_999),
        (1, ["0.3"], 1),
        # 100,000 x 0.7 is 70,000 exactly, which binary fractions miss.
        (100_000, ["0.7"], 70_000),
    ],
)
def test_intervals_after_factors(n, factors, interval):
    given = [factor(value) for value in factors]
    assert interval_count(CountLimit(n=n), factors=given) == interval


def test_running_hours_are_scaled_too():
    assert interval_h(RunningLimit(hours=500), factors=[factor("0.6")]) == pytest.approx(300)
    assert factors_together([]) == 1
