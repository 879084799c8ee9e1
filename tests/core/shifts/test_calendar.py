from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from moldcare.core.errors import ShiftsContradict
from moldcare.core.shifts import (
    ShiftCalendar,
    ShiftException,
    ShiftPattern,
    ShiftSlot,
    check_shifts,
)

BERLIN = ZoneInfo("Europe/Berlin")
TIMES = (("Early", time(6), time(14)), ("Late", time(14), time(22)), ("Night", time(22), time(6)))


def pattern(*, weekdays=range(7), valid_from=date(2020, 1, 1), times=TIMES):
    slots = tuple(
        ShiftSlot(weekday=weekday, name=name, starts=starts, ends=ends)
        for weekday in weekdays
        for name, starts, ends in times
    )
    return ShiftPattern(valid_from=valid_from, slots=slots)


EVERY_DAY = pattern()


def calendar(*, patterns=(EVERY_DAY,), exceptions=()):
    return ShiftCalendar(zone=BERLIN, patterns=patterns, exceptions=exceptions)


def berlin(*parts):
    return datetime(*parts, tzinfo=BERLIN).astimezone(UTC)


@pytest.mark.parametrize(
    ("evening", "hours"),
    [(date(2026, 10, 24), 9), (date(2026, 3, 28), 7), (date(2026, 11, 24), 8)],
)
def test_night_shifts_have_their_real_hours(evening, hours):
    night = calendar().shift_at(berlin(evening.year, evening.month, evening.day, 23))
    assert night.name == "Night"
    assert night.hours == hours


def test_a_night_shift_belongs_to_the_day_it_starts_on():
    night = calendar().shift_at(berlin(2026, 10, 25, 5, 30))
    assert (night.name, night.belongs_to) == ("Night", date(2026, 10, 24))


def test_a_shift_ends_where_the_next_one_starts():
    early, late = (
        calendar().shift_at(berlin(2026, 11, 24, 6)),
        calendar().shift_at(berlin(2026, 11, 24, 14)),
    )
    assert (early.name, late.name) == ("Early", "Late")
    assert early.ends_at == late.starts_at


def test_outside_the_pattern_no_shift_is_worked():
    five_days = calendar(patterns=[pattern(weekdays=range(5))])
    assert five_days.shift_at(berlin(2026, 11, 28, 5)).name == "Night"
    assert five_days.shift_at(berlin(2026, 11, 28, 7)) is None
    assert five_days.shift_at(berlin(2019, 11, 27, 7)) is None


def test_patterns_are_dated():
    two = calendar(
        patterns=[pattern(valid_from=date(2026, 6, 1), times=TIMES[:1]), pattern(times=TIMES[:2])]
    )
    assert [shift.name for shift in two.shifts_of(date(2026, 5, 31))] == ["Early", "Late"]
    assert [shift.name for shift in two.shifts_of(date(2026, 6, 1))] == ["Early"]


def test_a_holiday_takes_out_the_shifts_that_start_on_it():
    holiday = ShiftException(on=date(2026, 12, 25), is_worked=False, reason="holiday")
    closed = calendar(exceptions=[holiday])
    assert closed.shifts_of(date(2026, 12, 25)) == ()
    assert closed.shift_at(berlin(2026, 12, 25, 3)).belongs_to == date(2026, 12, 24)


def test_an_extra_shift_takes_the_times_of_its_name():
    extra = ShiftException(on=date(2026, 11, 28), name="Early", is_worked=True)
    saturday = calendar(patterns=[pattern(weekdays=range(5))], exceptions=[extra])
    (shift,) = saturday.shifts_of(date(2026, 11, 28))
    assert (shift.name, shift.starts_at) == ("Early", berlin(2026, 11, 28, 6))


def test_one_shift_of_a_day_may_be_left_out():
    closed = ShiftException(on=date(2026, 12, 24), name="Night", is_worked=False)
    names = [s.name for s in calendar(exceptions=[closed]).shifts_of(date(2026, 12, 24))]
    assert names == ["Early", "Late"]


def test_a_name_that_the_pattern_does_not_know_adds_nothing():
    unknown = ShiftException(on=date(2026, 12, 24), name="Dawn", is_worked=True)
    assert len(calendar(exceptions=[unknown]).shifts_of(date(2026, 12, 24))) == 3


def test_a_shift_inside_a_gap_of_the_clock_has_no_time():
    gap = calendar(patterns=[pattern(times=(("Short", time(2), time(2, 45)),))])
    assert gap.shifts_of(date(2026, 3, 29)) == ()
    assert len(gap.shifts_of(date(2026, 3, 30))) == 1


def test_the_later_of_two_exceptions_counts():
    closed = ShiftException(on=date(2026, 12, 24), is_worked=False)
    open_again = ShiftException(on=date(2026, 12, 24), name="Early", is_worked=True)
    names = [
        s.name for s in calendar(exceptions=[closed, open_again]).shifts_of(date(2026, 12, 24))
    ]
    assert names == ["Early"]
    assert calendar(exceptions=[open_again, closed]).shifts_of(date(2026, 12, 24)) == ()


def test_shifts_between_include_those_cut_by_the_ends():
    found = calendar().shifts_between(berlin(2026, 11, 24, 5), berlin(2026, 11, 24, 14))
    assert [(shift.name, shift.belongs_to.day) for shift in found] == [("Night", 23), ("Early", 24)]


def test_the_shifts_of_a_year_fill_it_without_gaps():
    year = calendar().shifts_between(berlin(2026, 1, 1), berlin(2027, 1, 1))
    assert len(year) == 365 * 3 + 1
    for one, following in pairwise(year):
        assert one.ends_at == following.starts_at
    # 8,760 hours a year; the two clock changes make up for each other.
    assert sum(shift.hours for shift in year[1:-1]) == 8760 - 6 - 2


def test_next_shift_end():
    assert calendar().next_shift_end(berlin(2026, 11, 24, 13, 59)) == berlin(2026, 11, 24, 14)
    assert calendar().next_shift_end(berlin(2026, 11, 24, 14)) == berlin(2026, 11, 24, 22)
    weekend = calendar(patterns=[pattern(weekdays=range(5))])
    assert weekend.next_shift_end(berlin(2026, 11, 28, 6)) == berlin(2026, 11, 30, 14)
    assert calendar(patterns=()).next_shift_end(berlin(2026, 11, 28, 6)) is None


def test_nth_shift_start_is_later_than_the_instant():
    found = calendar().nth_shift_start_after(berlin(2026, 11, 24, 6), n=3)
    assert found == berlin(2026, 11, 25, 6)
    assert calendar(patterns=()).nth_shift_start_after(berlin(2026, 11, 24, 6)) is None


def test_one_whole_shift_of_notice_before_midnight_is_the_late_shift():
    assert calendar().whole_shift_before(berlin(2026, 11, 25)) == berlin(2026, 11, 24, 14)


def test_one_whole_shift_of_notice_before_a_monday_is_on_friday():
    five_days = calendar(patterns=[pattern(weekdays=range(5))])
    assert five_days.whole_shift_before(berlin(2026, 11, 30)) == berlin(2026, 11, 27, 22)


def test_a_whole_shift_after_an_event_is_the_next_one():
    assert calendar().nth_whole_shift_end(berlin(2026, 11, 24, 10)) == berlin(2026, 11, 24, 22)
    assert calendar().nth_whole_shift_end(berlin(2026, 11, 24, 14), n=2) == berlin(2026, 11, 25, 6)


def test_without_shifts_the_usual_length_stands_in():
    none = calendar(patterns=())
    at = berlin(2026, 11, 24, 10)
    assert none.whole_shift_before(at) == at - timedelta(hours=8)
    assert none.nth_whole_shift_end(at, n=2) == at + timedelta(hours=16)
    assert none.usual_shift_h(date(2026, 11, 24)) == 8


def test_the_usual_shift_is_the_longest_of_the_pattern():
    long = pattern(times=(("Day", time(6), time(18)), ("Evening", time(18), time(22))))
    assert calendar(patterns=[long]).usual_shift_h(date(2026, 11, 24)) == 12


@pytest.mark.parametrize(
    ("patterns", "exceptions", "sentence"),
    [
        ([pattern(), pattern()], [], "Two shift patterns start on 2020-01-01; keep one of them."),
        ([pattern(weekdays=[7])], [], "Weekday 7 does not exist; 0 is Monday, 6 Sunday."),
        (
            [
                pattern(
                    weekdays=[6, 0], times=(("Long", time(6), time(6)), ("Extra", time(5), time(7)))
                )
            ],
            [],
            "The shifts “Extra” and “Long” overlap.",
        ),
        (
            [
                pattern(
                    weekdays=[0, 6], times=(("Day", time(5), time(4)), ("Odd", time(4), time(6)))
                )
            ],
            [],
            "The shifts “Odd” and “Day” overlap.",
        ),
        (
            [pattern(times=(("Day", time(6), time(7)), ("Day", time(8), time(9))))],
            [],
            "Two shifts of one day are called “Day”.",
        ),
        (
            [pattern()],
            [ShiftException(on=date(2026, 1, 1), name="Dawn", is_worked=False)],
            "No shift is called “Dawn” in the pattern of 2026-01-01.",
        ),
    ],
)
def test_what_cannot_be_worked_is_refused(patterns, exceptions, sentence):
    with pytest.raises(ShiftsContradict) as refused:
        check_shifts(patterns, exceptions=exceptions)
    assert str(refused.value) == sentence


def test_a_sunday_night_may_meet_monday_early():
    check_shifts([pattern()])
    check_shifts([])


@given(
    minutes=st.integers(min_value=0, max_value=400 * 1440),
    weekdays=st.sets(st.integers(min_value=0, max_value=6), min_size=1),
)
def test_looking_up_a_shift_agrees_with_searching_the_list(minutes, weekdays):
    at = berlin(2026, 1, 10) + timedelta(minutes=minutes)
    some = calendar(patterns=[pattern(weekdays=sorted(weekdays))])
    around = some.shifts_between(at - timedelta(days=9), at + timedelta(days=9))
    holding = [shift for shift in around if shift.starts_at <= at < shift.ends_at]
    assert some.shift_at(at) == (holding[0] if holding else None)
    assert some.next_shift_end(at) == min(s.ends_at for s in around if s.ends_at > at)
    assert some.nth_shift_start_after(at) == min(s.starts_at for s in around if s.starts_at > at)
    ended = [shift for shift in around if shift.ends_at <= at]
    assert some.whole_shift_before(at) == max(shift.starts_at for shift in ended)
