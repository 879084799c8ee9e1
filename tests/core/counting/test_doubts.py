"""Which accepted reading is the odd one, and which cycle is stale."""

from dataclasses import replace

from moldcare.core.counting import OddOneOut, judge_counter, odd_ones_out, stale_cycle
from moldcare.core.counting.values import (
    CounterSetup,
    DecisionKind,
    Fitted,
    PaceKnown,
    PaceStep,
    State,
)
from tests.core.counting.builders import SECOND, at, columns, decision, pace

WEEKEND = (
    ("2026-03-06 18:00", 40_120),
    ("2026-03-09 06:00", 48_120),
    ("2026-03-09 07:00", 40_290),
    ("2026-03-09 08:00", 40_460),
)
TERMS = {"setup": CounterSetup(digits=5), "pace": pace(20)}


def odd(readings, **events):
    return odd_ones_out(judge_counter(readings, **TERMS, **events), **TERMS)


def test_a_wrong_reading_that_was_possible_is_named_by_two_later_ones():
    assert odd(columns(*WEEKEND)) == [OddOneOut(reading_id=2, witnesses=(3, 4))]


def test_one_later_reading_is_not_enough():
    assert odd(columns(*WEEKEND[:3])) == []


def test_one_later_reading_is_enough_against_an_estimate():
    readings = replace(columns(*WEEKEND[:3]), sources=["typed", "estimated", "typed"])
    assert odd(readings) == [OddOneOut(reading_id=2, witnesses=(3,))]


def test_what_a_person_decided_is_not_named():
    accepted = decision(2, DecisionKind.ACCEPT, after=2)
    assert odd(columns(*WEEKEND), events=[accepted]) == []


def test_later_readings_that_fit_neither_name_nobody():
    rows = (*WEEKEND[:2], ("2026-03-09 07:00", 39_000), ("2026-03-09 08:00", 39_170))
    assert odd(columns(*rows)) == []


def test_a_value_shown_at_fitting_is_never_the_odd_one():
    fitted = Fitted(after_reading=0, at_us=at("2026-03-06 18:00"), value_shown=48_120)
    assert odd(columns(*WEEKEND[2:]), events=[fitted]) == []


def test_three_neighbours_too_fast_at_one_pace_show_a_stale_cycle():
    # 12 s a cycle, where 20 s is the standard and 17 s the shortest believed.
    readings = columns(("06:00", 0), ("07:00", 300), ("08:00", 600), ("09:00", 900))
    judged = judge_counter(readings, **TERMS)
    found = stale_cycle(judged)
    assert found is not None
    assert found.cycle_us == 12 * SECOND
    assert found.reading_ids == (2, 3, 4)
    corrected = PaceKnown(
        after_reading=4, steps=(PaceStep(from_us=0, shortest_us=12 * SECOND * 17 // 20),)
    )
    again = judge_counter(readings, **TERMS, events=[corrected])
    assert set(again.states) == {State.ACCEPTED}
    assert stale_cycle(again) is None


def test_two_neighbours_or_different_paces_show_none():
    two = columns(("06:00", 0), ("07:00", 300), ("08:00", 600))
    assert stale_cycle(judge_counter(two, **TERMS)) is None
    uneven = columns(("06:00", 0), ("07:00", 300), ("08:00", 1200), ("09:00", 1500))
    assert stale_cycle(judge_counter(uneven, **TERMS)) is None


def test_readings_held_for_other_reasons_say_nothing_about_pace_or_neighbours():
    clock = columns(*WEEKEND[:2], ("2026-03-09 12:00", 9), written_us=[at("2026-03-09 06:00")] * 3)
    judged = judge_counter(clock, **TERMS)
    assert judged.reasons == ["", "", "clock_is_off"]
    assert odd_ones_out(judged, **TERMS) == []
    assert stale_cycle(judged) is None


def test_readings_that_do_not_rise_have_no_pace():
    high = columns(("06:00", 0), ("07:00", 900), ("08:00", 900), ("09:00", 900))
    judged = judge_counter(high, **TERMS)
    assert judged.reasons == ["", "too_fast", "too_fast", "too_fast"]
    assert stale_cycle(judged) is None
