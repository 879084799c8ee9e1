import json
from datetime import date, timedelta
from pathlib import Path

import pytest
from dateutil.relativedelta import relativedelta
from dateutil.rrule import DAILY, MONTHLY, WEEKLY, YEARLY, rrule
from hypothesis import given
from hypothesis import strategies as st

from moldcare.core.recurrence import (
    Period,
    Unit,
    date_after,
    dates_missed,
    early_window_days,
    steps_after,
    turn_after,
    turn_on_grid,
)

REFERENCE = json.loads((Path(__file__).parents[2] / "reference" / "calendar.json").read_text())
FREQUENCIES = {Unit.DAY: DAILY, Unit.WEEK: WEEKLY, Unit.MONTH: MONTHLY, Unit.YEAR: YEARLY}
MONTHLY_PERIOD = Period(n=1, unit=Unit.MONTH)
MONDAYS = Period(n=1, unit=Unit.WEEK)

anchors = st.dates(min_value=date(1990, 1, 1), max_value=date(2040, 12, 31))
periods = st.builds(
    Period, n=st.integers(min_value=1, max_value=40), unit=st.sampled_from(list(Unit))
)


def grid(row, *, until):
    """All dates of the row's grids up to a date, in order."""
    period = Period(n=row["n"], unit=Unit(row["unit"]))
    found = set()
    for text in row["anchors"]:
        anchor = date.fromisoformat(text)
        k = 0
        while (on := date_after(anchor, period=period, times=k)) <= until:
            found.add(on)
            k += 1
    return sorted(found)


@pytest.mark.parametrize("row", REFERENCE["grids"], ids=lambda row: row["name"])
def test_plain_grids_agree_with_the_calendar_standard(row):
    expected = [date.fromisoformat(text) for text in row["expected"]]
    assert grid(row, until=expected[-1]) == expected


@pytest.mark.parametrize("row", REFERENCE["skipped_by_the_standard"], ids=lambda row: row["name"])
def test_month_ends_clamp_where_the_calendar_standard_leaves_dates_out(row):
    theirs = [date.fromisoformat(text) for text in row["expected"]]
    ours = grid(row, until=theirs[-1])
    assert ours == [date.fromisoformat(text) for text in row["ours"]]
    # We keep every date of the standard, and add the month's end where it has none.
    assert set(theirs) < set(ours)
    for added in set(ours) - set(theirs):
        assert (added + timedelta(days=1)).day == 1


@pytest.mark.parametrize("row", REFERENCE["months_clamped"], ids=lambda row: row["from"])
def test_months_are_clamped_to_their_end(row):
    period = Period(n=row["months"], unit=Unit.MONTH)
    found = date_after(date.fromisoformat(row["from"]), period=period)
    assert found == date.fromisoformat(row["expected"])


@given(anchor=anchors, period=periods, times=st.integers(min_value=0, max_value=60))
def test_dates_agree_with_relativedelta(anchor, period, times):
    expected = anchor + relativedelta(**{f"{period.unit}s": period.n * times})
    assert date_after(anchor, period=period, times=times) == expected


@given(anchor=anchors.filter(lambda on: on.day <= 28), period=periods)
def test_dates_that_every_month_has_agree_with_rrule(anchor, period):
    rule = rrule(FREQUENCIES[period.unit], interval=period.n, dtstart=anchor, count=30)
    expected = [instant.date() for instant in rule]
    assert [date_after(anchor, period=period, times=k) for k in range(30)] == expected


@given(anchor=anchors, period=periods, days=st.integers(min_value=-400, max_value=20000))
def test_the_first_grid_date_after_a_date_is_found_without_walking(anchor, period, days):
    after = anchor + timedelta(days=days)
    walked = 0
    while date_after(anchor, period=period, times=walked) <= after:
        walked += 1
    assert steps_after(anchor, period=period, after=after) == walked


@given(anchor=anchors, period=periods, times=st.integers(min_value=0, max_value=60))
def test_a_grid_never_stands_still(anchor, period, times):
    assert date_after(anchor, period=period, times=times) < date_after(
        anchor, period=period, times=times + 1
    )


def test_the_31st_in_short_months():
    dates = [date_after(date(2027, 1, 31), period=MONTHLY_PERIOD, times=k) for k in range(14)]
    ends = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31, 31, 29]
    assert [on.day for on in dates] == ends
    assert [on.month for on in dates] == [*range(1, 13), 1, 2]
    half_year = Period(n=6, unit=Unit.MONTH)
    assert date_after(date(2027, 3, 31), period=half_year) == date(2027, 9, 30)


def test_29_february_comes_back_in_leap_years():
    dates = [
        date_after(date(2028, 2, 29), period=Period(n=1, unit=Unit.YEAR), times=k)
        for k in range(1, 5)
    ]
    assert dates == [date(2029, 2, 28), date(2030, 2, 28), date(2031, 2, 28), date(2032, 2, 29)]


def test_from_the_last_work_the_day_slides_with_the_work():
    assert turn_after(date(2027, 2, 28), period=MONTHLY_PERIOD).due_on == date(2027, 3, 28)
    assert turn_after(date(2027, 1, 31), period=MONTHLY_PERIOD).due_on == date(2027, 2, 28)


def test_a_period_is_as_long_as_the_distance_of_its_dates():
    assert turn_after(date(2027, 2, 10), period=MONTHLY_PERIOD).length_days == 28
    assert turn_after(date(2027, 1, 31), period=MONTHLY_PERIOD).length_days == 28
    assert turn_after(date(2027, 3, 10), period=MONTHLY_PERIOD).length_days == 31


@pytest.mark.parametrize(
    ("done_on", "due_on", "served_on"),
    [
        (date(2027, 3, 10), date(2027, 4, 15), date(2027, 3, 15)),
        (date(2027, 3, 8), date(2027, 4, 15), date(2027, 3, 15)),
        (date(2027, 3, 7), date(2027, 3, 15), date(2027, 2, 15)),
        (date(2027, 3, 5), date(2027, 3, 15), date(2027, 2, 15)),
        (date(2027, 3, 15), date(2027, 4, 15), date(2027, 3, 15)),
    ],
)
def test_work_inside_the_early_window_serves_the_date_ahead(done_on, due_on, served_on):
    turn = turn_on_grid(done_on, anchor=date(2027, 1, 15), period=MONTHLY_PERIOD, window_days=7)
    assert (turn.due_on, turn.served_on) == (due_on, served_on)


def test_the_early_window_is_a_fifth_of_the_period_rounded_down():
    assert early_window_days(7) == 1
    assert early_window_days(28) == 5
    # February to March is 28 days, so five days before 15 March serve it and six do not.
    for done_on, due_on in (
        (date(2027, 3, 10), date(2027, 4, 15)),
        (date(2027, 3, 9), date(2027, 3, 15)),
    ):
        turn = turn_on_grid(done_on, anchor=date(2027, 1, 15), period=MONTHLY_PERIOD)
        assert turn.due_on == due_on


def test_three_missed_mondays_are_made_up_by_one_completion():
    monday = date(2027, 3, 1)
    wednesday = date(2027, 3, 31)
    turn = turn_on_grid(wednesday, anchor=monday, period=MONDAYS)
    assert turn.due_on == date(2027, 4, 5)
    assert turn.served_on == date(2027, 3, 29)
    missed = dates_missed(monday, period=MONDAYS, after=monday, until=turn.served_on)
    assert missed == (date(2027, 3, 8), date(2027, 3, 15), date(2027, 3, 22))


def test_before_the_first_fixed_date_it_is_the_next():
    turn = turn_on_grid(date(2027, 1, 1), anchor=date(2027, 3, 31), period=MONTHLY_PERIOD)
    assert (turn.due_on, turn.served_on) == (date(2027, 3, 31), None)


def test_the_day_counting_began_serves_no_date():
    turn = turn_on_grid(
        date(2027, 3, 14), anchor=date(2027, 1, 15), period=MONTHLY_PERIOD, is_work=False
    )
    assert (turn.due_on, turn.served_on) == (date(2027, 3, 15), None)


@given(anchor=anchors, period=periods, days=st.integers(min_value=0, max_value=4000))
def test_later_work_never_brings_an_earlier_date(anchor, period, days):
    on = anchor + timedelta(days=days)
    one = turn_on_grid(on, anchor=anchor, period=period)
    later = turn_on_grid(on + timedelta(days=1), anchor=anchor, period=period)
    assert on < one.due_on <= later.due_on
    assert one.length_days == (one.due_on - one.starts_on).days > 0
