"""Each way in which two readings of one counter can stand to one another.

The histories are made up after faults that public fault reports of metering and home-automation
software describe; the right answers are worked out by hand beside each.
"""

from dataclasses import replace

import pytest

from moldcare.core.counting import course_of, judge_counter
from moldcare.core.counting.values import (
    CounterSetup,
    DecisionKind,
    Fitted,
    HoldReason,
    Note,
    PaceKnown,
    PaceStep,
    Readings,
    Removed,
    RunningKnown,
    RunningSpan,
    State,
)
from tests.core.counting.builders import HOUR, SECOND, at, columns, decision, pace

ACCEPTED, HELD, SET_ASIDE = int(State.ACCEPTED), int(State.HELD), int(State.SET_ASIDE)


def test_a_higher_value_within_the_pace_counts_its_difference():
    judged = judge_counter(
        columns(("06:00", 1000), ("14:00", 2440)), setup=CounterSetup(digits=7), pace=pace(20)
    )
    assert judged.states == [ACCEPTED, ACCEPTED]
    assert judged.totals == [0, 1440]
    assert judged.notes == [Note.FIRST, Note.PLAIN]


def test_the_pace_allows_two_cycles_more_and_not_three():
    # One hour at 17 s (0.85 of 20 s) is 211.76 cycles: 213 with the two allowed ones.
    within, beyond = (
        judge_counter(columns(("06:00", 0), ("07:00", cycles)), setup=CounterSetup(), pace=pace(20))
        for cycles in (213, 214)
    )
    assert within.states == [ACCEPTED, ACCEPTED]
    assert beyond.states == [ACCEPTED, HELD]
    assert beyond.held[0].reason is HoldReason.TOO_FAST
    assert beyond.held[0].possible == 213


def test_without_a_known_cycle_one_second_a_cycle_is_possible():
    judged = judge_counter(
        columns(("06:00", 0), ("06:01", 62), ("06:02", 125)), setup=CounterSetup()
    )
    assert judged.states == [ACCEPTED, ACCEPTED, HELD]


def test_a_dip_of_one_is_neither_a_rollover_nor_a_new_start():
    judged = judge_counter(
        columns(("09:00", 215_710), ("09:05", 215_709), ("09:10", 215_714)),
        setup=CounterSetup(digits=6),
    )
    assert judged.reasons == ["", "goes_backwards", ""]
    assert judged.totals == [0, None, 4]


def test_a_zero_after_a_power_cut_blocks_nothing_after_it():
    judged = judge_counter(
        columns(("02:50:00", 37_370), ("03:29:18", 0), ("03:29:22", 37_376)),
        setup=CounterSetup(digits=5),
    )
    assert judged.states == [ACCEPTED, HELD, ACCEPTED]
    assert judged.totals == [0, None, 6]


def test_a_register_that_wraps_at_65536_rolls_over():
    judged = judge_counter(
        columns(("10:00", 65_500), ("10:30", 40)),
        setup=CounterSetup(rollover=65_536),
        pace=pace(20),
    )
    assert judged.totals == [0, 76]
    assert judged.notes[1] == Note.ROLLED_OVER


def test_a_rollover_needs_the_last_tenth_or_a_run():
    readings = columns(("2026-03-02 06:00", 50_000), ("2026-03-06 06:00", 1000))
    setup = CounterSetup(rollover=65_536)
    assert judge_counter(readings, setup=setup, pace=pace(20)).reasons[1] == "goes_backwards"
    # Four days of running at 17 s make 20,329 cycles; 16,536 are needed.
    run = RunningSpan(from_us=at("2026-03-02 06:00"), to_us=at("2026-03-06 06:00"))
    explained = judge_counter(readings, setup=setup, pace=pace(20), running=[run])
    assert explained.totals == [0, 16_536]
    later = judge_counter(
        readings,
        setup=setup,
        pace=pace(20),
        events=[RunningKnown(after_reading=2, spans=(run,))],
    )
    assert later.totals == [0, 16_536]


def test_an_unknown_width_is_never_guessed():
    judged = judge_counter(columns(("06:00", 18_200), ("06:10", 40)), setup=CounterSetup())
    assert judged.reasons == ["", "goes_backwards"]
    assert judged.totals == [0, None]


def test_a_possible_full_turn_more_is_unsure_and_every_count_is_named():
    # Twenty days at 17 s: 101,647 cycles and two; 20 and 65,556 are possible, 131,092 is not.
    readings = columns(("2026-03-02 06:00", 100), ("2026-03-22 06:00", 120))
    setup = CounterSetup(rollover=65_536)
    judged = judge_counter(readings, setup=setup, pace=pace(20))
    assert judged.totals == [0, 20]
    assert judged.notes[1] & Note.UNSURE
    assert judged.candidates == {2: (20, 65_556)}
    assert course_of(judged).unsure == [(readings.at_us[0], readings.at_us[1])]


def test_an_unsure_span_is_decided_by_a_person_a_run_or_a_reading_inside():
    readings = columns(("2026-03-02 06:00", 100), ("2026-03-22 06:00", 120))
    terms = {"setup": CounterSetup(rollover=65_536), "pace": pace(20)}
    turned = judge_counter(
        readings, **terms, events=[decision(2, DecisionKind.TURNS, after=2, turns=1)]
    )
    assert turned.totals == [0, 65_556]
    assert not turned.candidates

    def run(last_day):
        span = RunningSpan(from_us=at("2026-03-02 06:00"), to_us=at(f"2026-03-{last_day} 06:00"))
        return judge_counter(
            readings, **terms, events=[RunningKnown(after_reading=2, spans=(span,))]
        )

    # Eighteen days of running make 91,482 at most: 65,556 is over half of it, 20 is not.
    assert run(20).totals == [0, 65_556]
    # Three days make 15,247 at most, so a turn more was not possible.
    assert run("05").totals == [0, 20]
    assert not run("05").candidates
    inside = columns(
        ("2026-03-02 06:00", 100), ("2026-03-22 06:00", 120), ("2026-03-12 06:00", 110)
    )
    split = judge_counter(inside, **terms)
    assert split.totals == [0, 20, 10]
    assert not split.candidates


def test_late_readings_split_their_span_whatever_the_order():
    rows = [("06:00", 1000), ("14:00", 1900), ("10:00", 1450), ("11:00", 1950)]
    judged = judge_counter(columns(*rows), setup=CounterSetup(digits=5), pace=pace(5))
    assert judged.totals == [0, 900, 450, None]
    assert judged.notes[2] == Note.LATE
    assert judged.held[0].reason is HoldReason.DOES_NOT_FIT
    for order in ((1, 0, 2, 3), (2, 1, 0, 3), (0, 2, 1, 3), (2, 0, 1, 3)):
        other = judge_counter(
            columns(*(rows[place] for place in order)), setup=CounterSetup(digits=5), pace=pace(5)
        )
        assert other.point_totals == [0, 450, 900]
        assert other.states[3] == HELD


def test_the_same_value_twice_at_one_instant_counts_nothing():
    judged = judge_counter(columns(("06:00", 5), ("07:00", 9), ("07:00", 9)), setup=CounterSetup())
    assert judged.totals == [0, 4, 4]


def test_a_device_ahead_of_its_time_is_held_and_never_blocks():
    readings = replace(
        columns(("06:00", 10), ("09:00", 40), ("07:00", 20)),
        written_us=[at("06:00"), at("06:30"), at("07:00")],
    )
    judged = judge_counter(readings, setup=CounterSetup())
    assert judged.reasons == ["", "clock_is_off", ""]
    assert judged.totals == [0, None, 10]
    within = replace(readings, written_us=[at("06:00"), at("08:55"), at("07:00")])
    assert judge_counter(within, setup=CounterSetup()).states == [ACCEPTED] * 3


def test_more_digits_than_the_counter_has_is_out_of_range():
    judged = judge_counter(columns(("06:00", 10), ("06:10", 1000)), setup=CounterSetup(digits=3))
    assert judged.reasons == ["", "out_of_range"]


def test_a_new_counter_counts_from_the_value_it_shows():
    # The old one came off at 83,412; the new one showed 37 from its bench test.
    new = judge_counter(
        columns(("12:00", 57)),
        setup=CounterSetup(digits=7),
        events=[Fitted(after_reading=0, at_us=at("10:00"), value_shown=37)],
    )
    assert new.totals == [20]


def test_a_reset_counter_runs_its_total_on():
    exchange = at("2026-03-10 12:00")
    judged = judge_counter(
        columns(("2026-03-01 12:00", 97_000), ("2026-03-31 12:00", 2300)),
        setup=CounterSetup(digits=5),
        pace=pace(20),
        events=[
            Fitted(after_reading=0, at_us=at("2026-02-01 12:00"), value_shown=97_000),
            Removed(after_reading=1, at_us=exchange, last_value=98_700),
            Fitted(after_reading=1, at_us=exchange, value_shown=0),
        ],
    )
    assert judged.totals == [0, 4000]
    assert [fitting.to_total for fitting in judged.fittings] == [1700, 4000]


def test_an_exchange_recorded_late_settles_what_was_held():
    exchange = at("10:00")
    judged = judge_counter(
        columns(("06:00", 83_000), ("12:00", 57), ("08:00", 83_200)),
        setup=CounterSetup(digits=7),
        pace=pace(20),
        events=[
            Fitted(after_reading=0, at_us=at("05:00"), value_shown=82_900),
            Removed(after_reading=2, at_us=exchange, last_value=83_412),
            Fitted(after_reading=2, at_us=exchange, value_shown=37),
        ],
    )
    # The late reading from before the exchange belongs to what the counter showed then.
    assert judged.totals == [100, 512 + 20, 300]
    assert not judged.held


def test_a_reading_at_the_instant_of_an_exchange_goes_where_it_fits():
    exchange = at("10:00")
    judged = judge_counter(
        columns(("06:00", 83_000), ("10:00", 83_412), ("10:00", 0), ("12:00", 20)),
        setup=CounterSetup(digits=7),
        events=[
            Fitted(after_reading=0, at_us=at("05:00"), value_shown=83_000),
            Removed(after_reading=1, at_us=exchange, last_value=83_412),
            Fitted(after_reading=1, at_us=exchange, value_shown=0),
        ],
    )
    assert judged.totals == [0, 412, 412, 432]


def test_a_last_value_that_does_not_fit_counts_nothing_and_is_said():
    removed = Removed(after_reading=1, at_us=at("10:00"), last_value=900)
    judged = judge_counter(
        columns(("06:00", 1000)),
        setup=CounterSetup(digits=7),
        events=[Fitted(after_reading=0, at_us=at("05:00"), value_shown=1000), removed],
    )
    assert judged.unfit_last_values == (removed,)
    assert judged.fittings[0].to_total == 0


def test_readings_outside_any_fitting_are_held():
    judged = judge_counter(
        columns(("06:00", 10), ("12:00", 20)),
        setup=CounterSetup(),
        events=[
            Fitted(after_reading=0, at_us=at("07:00")),
            Removed(after_reading=0, at_us=at("11:00")),
        ],
    )
    assert judged.reasons == ["not_fitted", "not_fitted"]


def test_the_first_value_ever_seen_counts_only_from_a_known_base():
    readings = columns(("12:00", 12_400))
    fitted = Fitted(after_reading=0, at_us=at("11:00"), value_shown=12_340)
    known = judge_counter(readings, setup=CounterSetup(), events=[fitted])
    unknown = judge_counter(
        readings, setup=CounterSetup(), events=[replace(fitted, value_shown=None)]
    )
    assert known.totals == [60]
    assert unknown.totals == [0]
    assert unknown.notes == [Note.FIRST]
    assert not unknown.fittings[0].is_base_known


def test_a_shorter_cycle_judges_held_readings_again_and_a_longer_one_no_accepted_ones():
    readings = columns(("06:00", 0), ("07:00", 300), ("08:00", 400))
    shorter = PaceKnown(after_reading=2, steps=(PaceStep(from_us=0, shortest_us=10 * SECOND),))
    judged = judge_counter(readings, setup=CounterSetup(), pace=pace(20), events=[shorter])
    assert judged.totals == [0, 300, 400]
    longer = PaceKnown(after_reading=3, steps=(PaceStep(from_us=0, shortest_us=60 * SECOND),))
    again = judge_counter(readings, setup=CounterSetup(), pace=pace(20), events=[shorter, longer])
    assert again.totals == [0, 300, 400]


def test_a_press_counter_adds_up_the_pace_of_each_mold_set():
    # 1 h at 17 s, 1 h with no mold at 1 s, 1 h at 34 s: 211.8 + 3,600 + 105.9 and two, 3,919.
    steps = (
        *pace(20),
        PaceStep(from_us=at("07:00"), is_dry=True),
        PaceStep(from_us=at("08:00"), shortest_us=34 * SECOND),
    )
    within, beyond = (
        judge_counter(
            columns(("06:00", 0), ("09:00", cycles)), setup=CounterSetup(), pace=steps
        ).states
        for cycles in (3919, 3920)
    )
    assert within == [ACCEPTED, ACCEPTED]
    assert beyond == [ACCEPTED, HELD]


@pytest.mark.parametrize(
    ("starts", "ends", "hours"),
    [
        ("2026-10-24 22:00+02:00", "2026-10-25 06:00+01:00", 9),
        ("2026-03-28 22:00+01:00", "2026-03-29 06:00+02:00", 7),
    ],
)
def test_a_night_over_a_change_of_clocks_has_its_real_hours(starts, ends, hours):
    most = hours * HOUR // (17 * SECOND) + 2
    judged = judge_counter(
        columns((starts, 0), (ends, most + 1)), setup=CounterSetup(), pace=pace(20)
    )
    assert judged.held[0].possible == most
    assert most == {9: 1907, 7: 1484}[hours]


def test_estimated_readings_are_noted_as_such():
    readings = replace(columns(("06:00", 5), ("07:00", 9)), sources=["typed", "estimated"])
    assert judge_counter(readings, setup=CounterSetup()).notes[1] == Note.ESTIMATED


def test_nothing_read_is_nothing_counted():
    judged = judge_counter(Readings(ids=[], at_us=[], values=[]), setup=CounterSetup())
    assert judged.totals == []
    assert judged.resume is None


def test_a_fitting_recorded_late_takes_the_last_value_after_it_along():
    judged = judge_counter(
        columns(("06:00", 5000)),
        setup=CounterSetup(digits=7),
        pace=pace(20),
        events=[
            Fitted(after_reading=0, at_us=at("05:00"), value_shown=5000),
            Removed(after_reading=1, at_us=at("09:00"), last_value=90),
            Fitted(after_reading=1, at_us=at("08:00"), value_shown=0),
        ],
    )
    assert judged.unfit_last_values == ()
    assert [fitting.to_total for fitting in judged.fittings] == [0, 90]
