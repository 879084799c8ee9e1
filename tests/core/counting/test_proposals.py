"""What a held reading may have meant."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from moldcare.core.counting import ProposalKind, judge_counter, proposals
from moldcare.core.counting.proposals import Proposal, one_slip_away
from moldcare.core.counting.values import CounterSetup
from tests.core.counting.builders import at, columns, pace

SEVEN_DIGITS = CounterSetup(digits=7)


def of_held(*rows, setup=SEVEN_DIGITS, standard_s=20, **more):
    judged = judge_counter(columns(*rows), setup=setup, pace=pace(standard_s))
    held = judged.held[0]
    later = [(at(time), value) for time, value in rows if at(time) > held.at_us]
    return proposals(held, setup=setup, pace=pace(standard_s), later=later, **more)


def values(found):
    return [each.value for each in found if each.kind is ProposalKind.SLIP]


@pytest.mark.parametrize(
    "typed",
    [
        313_900,  # one digit wrong
        31_340,  # one digit missing
        3_134_000,  # one digit too many
        331_400,  # two neighbours swapped
    ],
)
def test_the_value_one_slip_away_is_proposed(typed):
    found = of_held(("06:00", 312_000), ("14:00", typed), recent_cycles_h=175.0)
    assert 313_400 in values(found)


def test_proposals_nearest_to_the_recent_pace_come_first_and_are_at_most_five():
    found = of_held(("06:00", 312_000), ("14:00", 319_400), recent_cycles_h=175.0)
    assert len(found) <= 5
    distances = [abs(each.cycles - 1400) for each in found]
    assert distances == sorted(distances)
    assert found[0].value == 313_400


def test_only_values_that_fit_both_neighbours_are_proposed():
    found = of_held(("06:00", 1000), ("14:00", 1900), ("10:00", 1950))
    assert found
    assert all(1000 <= value <= 1900 for value in values(found))


def test_a_reset_comes_first_where_later_readings_run_on_from_the_low_value():
    alone = of_held(("06:00", 61_250), ("07:00", 40))
    assert [each.kind for each in alone][-1] is ProposalKind.RESTART
    followed = of_held(("06:00", 61_250), ("07:00", 40), ("08:00", 210))
    assert followed[0] == Proposal(kind=ProposalKind.RESTART, cycles=0)


def test_a_restored_older_value_offers_the_reset_though_nothing_runs_on():
    found = of_held(("12:00", 61_250), ("12:10", 61_202), ("13:00", 61_260))
    assert ProposalKind.RESTART in [each.kind for each in found]


def test_a_usual_wrap_is_proposed_for_an_unknown_width():
    found = of_held(("10:00", 65_500), ("10:30", 40), setup=CounterSetup())
    assert Proposal(kind=ProposalKind.WRAP, cycles=76, wrap=65_536) in found


def test_no_width_is_proposed_that_the_values_do_not_bear_out():
    found = of_held(("06:00", 18_200), ("06:10", 40), setup=CounterSetup())
    assert all(each.kind is not ProposalKind.WRAP for each in found)


def test_a_wrong_clock_proposes_the_corrected_instant():
    readings = columns(("06:00", 10), ("09:00", 40), written_us=[at("06:00"), at("07:00")])
    held = judge_counter(readings, setup=SEVEN_DIGITS).held[0]
    found = proposals(held, setup=SEVEN_DIGITS, proposed_at_us=at("07:00"))
    assert found == [Proposal(kind=ProposalKind.INSTANT, at_us=at("07:00"))]
    assert proposals(held, setup=SEVEN_DIGITS) == []


def test_a_contradiction_is_for_people():
    assert of_held(("06:00", 1000), ("07:00", 1100), ("07:00", 1110)) == []


@given(st.integers(0, 10**8))
def test_a_slip_can_be_undone_by_a_slip(value):
    assert all(
        value in one_slip_away(other)
        for other in one_slip_away(value)
        if no_zero_lost(value, other)
    )


def no_zero_lost(value, other):
    """Leading zeros are not typed, so a slip at the front may take several digits along."""
    return abs(len(str(value)) - len(str(other))) <= 1 and str(other)[0] != "0" and value > 0


def test_without_a_reading_before_it_nothing_can_be_proposed():
    held = judge_counter(
        columns(("07:00", 5000), ("06:00", 9000)), setup=SEVEN_DIGITS, pace=pace(20)
    ).held[0]
    assert held.previous_at_us is None
    assert proposals(held, setup=SEVEN_DIGITS) == []
