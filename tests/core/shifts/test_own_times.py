"""A shift with times of its own on one day."""

from datetime import date, time
from zoneinfo import ZoneInfo

import pytest

from moldcare.core.errors import ShiftsContradict
from moldcare.core.shifts import (
    ShiftCalendar,
    ShiftException,
    ShiftPattern,
    ShiftSlot,
    check_shifts,
)

FRIDAY = date(2026, 11, 27)
PATTERN = ShiftPattern(
    valid_from=date(2026, 1, 5),
    slots=tuple(
        ShiftSlot(weekday=weekday, name=name, starts=time(start), ends=time(end))
        for weekday in range(5)
        for name, start, end in (("early", 6, 14), ("night", 22, 6))
    ),
)


def worked(*exceptions: ShiftException, on: date = FRIDAY) -> list[tuple[str, float]]:
    calendar = ShiftCalendar(
        zone=ZoneInfo("Europe/Berlin"), patterns=[PATTERN], exceptions=exceptions
    )
    return [(shift.name, shift.hours) for shift in calendar.shifts_of(on)]


def own(name: str, start: int, end: int, *, on: date = FRIDAY) -> ShiftException:
    return ShiftException(on=on, name=name, is_worked=True, starts=time(start), ends=time(end))


def test_a_known_shift_takes_them_instead_of_the_pattern_s() -> None:
    assert worked(own("early", 6, 12)) == [("early", 6), ("night", 8)]
    assert worked(own("early", 6, 12), on=date(2026, 11, 26)) == [("early", 8), ("night", 8)]


def test_a_shift_that_the_pattern_does_not_know_is_added() -> None:
    assert worked(own("stocktaking", 14, 16)) == [("early", 8), ("stocktaking", 2), ("night", 8)]
    assert worked(own("stocktaking", 8, 12, on=date(2026, 11, 29)), on=date(2026, 11, 29)) == [
        ("stocktaking", 4)
    ]


def test_the_later_word_counts() -> None:
    off = ShiftException(on=FRIDAY, is_worked=False)
    assert worked(own("early", 6, 12), off) == []
    assert worked(off, own("early", 6, 12)) == [("early", 6)]
    usual = ShiftException(on=FRIDAY, name="early", is_worked=True)
    assert worked(own("early", 6, 12), usual) == [("early", 8), ("night", 8)]


def test_a_night_of_one_day_runs_over_midnight() -> None:
    assert worked(own("night", 23, 4)) == [("early", 8), ("night", 5)]


@pytest.mark.parametrize(
    ("exception", "told"),
    [
        (ShiftException(on=FRIDAY, name="early", is_worked=True, starts=time(6)), "its end"),
        (
            ShiftException(on=FRIDAY, is_worked=True, starts=time(6), ends=time(8)),
            "with a name",
        ),
        (
            ShiftException(on=FRIDAY, name="early", is_worked=False, starts=time(6), ends=time(8)),
            "Only a worked shift",
        ),
        (ShiftException(on=FRIDAY, name="late", is_worked=True), "No shift is called"),
    ],
)
def test_half_times_and_times_of_nothing_are_refused(exception: ShiftException, told: str) -> None:
    with pytest.raises(ShiftsContradict, match=told):
        check_shifts([PATTERN], exceptions=[exception])
    check_shifts([PATTERN], exceptions=[own("late", 14, 22)])
