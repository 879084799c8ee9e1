"""How fast a mold counts, and from when its count is unsure."""

import pytest

from moldcare.core.counting import Course, half_turn_us, recent_rate, unsure_from
from moldcare.core.counting.freshness import UnsureWhy
from moldcare.core.counting.values import CounterSetup
from tests.core.counting.builders import HOUR, at

MONDAY = at("06:00")
SHIFTS = [(MONDAY + each * 8 * HOUR, MONDAY + (each + 1) * 8 * HOUR) for each in range(30)]


def course(*rows):
    return Course(at_us=[MONDAY + hour * HOUR for hour, _ in rows], totals=[row[1] for row in rows])


def stays(*hours):
    return [
        (MONDAY + start * HOUR, None if end is None else MONDAY + end * HOUR)
        for start, end in hours
    ]


def test_the_recent_rate_is_of_time_in_a_press_only():
    found = recent_rate(
        course((0, 0), (10, 1500), (100, 1500), (110, 3000)), in_press=stays((0, 10), (100, None))
    )
    assert found.cycles_per_hour == pytest.approx(150)
    assert (found.hours, found.cycles) == (20, 3000)


def test_the_recent_rate_looks_back_ten_shifts_in_a_press():
    found = recent_rate(course((0, 0), (100, 1000), (180, 9000)), in_press=stays((0, None)))
    assert found.cycles_per_hour == pytest.approx(100)
    assert found.hours == 80


def test_there_is_no_rate_without_time_in_a_press_or_cycles():
    assert recent_rate(course((0, 0), (10, 1500)), in_press=[]) is None
    assert recent_rate(course((0, 0), (10, 0)), in_press=stays((0, None))) is None
    assert recent_rate(course((0, 0)), in_press=stays((0, None))) is None
    assert recent_rate(course((0, 0), (10, 90)), in_press=stays((9.5, None))) is None


def test_a_reading_is_too_old_after_three_shifts_in_a_press():
    found = unsure_from(MONDAY + HOUR, in_press=stays((0, None)), shifts=SHIFTS)
    assert found.why is UnsureWhy.OLD
    assert found.from_us == MONDAY + 25 * HOUR


def test_only_shifts_spent_in_a_press_make_a_reading_old():
    found = unsure_from(MONDAY, in_press=stays((0, 8), (80, None)), shifts=SHIFTS)
    assert found.from_us == MONDAY + 96 * HOUR
    assert unsure_from(MONDAY, in_press=stays((0, 8)), shifts=SHIFTS) is None


def test_a_long_night_counts_as_one_shift():
    night = [(MONDAY, MONDAY + 9 * HOUR), (MONDAY + 9 * HOUR, MONDAY + 17 * HOUR)]
    found = unsure_from(MONDAY + HOUR, in_press=stays((0, None)), shifts=night, allowed_shifts=1)
    # Eight ninths of the night, and a ninth of the shift after it, rounded up.
    assert found.from_us == MONDAY + 9 * HOUR + -(-8 * HOUR // 9)


def test_a_newer_held_reading_makes_the_count_unsure():
    terms = {"in_press": stays((0, None)), "shifts": SHIFTS}
    found = unsure_from(MONDAY, newest_held_us=MONDAY + HOUR, **terms)
    assert (found.from_us, found.why) == (MONDAY + HOUR, UnsureWhy.HELD)
    older = unsure_from(MONDAY, newest_held_us=MONDAY - HOUR, **terms)
    assert older.why is UnsureWhy.OLD


def test_an_ambiguous_span_makes_the_count_unsure_from_its_beginning():
    found = unsure_from(MONDAY, in_press=[], shifts=[], ambiguous_us=MONDAY - HOUR)
    assert (found.from_us, found.why) == (MONDAY - HOUR, UnsureWhy.AMBIGUOUS)


def test_a_narrow_counter_must_be_read_within_half_a_turn():
    # A 16-bit register at 20 s a cycle goes round in 15.2 days of running.
    half = half_turn_us(CounterSetup(rollover=65_536), cycle_us=20_000_000)
    assert half / (24 * HOUR) == pytest.approx(15.17 / 2, abs=0.01)
    found = unsure_from(
        MONDAY,
        in_press=stays((0, 24), (48, None)),
        shifts=SHIFTS,
        allowed_shifts=60,
        rollover_us=half,
    )
    assert (found.from_us, found.why) == (MONDAY + 24 * HOUR + half, UnsureWhy.ROLLOVER)
    assert half_turn_us(CounterSetup(), cycle_us=20_000_000) is None


def test_a_stay_after_the_newest_reading_adds_nothing_to_the_rate():
    found = recent_rate(course((0, 0), (10, 1500)), in_press=stays((0, 10), (20, None)))
    assert found.cycles_per_hour == pytest.approx(150)


def test_a_short_stay_does_not_carry_a_counter_round():
    found = unsure_from(MONDAY, in_press=stays((0, 5)), shifts=SHIFTS, rollover_us=6 * HOUR)
    assert found is None
