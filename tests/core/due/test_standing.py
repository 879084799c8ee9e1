"""Rules as the trade writes them. Intervals are starting values of common practice, no source."""

from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from moldcare.core.due import (
    Basis,
    CalendarCounts,
    CalendarLimit,
    CountLimit,
    DeferralTerms,
    EventKind,
    EventLimit,
    Factor,
    KnotCourse,
    LimitKind,
    MeasuredLimit,
    Measurement,
    Note,
    RuleHistory,
    RuleTerms,
    RunningLimit,
    RunningSpans,
    Span,
    State,
    UnsureFrom,
    UnsureWhy,
    Usage,
    days_overdue,
    is_by_forecast,
    microseconds,
    reason,
    say,
    share_at,
    standing,
    state_at,
)
from moldcare.core.errors import TermsContradict
from moldcare.core.recurrence import Period, Unit
from moldcare.core.shifts import ShiftCalendar, ShiftPattern, ShiftSlot

BERLIN = ZoneInfo("Europe/Berlin")
THREE_SHIFTS = ShiftPattern(
    valid_from=date(2020, 1, 1),
    slots=tuple(
        ShiftSlot(weekday=weekday, name=name, starts=time(starts), ends=time(ends))
        for weekday in range(7)
        for name, starts, ends in (("Early", 6, 14), ("Late", 14, 22), ("Night", 22, 6))
    ),
)
PLANT = ShiftCalendar(zone=BERLIN, patterns=[THREE_SHIFTS])
WEEKLY = Period(n=1, unit=Unit.WEEK)
MONTHLY = Period(n=1, unit=Unit.MONTH)


def berlin(*parts):
    return datetime(*parts, tzinfo=BERLIN).astimezone(UTC)


NOW = berlin(2026, 11, 24, 9)
ENTERED = date(2026, 1, 1)


def course(*knots):
    return KnotCourse(
        at_us=[microseconds(at) for at, _ in knots], counts=[count for _, count in knots]
    )


def usage(count=0, **known):
    """A mold read at 0 when it was entered and at `count` now."""
    read = course((berlin(2026, 1, 1), 0), (NOW, count))
    return Usage(**{"newest_fact_at": NOW, "cycles": read, "shots": read} | known)


def done(at=None, **known):
    return RuleHistory(entered_on=ENTERED, done_at=at, **known)


def stands(terms, *, history=None, mold=None, deferral=None):
    return standing(
        terms,
        history=history or done(),
        usage=mold or usage(),
        calendar=PLANT,
        deferral=deferral,
    )


def every(n, **more):
    return RuleTerms(count=CountLimit(n=n, basis=Basis.SHOTS, **more))


def each(period, **more):
    return RuleTerms(calendar=CalendarLimit(period=period, **more))


@pytest.mark.parametrize(
    ("count", "state"),
    [
        (17_999, State.NOT_DUE),
        (18_000, State.DUE_SOON),
        (19_999, State.DUE_SOON),
        (20_000, State.DUE),
        (21_999, State.DUE),
        (22_000, State.OVERDUE),
        (24_999, State.OVERDUE),
        (25_000, State.PAST_LIMIT),
    ],
)
def test_a_rule_by_shots_goes_through_its_states(count, state):
    found = stands(every(20_000, hard_limit=25_000), mold=usage(count))
    assert state_at(found, at=NOW) is state
    assert (found.due_soon_count, found.due_count) == (18_000, 20_000)
    assert (found.overdue_count, found.past_limit_count) == (22_000, 25_000)


def test_a_hard_limit_inside_the_margin_skips_overdue():
    found = stands(every(20_000, hard_limit=21_000), mold=usage(21_500))
    assert found.overdue_at is None
    assert found.overdue_count is None
    assert state_at(found, at=NOW) is State.PAST_LIMIT


def test_a_hard_limit_below_the_due_point_lies_at_it():
    found = stands(every(20_000, hard_limit=15_000), mold=usage(19_000))
    assert found.past_limit_count == 20_000
    assert state_at(found, at=NOW) is State.DUE_SOON


def test_counts_are_passed_between_readings():
    read = course((berlin(2026, 11, 23, 6), 10_000), (berlin(2026, 11, 23, 16), 20_000))
    found = stands(every(18_000), mold=usage(shots=read))
    assert found.due_at == berlin(2026, 11, 23, 14)


def test_the_lead_by_count_is_at_least_one_shift_at_the_recent_rate():
    running = usage(5_000, rate_per_h=300, is_in_press=True)
    assert stands(every(20_000), mold=running).due_soon_count == 20_000 - 8 * 300
    assert stands(every(50_000), mold=running).due_soon_count == 45_000
    resting = usage(5_000, rate_per_h=300, is_in_press=False)
    assert stands(every(20_000), mold=resting).due_soon_count == 18_000


def test_a_lead_longer_than_the_interval_is_due_soon_at_once():
    at = NOW - timedelta(hours=1)
    found = stands(every(1_000, lead=1_500), history=done(at, done_count=0), mold=usage(10))
    assert found.due_soon_at == at
    assert state_at(found, at=NOW) is State.DUE_SOON


def test_factors_shorten_the_interval_and_never_below_three_tenths():
    filled = Factor(value=Decimal("0.6"), reason="glass filled")
    flame = Factor(value=Decimal("0.5"), reason="flame retardant")
    one = RuleTerms(count=CountLimit(n=20_000), factors=(filled,))
    assert stands(one).due_count == 12_000
    both = RuleTerms(count=CountLimit(n=20_000), factors=(filled, flame, flame))
    assert stands(both).due_count == 6_000


def test_cycles_and_shots_are_two_sums():
    mold = usage(10_000, cycles=course((berlin(2026, 1, 1), 0), (NOW, 12_000)))
    assert stands(RuleTerms(count=CountLimit(n=11_000)), mold=mold).due_at is not None
    assert stands(every(11_000), mold=mold).due_at is None


def test_the_forecast_alone_makes_a_rule_due_soon():
    read_at = NOW - timedelta(hours=40)
    read = course((berlin(2026, 1, 1), 0), (read_at, 16_000))
    found = stands(every(20_000), mold=usage(shots=read, rate_per_h=100, is_in_press=True))
    assert found.due_at is None
    assert found.forecast_soon_at == read_at + timedelta(hours=20)
    assert found.forecast_due_at == read_at + timedelta(hours=40)
    assert state_at(found, at=read_at + timedelta(hours=19)) is State.NOT_DUE
    assert state_at(found, at=NOW + timedelta(days=9)) is State.DUE_SOON
    assert is_by_forecast(found, at=NOW)


def test_nothing_is_forecast_while_the_mold_is_out_of_a_press():
    found = stands(every(20_000), mold=usage(16_000, rate_per_h=100))
    assert (found.forecast_soon_at, found.forecast_due_at) == (None, None)


def test_whole_days_over_a_clock_change():
    for saturday in (date(2026, 10, 24), date(2027, 3, 27)):
        following = saturday + timedelta(days=7)
        at = berlin(saturday.year, saturday.month, saturday.day, 12)
        found = stands(each(WEEKLY), history=done(at))
        assert found.due_on == following
        assert found.due_at == PLANT.midnight(following)
        monday = PLANT.midnight(following + timedelta(days=2)) + timedelta(minutes=30)
        assert days_overdue(found, at=monday, calendar=PLANT) == 2
        just_before = found.due_at - timedelta(seconds=1)
        assert state_at(found, at=just_before) is State.DUE_SOON
        assert state_at(found, at=found.due_at) is State.DUE
        # A tenth of seven days, rounded up, is a margin of one day.
        assert found.overdue_at == PLANT.midnight(following + timedelta(days=1))
        assert days_overdue(found, at=just_before, calendar=PLANT) is None


def test_a_daily_rule_is_due_soon_for_the_last_shift_and_overdue_a_day_later():
    found = stands(each(Period(n=1, unit=Unit.DAY)), history=done(berlin(2026, 11, 23, 10)))
    assert found.due_soon_at == berlin(2026, 11, 23, 14)
    assert found.due_at == berlin(2026, 11, 24)
    assert found.overdue_at == berlin(2026, 11, 25)


def test_the_lead_of_a_month_is_three_days_and_its_margin_four():
    found = stands(each(MONTHLY), history=done(berlin(2026, 10, 20, 10)))
    assert found.due_soon_at == berlin(2026, 11, 17)
    assert found.due_at == berlin(2026, 11, 20)
    assert found.overdue_at == berlin(2026, 11, 24)


def test_a_hard_limit_in_days_counts_from_the_start_of_the_period():
    limited = each(Period(n=30, unit=Unit.DAY), hard_limit_days=45)
    found = stands(limited, history=done(berlin(2026, 10, 1, 10)))
    assert found.past_limit_at == berlin(2026, 11, 15)


@pytest.mark.parametrize(
    ("done_at", "due_on", "served_on"),
    [
        (berlin(2027, 3, 10, 8), date(2027, 4, 15), date(2027, 3, 15)),
        (berlin(2027, 3, 5, 8), date(2027, 3, 15), date(2027, 2, 15)),
        (berlin(2027, 3, 15, 0, 10), date(2027, 4, 15), date(2027, 3, 15)),
    ],
)
def test_work_a_little_early_serves_the_date_ahead(done_at, due_on, served_on):
    fixed = each(MONTHLY, anchor_on=date(2027, 1, 15), window_days=7)
    found = stands(fixed, history=done(done_at), mold=usage(newest_fact_at=done_at))
    assert (found.due_on, found.served_on) == (due_on, served_on)
    assert found.share >= 0


def test_fixed_mondays_missed_three_times_come_once():
    mondays = each(WEEKLY, anchor_on=date(2026, 1, 5))
    before = stands(mondays, history=done(berlin(2026, 10, 26, 9)))
    assert before.due_on == date(2026, 11, 2)
    after = stands(mondays, history=done(berlin(2026, 11, 25, 9)))
    assert after.due_on == date(2026, 11, 30)
    assert after.due_at > berlin(2026, 11, 25, 9)


def test_the_first_limit_to_say_so_counts():
    both = RuleTerms(
        count=CountLimit(n=100_000, basis=Basis.SHOTS),
        calendar=CalendarLimit(period=Period(n=180, unit=Unit.DAY)),
    )
    by_date = stands(both, history=done(berlin(2026, 5, 1, 8)), mold=usage(60_000))
    assert state_at(by_date, at=NOW) is State.OVERDUE
    assert by_date.limiting is LimitKind.CALENDAR
    by_count = stands(both, history=done(berlin(2026, 10, 1, 8), done_count=0), mold=usage(100_500))
    assert state_at(by_count, at=NOW) is State.DUE
    assert by_count.limiting is LimitKind.COUNT
    assert by_count.share == pytest.approx(1.005)
    assert by_count.remaining == -500


def test_running_hours_are_real_over_both_clock_changes():
    for evening, hours in ((date(2026, 10, 24), 9), (date(2026, 3, 28), 7)):
        following = evening + timedelta(days=1)
        night = Span(
            from_at=berlin(evening.year, evening.month, evening.day, 22),
            to_at=berlin(following.year, following.month, following.day, 6),
        )
        water = RuleTerms(running=RunningLimit(hours=hours, lead_h=0))
        found = stands(water, mold=usage(running=RunningSpans([night])))
        assert found.due_at == night.to_at
        assert found.since == hours


def test_a_run_that_goes_on_brings_running_hours_due_at_a_known_instant():
    began = NOW - timedelta(hours=400)
    mold = usage(running=RunningSpans([Span(from_at=began)]))
    found = stands(RuleTerms(running=RunningLimit(hours=500)), mold=mold)
    assert found.due_at == began + timedelta(hours=500)
    assert found.due_soon_at == began + timedelta(hours=450)
    assert found.share == pytest.approx(0.8)


def test_the_end_of_a_run_asks_for_work_within_one_shift():
    pulled = berlin(2026, 11, 23, 10)
    mold = usage(events={EventKind.END_OF_RUN: [pulled]})
    found = stands(RuleTerms(events=(EventLimit(kind=EventKind.END_OF_RUN),)), mold=mold)
    assert found.due_at == pulled
    assert found.overdue_at == berlin(2026, 11, 23, 22)
    after = stands(
        RuleTerms(events=(EventLimit(kind=EventKind.END_OF_RUN),)),
        history=done(pulled + timedelta(hours=2)),
        mold=mold,
    )
    assert state_at(after, at=NOW) is State.NOT_DUE


def test_before_set_is_due_while_out_of_a_press_and_overdue_by_a_set_without_it():
    before_set = RuleTerms(events=(EventLimit(kind=EventKind.BEFORE_SET),))
    pulled, set_at = berlin(2026, 11, 20, 10), berlin(2026, 11, 23, 7)
    out = usage(events={EventKind.END_OF_RUN: [pulled]})
    history = done(berlin(2026, 11, 1, 8))
    assert stands(before_set, history=history, mold=out).due_at == pulled
    assert stands(before_set, history=history, mold=out).overdue_at is None
    events = {EventKind.END_OF_RUN: [pulled], EventKind.SET: [set_at]}
    in_press = usage(events=events, is_in_press=True)
    assert stands(before_set, history=history, mold=in_press).overdue_at == set_at
    in_time = stands(before_set, history=done(berlin(2026, 11, 22, 8)), mold=in_press)
    assert state_at(in_time, at=NOW) is State.NOT_DUE


def test_back_from_storage_asks_only_after_a_long_stay():
    stays = [
        Span(from_at=berlin(2026, 2, 1), to_at=berlin(2026, 2, 20)),
        Span(from_at=berlin(2026, 4, 1), to_at=berlin(2026, 7, 1, 9)),
    ]
    back = EventLimit(kind=EventKind.BACK_FROM_STORAGE, after_days=30)
    found = stands(RuleTerms(events=(back,)), mold=usage(stored=stays))
    assert found.due_at == berlin(2026, 7, 1, 9)


def test_a_measurement_past_its_limit_is_due_since_it_stayed_there():
    loss = MeasuredLimit(quantity="flow coefficient loss", baseline=0.0, limit=0.3, hard_limit=0.5)
    days = [berlin(2026, 11, day) for day in (1, 8, 15, 22)]
    measured = [
        Measurement(at=at, value=value)
        for at, value in zip(days, (0.32, 0.1, 0.31, 0.34), strict=True)
    ]
    mold = usage(measurements={loss.quantity: measured})
    found = stands(RuleTerms(measured=(loss,)), mold=mold)
    assert found.due_at == days[2]
    assert found.overdue_at == days[3]
    assert found.past_limit_at is None
    assert found.share == pytest.approx(0.34 / 0.3)


def test_a_measured_limit_may_lie_below_its_baseline():
    depth = MeasuredLimit(quantity="vent depth", baseline=0.03, limit=0.02)
    mold = usage(measurements={"vent depth": [Measurement(at=NOW, value=0.021)]})
    found = stands(RuleTerms(measured=(depth,)), mold=mold)
    assert state_at(found, at=NOW) is State.DUE_SOON
    assert found.share == pytest.approx(0.9)


STORED = [Span(from_at=berlin(2026, 10, 10, 9))]
WAITS = {"counts": CalendarCounts.WAITS_WHILE_STORED}


def test_a_calendar_that_waits_while_stored():
    month = Period(n=30, unit=Unit.DAY)
    history = done(berlin(2026, 10, 1, 8))
    found = stands(each(month, **WAITS), history=history, mold=usage(stored=STORED))
    assert state_at(found, at=NOW) is State.WAITING
    assert (found.due_on, found.forecast_due_at) == (None, None)
    assert found.share == pytest.approx(9 / 30)
    back = [Span(from_at=STORED[0].from_at, to_at=berlin(2026, 11, 19, 9))]
    again = stands(each(month, **WAITS), history=history, mold=usage(stored=back))
    assert again.due_on == date(2026, 12, 10)
    assert share_at(again, at=NOW + timedelta(days=3), calendar=PLANT) == pytest.approx(17 / 30)
    never_waits = stands(each(month), history=history, mold=usage(stored=STORED))
    assert state_at(never_waits, at=NOW) is State.OVERDUE


def test_what_was_overdue_stays_so_in_storage():
    found = stands(
        each(WEEKLY, **WAITS), history=done(berlin(2026, 9, 1, 8)), mold=usage(stored=STORED)
    )
    assert state_at(found, at=NOW) is State.OVERDUE
    assert not found.is_waiting


def test_a_count_due_soon_shows_though_the_calendar_waits():
    both = RuleTerms(
        count=CountLimit(n=20_000, basis=Basis.SHOTS),
        calendar=CalendarLimit(period=Period(n=180, unit=Unit.DAY), **WAITS),
    )
    history = done(berlin(2026, 10, 1, 8), done_count=0)
    near = stands(both, history=history, mold=usage(19_000, stored=STORED))
    assert state_at(near, at=NOW) is State.DUE_SOON
    far = stands(both, history=history, mold=usage(9_000, stored=STORED))
    assert state_at(far, at=NOW) is State.WAITING


def test_a_calendar_that_counts_only_storage():
    rust = each(Period(n=180, unit=Unit.DAY), counts=CalendarCounts.ONLY_WHILE_STORED)
    history = done(berlin(2026, 2, 1, 8))
    stays = [
        Span(from_at=berlin(2026, 3, 1, 9), to_at=berlin(2026, 5, 30, 9)),
        Span(from_at=berlin(2026, 10, 10, 9)),
    ]
    found = stands(rust, history=history, mold=usage(stored=stays))
    assert found.due_on == date(2027, 1, 8)
    out = stands(rust, history=history, mold=usage(stored=stays[:1]))
    assert (out.due_on, out.share) == (None, pytest.approx(0.5))


def test_never_done_counts_from_the_start_of_the_records():
    both = RuleTerms(
        count=CountLimit(n=20_000, basis=Basis.SHOTS), calendar=CalendarLimit(period=MONTHLY)
    )
    opened = course((berlin(2026, 1, 1), 412_000), (NOW, 413_000))
    history = done(first_count=412_000)
    found = stands(both, history=history, mold=usage(shots=opened))
    assert found.no_record_yet
    assert found.since_count == 1_000
    assert found.due_on == date(2026, 2, 1)


def test_an_imported_date_takes_its_count_from_the_facts():
    read = course((berlin(2026, 11, 1), 10_000), (berlin(2026, 11, 21), 30_000))
    known = stands(every(50_000), history=done(done_on=date(2026, 11, 11)), mold=usage(shots=read))
    assert known.since_count == 10_000
    assert known.notes == ()
    too_old = stands(
        every(50_000),
        history=done(done_on=date(2026, 6, 1), first_count=10_000),
        mold=usage(shots=read),
    )
    assert too_old.since_count == 20_000
    assert too_old.notes == (Note.COUNT_OPEN,)
    assert not too_old.no_record_yet


def test_an_imported_count_takes_its_date_from_the_facts():
    both = RuleTerms(
        count=CountLimit(n=90_000, basis=Basis.SHOTS), calendar=CalendarLimit(period=MONTHLY)
    )
    read = course((berlin(2026, 11, 1), 10_000), (berlin(2026, 11, 21), 30_000))
    known = stands(both, history=done(done_count=20_000), mold=usage(shots=read))
    assert known.since_on == date(2026, 11, 11)
    too_old = stands(both, history=done(done_count=4_000), mold=usage(shots=read))
    assert (too_old.since_on, too_old.since_count) == (ENTERED, 26_000)
    assert too_old.notes == (Note.DATE_OPEN,)


def test_without_any_count_the_rule_says_so():
    found = stands(every(20_000), mold=Usage(newest_fact_at=NOW))
    assert found.notes == (Note.NO_COUNTS,)
    assert found.since_count is None
    assert state_at(found, at=NOW) is State.NOT_DUE


DEFERRED_AT = NOW - timedelta(hours=2)


def test_a_deferral_takes_the_place_of_due_until_its_new_limit():
    deferral = DeferralTerms(
        made_at=DEFERRED_AT, made_count=23_000, until_count=26_000, basis=Basis.SHOTS
    )
    found = stands(every(20_000), mold=usage(23_000), deferral=deferral)
    assert state_at(found, at=NOW) is State.DEFERRED
    assert found.undeferred.overdue_at is not None
    reached = stands(every(20_000), mold=usage(26_000), deferral=deferral)
    assert state_at(reached, at=NOW) is State.PAST_LIMIT


def test_a_deferral_until_a_date_is_past_limit_from_its_midnight():
    deferral = DeferralTerms(made_at=DEFERRED_AT, until_on=date(2026, 11, 30))
    found = stands(every(20_000), mold=usage(23_000), deferral=deferral)
    assert found.past_limit_at == found.deferred_until_at == berlin(2026, 11, 30)
    assert state_at(found, at=berlin(2026, 11, 29, 23, 59)) is State.DEFERRED


def test_a_deferral_past_its_limit_by_forecast_alone_stays_one():
    deferral = DeferralTerms(made_at=DEFERRED_AT, until_count=23_100, basis=Basis.SHOTS)
    running = usage(23_000, rate_per_h=100, is_in_press=True)
    found = stands(every(20_000), mold=running, deferral=deferral)
    assert found.forecast_due_at == NOW + timedelta(hours=1)
    assert state_at(found, at=NOW + timedelta(hours=5)) is State.DEFERRED


def test_work_ends_a_deferral():
    deferral = DeferralTerms(made_at=DEFERRED_AT, until_on=date(2026, 11, 30))
    history = done(NOW - timedelta(hours=1), done_count=23_000)
    found = stands(every(20_000), history=history, mold=usage(23_000), deferral=deferral)
    assert found.deferred_from_at is None
    assert state_at(found, at=berlin(2026, 12, 1)) is State.NOT_DUE


def test_old_readings_make_a_rule_by_count_unsure():
    unsure = UnsureFrom(at=NOW - timedelta(hours=3), why=UnsureWhy.OLD_READING)
    near, far = usage(19_000, unsure=unsure), usage(20_500, unsure=unsure)
    assert state_at(stands(every(20_000), mold=near), at=NOW) is State.UNSURE
    assert state_at(stands(every(20_000), mold=far), at=NOW) is State.DUE
    by_date = stands(each(MONTHLY), history=done(NOW), mold=near)
    assert state_at(by_date, at=NOW) is State.NOT_DUE


def test_due_by_date_comes_before_unsure():
    unsure = UnsureFrom(at=NOW, why=UnsureWhy.HELD_READING)
    both = RuleTerms(count=CountLimit(n=20_000), calendar=CalendarLimit(period=WEEKLY))
    history = done(berlin(2026, 11, 17, 8), done_count=0)
    found = stands(both, history=history, mold=usage(5, unsure=unsure))
    assert found.due_at == berlin(2026, 11, 24)
    assert state_at(found, at=NOW) is State.DUE


def test_a_rule_without_limits_is_refused():
    with pytest.raises(TermsContradict, match="needs at least one limit"):
        stands(RuleTerms())


def test_days_go_on_between_facts_and_counts_do_not():
    by_date = stands(each(Period(n=10, unit=Unit.DAY)), history=done(berlin(2026, 11, 21, 8)))
    later = NOW + timedelta(days=4)
    assert by_date.share == pytest.approx(0.3)
    assert share_at(by_date, at=later, calendar=PLANT) == pytest.approx(0.7)
    by_count = stands(every(20_000), mold=usage(5_000))
    assert share_at(by_count, at=later, calendar=PLANT) == by_count.share == 0.25


def test_a_share_runs_from_the_work_to_the_fixed_date():
    fixed = each(MONTHLY, anchor_on=date(2026, 1, 15), window_days=7)
    early = stands(fixed, history=done(berlin(2026, 11, 10, 8)))
    assert (early.due_on, early.since, early.interval) == (date(2026, 12, 15), 14, 35)


def test_a_mold_that_hardly_moves_has_no_forecast():
    creeping = usage(10, rate_per_h=0.001, is_in_press=True)
    assert stands(every(20_000), mold=creeping).forecast_due_at is None
    standing_still = usage(10, rate_per_h=0.0, is_in_press=True)
    assert stands(every(20_000), mold=standing_still).forecast_due_at is None


def test_the_calendar_takes_the_lead_when_its_days_overtake_the_count() -> None:
    terms = RuleTerms(
        count=CountLimit(n=10_000),
        calendar=CalendarLimit(period=Period(n=10, unit=Unit.DAY)),
    )
    never_read = standing(
        terms,
        history=RuleHistory(entered_on=NOW.date()),
        usage=Usage(newest_fact_at=NOW, cycles=KnotCourse(at_us=[microseconds(NOW)], counts=[0])),
        calendar=PLANT,
    )
    later = NOW + timedelta(days=12)
    assert never_read.limiting is LimitKind.COUNT
    assert share_at(never_read, at=later, calendar=PLANT) == pytest.approx(1.2)
    assert say(reason(never_read, at=later, calendar=PLANT)).startswith(
        "No record yet. 12 of 10 days."
    )
