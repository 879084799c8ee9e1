"""How many cycles are possible, and how runs are known."""

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from moldcare.core.counting.pace import Pace, Running, shortest_cycle_us
from moldcare.core.counting.values import PaceStep, RunningSpan
from tests.core.counting.builders import HOUR, SECOND


def test_the_shortest_cycle_is_what_the_mold_says_else_from_its_standard():
    assert shortest_cycle_us(20 * SECOND) == 17 * SECOND
    assert shortest_cycle_us(20 * SECOND, shortest_us=12 * SECOND) == 12 * SECOND


@given(
    st.lists(st.tuples(st.integers(0, 50), st.integers(1, 60)), max_size=6),
    st.integers(0, 50),
    st.integers(0, 50),
)
def test_possible_cycles_add_up_minute_by_minute(steps, start, length):
    minute = 60 * SECOND
    pace = Pace(PaceStep(from_us=at * minute, shortest_us=s * SECOND) for at, s in steps)
    in_force = dict(steps)
    cycles = Fraction(0)
    for at in range(start, start + length):
        known = [each for each in in_force if each <= at]
        cycles += Fraction(60, in_force[max(known)] if known else 1)
    assert pace.possible(start * minute, (start + length) * minute) == int(cycles) + 2


def test_runs_that_overlap_count_once():
    running = Running(
        RunningSpan(from_us=start * HOUR, to_us=end * HOUR)
        for start, end in ((5, 7), (0, 2), (1, 3))
    )
    assert running.within(0, 10 * HOUR) == [(0, 3 * HOUR), (5 * HOUR, 7 * HOUR)]
    assert running.time_us(HOUR, 6 * HOUR) == 3 * HOUR
    assert running.time_us(3 * HOUR, 5 * HOUR) == 0
