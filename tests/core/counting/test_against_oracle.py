"""The judge decides as the slow, obvious way does, whatever happened."""

import pytest
from hypothesis import given, settings

from moldcare.core.counting import judge_counter
from moldcare.core.counting.values import State
from tests.core.counting.builders import histories
from tests.core.oracles.counting_oracle import judge_slowly


@settings(max_examples=100, deadline=None)
@given(histories())
def test_judge_equals_the_slow_way_over_random_histories(history):
    assert_same(*history)


@pytest.mark.slow
@settings(max_examples=2000, deadline=None)
@given(histories())
def test_judge_equals_the_slow_way_over_many_random_histories(history):
    assert_same(*history)


def assert_same(readings, terms):
    judged = judge_counter(readings, **terms)
    oracle = judge_slowly(readings, **terms)
    slow = {point.arrival[1]: point for point in oracle.points if point.kind == "reading"}
    slow_totals = oracle.totals()
    for place, number in enumerate(judged.ids):
        point = slow[number]
        is_accepted = point.state is State.ACCEPTED
        assert judged.states[place] == point.state
        assert judged.reasons[place] == (str(point.reason) if point.state is State.HELD else "")
        assert judged.cycles[place] == (point.cycles if is_accepted else 0)
        assert judged.totals[place] == slow_totals.get(number)
        assert judged.candidates.get(number) == (point.counts if is_accepted else None)
