"""Shots, and what components went through."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from moldcare.core.counting import ComponentStay, Dry, component_life, cycles_of_parts, shots_at
from moldcare.core.errors import FactsContradict


def ten_an_hour(hour):
    """A life count of ten cycles in each unit of time."""
    return 10 * hour


def test_shots_are_cycles_less_the_dry_ones():
    dry = [Dry(from_us=10, to_us=20, cycles=50)]
    counts = [shots_at(hour, cycles_at=ten_an_hour, dry=dry) for hour in (10, 15, 20, 30)]
    assert counts == [100, 125, 150, 250]


def test_without_dry_cycles_shots_are_cycles():
    assert shots_at(30, cycles_at=ten_an_hour) == 300


def test_more_dry_cycles_than_were_counted_are_all_of_them():
    dry = [Dry(from_us=10, to_us=20, cycles=500)]
    assert shots_at(30, cycles_at=ten_an_hour, dry=dry) == 200
    still = [Dry(from_us=10, to_us=20, cycles=5)]
    assert shots_at(30, cycles_at=lambda _: 40, dry=still) == 40


@given(st.integers(0, 300), st.lists(st.integers(0, 12), min_size=20, max_size=20))
def test_shots_never_fall(cycles_dry, rises):
    totals = [sum(rises[:hour]) for hour in range(21)]
    dry = [Dry(from_us=5, to_us=15, cycles=cycles_dry)]
    shots = [shots_at(hour, cycles_at=totals.__getitem__, dry=dry) for hour in range(21)]
    assert shots == sorted(shots)
    assert shots[0] == 0


def life(stays, at_us=100):
    counts = {1: ten_an_hour, 2: lambda hour: 3 * hour}
    shots = {1: lambda hour: 9 * hour, 2: lambda hour: 2 * hour}
    return component_life(stays, at_us=at_us, cycles_at=counts, shots_at=shots)


def test_a_component_counts_in_each_mold_it_sat_in_and_rests_on_the_shelf():
    found = life(
        [
            ComponentStay(mold=1, from_us=0, to_us=10),
            ComponentStay(mold=2, from_us=50, to_us=60),
            ComponentStay(mold=1, from_us=90),
        ]
    )
    assert (found.cycles, found.shots) == (100 + 30 + 100, 90 + 20 + 90)


def test_a_forming_component_rests_while_its_cavity_is_blocked():
    blocked = ((12, 14), (13, 15), (18, None))
    found = life([ComponentStay(mold=1, from_us=10, to_us=20, blocked=blocked)])
    assert found.cycles == 20 + 30


def test_a_stay_that_begins_later_counts_nothing_yet():
    assert life([ComponentStay(mold=1, from_us=50)], at_us=20).cycles == 0


def test_blocked_cavities_take_more_cycles_for_the_same_parts():
    assert cycles_of_parts(24_000, active_cavities=8) == 3000
    assert cycles_of_parts(24_000, active_cavities=6) == 4000
    assert cycles_of_parts(7, active_cavities=2) == 4


@pytest.mark.parametrize(("parts", "cavities"), [(10, 0), (-1, 2)])
def test_parts_without_a_cavity_are_no_cycles(parts, cavities):
    with pytest.raises(FactsContradict):
        cycles_of_parts(parts, active_cavities=cavities)
