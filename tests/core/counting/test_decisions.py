"""What a person's decision about a reading does to it and its neighbours."""

from dataclasses import replace

from moldcare.core.counting import judge_counter
from moldcare.core.counting.values import (
    CounterSetup,
    DecisionKind,
    Fitted,
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
SEVEN_DIGITS = CounterSetup(digits=7)


def test_setting_a_wrong_reading_aside_lets_later_ones_in_by_themselves():
    readings = columns(
        ("2026-03-06 18:00", 40_120),
        ("2026-03-09 06:00", 48_120),
        ("2026-03-09 07:00", 40_290),
        ("2026-03-09 08:00", 40_460),
    )
    setup = CounterSetup(digits=5)
    before = judge_counter(readings, setup=setup, pace=pace(20))
    assert before.states == [ACCEPTED, ACCEPTED, HELD, HELD]
    # 60 h at 17 s: 12,705 cycles and two.
    high = replace(readings, values=[40_120, 55_000, 40_290, 40_460])
    assert judge_counter(high, setup=setup, pace=pace(20)).held[0].possible == 12_707
    aside = decision(2, DecisionKind.SET_ASIDE, after=4)
    after = judge_counter(readings, setup=setup, pace=pace(20), events=[aside])
    assert after.states == [ACCEPTED, SET_ASIDE, ACCEPTED, ACCEPTED]
    assert after.totals == [0, None, 170, 340]


def test_what_was_set_aside_and_is_judged_again_is_judged_like_a_new_reading():
    readings = columns(("06:00", 1_000), ("07:00", 1_100), ("08:00", 1_200), ("09:00", 900))
    aside = [decision(number, DecisionKind.SET_ASIDE, after=4) for number in (2, 4)]
    again = [decision(number, DecisionKind.JUDGE_ANEW, after=4) for number in (2, 4)]
    judged = judge_counter(readings, setup=CounterSetup(), pace=pace(20), events=[*aside, *again])
    assert judged.states == [ACCEPTED, ACCEPTED, ACCEPTED, HELD]
    assert judged.totals == [0, 100, 200, None]
    assert judged.reasons[3] == "goes_backwards"
    # it was given again after a newer one
    assert judged.notes[1] == Note.LATE
    assert not judged.void_decisions


def test_only_what_was_set_aside_is_judged_again():
    readings = columns(("06:00", 1_000), ("07:00", 1_100))
    again = decision(2, DecisionKind.JUDGE_ANEW, after=2)
    judged = judge_counter(readings, setup=CounterSetup(), pace=pace(20), events=[again])
    assert judged.totals == [0, 100]
    assert judged.void_decisions == (again,)


def test_a_restored_older_value_goes_on_once_a_person_says_so():
    readings = columns(("12:00", 61_250), ("12:10", 61_202), ("13:00", 61_260))
    setup = CounterSetup(digits=7)
    before = judge_counter(readings, setup=setup)
    assert before.reasons == ["", "goes_backwards", ""]
    restart = decision(2, DecisionKind.RESTART, after=2)
    after = judge_counter(readings, setup=setup, events=[restart])
    assert after.totals == [0, 0, 58]
    assert after.notes[1] == Note.DECIDED | Note.RESTART


def test_the_same_instant_with_another_value_contradicts_until_decided():
    readings = columns(("06:00", 1000), ("07:00", 1100), ("07:00", 1110), ("08:00", 1200))
    judged = judge_counter(readings, setup=CounterSetup(), pace=pace(20))
    assert judged.reasons == ["", "", "contradicts", ""]
    decided = judge_counter(
        readings,
        setup=CounterSetup(),
        pace=pace(20),
        events=[decision(3, DecisionKind.ACCEPT, after=4)],
    )
    assert decided.reasons == ["", "contradicts", "", ""]
    assert decided.totals == [0, None, 110, 200]


def test_accepting_as_it_is_counts_a_jump_and_restarts_at_a_drop():
    jump = judge_counter(
        columns(("06:00", 0), ("07:00", 5000), ("08:00", 5100)),
        setup=CounterSetup(),
        pace=pace(20),
        events=[decision(2, DecisionKind.ACCEPT, after=2)],
    )
    assert jump.totals == [0, 5000, 5100]
    drop = judge_counter(
        columns(("06:00", 5000), ("07:00", 40), ("08:00", 100)),
        setup=CounterSetup(),
        pace=pace(20),
        events=[decision(2, DecisionKind.ACCEPT, after=2)],
    )
    assert drop.totals == [0, 0, 60]


def test_a_restart_may_say_from_which_value_the_counter_went_on():
    judged = judge_counter(
        columns(("06:00", 5000), ("07:00", 40), ("08:00", 100)),
        setup=CounterSetup(),
        pace=pace(20),
        events=[decision(2, DecisionKind.RESTART, after=3, base_value=0)],
    )
    assert judged.totals == [0, 40, 100]


def test_decisions_that_cannot_take_effect_are_named():
    unknown = decision(9, DecisionKind.ACCEPT, after=9)
    turns = decision(1, DecisionKind.TURNS, after=1, turns=2)
    judged = judge_counter(columns(("06:00", 5)), setup=CounterSetup(), events=[turns, unknown])
    assert judged.void_decisions == (turns, unknown)
    assert judged.totals == [0]


def judged_with(*rows, events, setup=SEVEN_DIGITS):
    return judge_counter(columns(*rows), setup=setup, pace=pace(20), events=events)


def test_setting_the_first_reading_aside_makes_the_next_one_the_base():
    rows = (("06:00", 100), ("07:00", 200), ("08:00", 350))
    judged = judged_with(*rows, events=[decision(1, DecisionKind.SET_ASIDE, after=3)])
    assert judged.totals == [None, 0, 150]
    assert judged.notes[1] == Note.FIRST


def test_setting_aside_what_stands_between_bridges_the_neighbours():
    rows = (("06:00", 100), ("07:00", 200), ("08:00", 350))
    judged = judged_with(*rows, events=[decision(2, DecisionKind.SET_ASIDE, after=3)])
    assert judged.totals == [0, None, 250]


def test_what_was_set_aside_can_be_taken_back_in():
    rows = (("06:00", 100), ("07:00", 200), ("08:00", 350))
    events = [
        decision(2, DecisionKind.SET_ASIDE, after=3),
        decision(2, DecisionKind.ACCEPT, after=3),
    ]
    assert judged_with(*rows, events=events).totals == [0, 100, 250]


def test_setting_a_restart_aside_keeps_what_later_readings_had_and_says_so():
    rows = (("06:00", 5000), ("07:00", 40), ("08:00", 100))
    events = [
        decision(2, DecisionKind.RESTART, after=2),
        decision(2, DecisionKind.SET_ASIDE, after=3),
    ]
    judged = judged_with(*rows, events=events)
    assert judged.states == [ACCEPTED, SET_ASIDE, ACCEPTED]
    assert judged.totals == [0, None, 60]
    assert judged.notes[2] & Note.UNSURE
    assert judged.candidates == {3: ()}


def test_setting_a_restart_aside_that_was_none_counts_the_difference():
    rows = (("12:00", 61_250), ("12:10", 61_202), ("13:00", 61_260))
    events = [
        decision(2, DecisionKind.RESTART, after=2),
        decision(2, DecisionKind.SET_ASIDE, after=3),
    ]
    assert judged_with(*rows, events=events).totals == [0, None, 10]


def test_turns_stay_with_the_span_when_a_reading_inside_goes():
    rows = (("2026-03-02 06:00", 100), ("2026-03-12 06:00", 110), ("2026-03-22 06:00", 120))
    events = [
        decision(3, DecisionKind.TURNS, after=3, turns=1),
        decision(2, DecisionKind.SET_ASIDE, after=3),
    ]
    judged = judged_with(*rows, events=events, setup=CounterSetup(rollover=65_536))
    assert judged.totals == [0, None, 65_556]


def test_an_accepted_jump_keeps_counting_from_a_new_neighbour():
    rows = (("06:00", 0), ("06:30", 50), ("07:00", 5000))
    events = [
        decision(3, DecisionKind.ACCEPT, after=3),
        decision(2, DecisionKind.SET_ASIDE, after=3),
    ]
    assert judged_with(*rows, events=events).totals == [0, None, 5000]


def test_a_reading_before_the_base_moves_turns_with_it():
    rows = (("07:00", 90), ("06:00", 95))
    events = [decision(1, DecisionKind.TURNS, after=1, turns=1)]
    judged = judged_with(*rows, events=events, setup=CounterSetup(rollover=100))
    assert judged.totals == [95, 0]
    unturned = [decision(1, DecisionKind.TURNS, after=1, turns=0)]
    held = judged_with(*rows, events=unturned, setup=CounterSetup(rollover=100))
    assert held.reasons == ["", "does_not_fit"]


def test_an_accepted_reading_may_be_decided_again():
    rows = (("06:00", 100), ("07:00", 200), ("08:00", 350))
    judged = judged_with(*rows, events=[decision(2, DecisionKind.RESTART, after=3)])
    assert judged.totals == [0, 0, 150]
    assert judged.states == [ACCEPTED] * 3


def test_a_decided_reading_moves_into_the_fitting_recorded_after_it():
    judged = judged_with(
        ("06:00", 5000),
        ("08:00", 700),
        events=[
            decision(2, DecisionKind.ACCEPT, after=2),
            Fitted(after_reading=2, at_us=at("07:00"), value_shown=0),
            Fitted(after_reading=0, at_us=at("05:00"), value_shown=5000),
        ],
    )
    assert judged.totals == [0, 700]


def test_a_run_that_says_nothing_new_leaves_an_unsure_span_unsure():
    # Three weeks at 17 s make 106,729 at most; with wrap 1000 very many counts are possible.
    run = RunningSpan(from_us=at("2026-03-02 06:00"), to_us=at("2026-03-23 06:00"))
    judged = judged_with(
        ("2026-03-02 06:00", 10),
        ("2026-03-23 06:00", 20),
        events=[RunningKnown(after_reading=2, spans=(run,))],
        setup=CounterSetup(rollover=1000),
    )
    assert judged.totals == [0, 10]
    assert len(judged.candidates[2]) > 1


def test_a_restart_keeps_its_count_when_the_reading_before_it_goes():
    rows = (("06:00", 5000), ("07:00", 5100), ("08:00", 40))
    events = [
        decision(3, DecisionKind.RESTART, after=3, base_value=0),
        decision(2, DecisionKind.SET_ASIDE, after=3),
    ]
    assert judged_with(*rows, events=events).totals == [0, None, 40]


def test_a_decision_that_an_exchange_leaves_without_a_fitting_is_void():
    accepted = decision(2, DecisionKind.ACCEPT, after=2)
    judged = judged_with(
        ("06:00", 5000),
        ("08:00", 9000),
        events=[
            Fitted(after_reading=0, at_us=at("05:00"), value_shown=5000),
            accepted,
            Removed(after_reading=2, at_us=at("07:00")),
        ],
    )
    assert judged.reasons == ["", "not_fitted"]
    assert judged.void_decisions == (accepted,)


def test_runs_known_after_the_pace_was_slowed_leave_the_count_alone():
    slower = PaceKnown(
        after_reading=2, steps=(PaceStep(from_us=0, shortest_us=30 * 24 * 3600 * SECOND),)
    )
    judged = judged_with(
        ("2026-03-02 06:00", 100),
        ("2026-03-22 06:00", 120),
        events=[slower, RunningKnown(after_reading=2, spans=())],
        setup=CounterSetup(rollover=65_536),
    )
    assert judged.totals == [0, 20]
    assert judged.candidates == {2: (20, 65_556)}


def test_years_of_held_readings_are_settled_by_one_decision():
    size = 3000
    readings = Readings(
        ids=list(range(size)),
        at_us=[at("06:00") + place * 8 * HOUR for place in range(size)],
        values=[500_000, *(10 * place for place in range(1, size))],
    )
    reset = decision(1, DecisionKind.RESTART, after=size)
    before = judge_counter(readings, setup=SEVEN_DIGITS, pace=pace(20))
    after = judge_counter(readings, setup=SEVEN_DIGITS, pace=pace(20), events=[reset])
    assert len(before.held) == size - 1
    assert not after.held
    assert after.totals[-1] == 10 * (size - 2)
