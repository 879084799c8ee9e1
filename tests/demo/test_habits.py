"""How the simulated people slip: rates as stated, and the truth kept beside every slip."""

from datetime import UTC, datetime, timedelta
from random import Random

from moldcare.core.counting.proposals import one_slip_away
from moldcare.demo.catalog import MOLDS, PRESSES
from moldcare.demo.habits import TYPING, Rates, Slip, Taken, mistyped, swap_neighbors, take
from moldcare.demo.truth import Machine, TrueCounter, TrueMold, new_wear, true_grade

AT = datetime(2026, 11, 25, 6, 12, 30, tzinfo=UTC)


def test_a_slip_of_the_hand_is_one_slip_away_and_never_nothing() -> None:
    rng = Random(5)
    for value in (7, 40, 9_999_998, 123_456):
        for _ in range(200):
            typed, slip = mistyped(rng, value)
            assert slip in TYPING
            assert typed in one_slip_away(value)


def test_slips_happen_as_often_as_stated() -> None:
    rng, rates, many = Random(11), Rates(), 40_000
    taken = [
        take(rng, rates=rates, true_value=500_000, before=499_000, now=AT) for _ in range(many)
    ]
    missed = sum(each is None for each in taken)
    typed = sum(each is not None and each.slip in TYPING for each in taken)
    late = sum(each is not None and each.slip is Slip.LATE for each in taken)
    # five standard deviations of a binomial count (sqrt(n p (1 - p)))
    for found, share in ((missed, 0.03), (typed, 0.007), (late, 0.01)):
        assert abs(found - many * share) < 5 * (many * share * (1 - share)) ** 0.5
    assert all(each is None or each.true_value == 500_000 for each in taken)


def test_swapped_neighbors_keep_their_own_truth() -> None:
    def row(value: int) -> Taken:
        return Taken(value=value, at=AT, true_value=value, slip=Slip.NONE)

    rows: list[Taken | None] = [row(100), row(200), None]
    swap_neighbors(Random(1), rates=Rates(presses_swapped=1.0), rows=rows)
    assert [(each.value, each.true_value) for each in rows if each] == [(200, 100), (100, 200)]


def test_a_press_counts_for_itself_and_its_mold_and_begins_again_at_its_wrap() -> None:
    own = TrueCounter(label="C", wrap=10_000_000, shown=9_999_999)
    mold = TrueMold(spec=MOLDS[0], cycle_s=10.0, counter=own)
    machine = Machine(
        spec=PRESSES[4],
        counter=TrueCounter(label="P", wrap=65_536, shown=65_500),
        mold=mold,
        known_at=AT,
    )
    machine.start(AT, share_running=0.5)
    machine.advance(AT + timedelta(hours=1))
    machine.stop(AT + timedelta(hours=1))
    machine.advance(AT + timedelta(hours=2))
    # an hour at 10 s a cycle, running half of the time: 180 cycles
    assert (mold.cycles, own.shown, machine.counter.shown) == (180, 179, 144)


def test_wear_goes_by_what_comes_first_and_grades_follow() -> None:
    wear = new_wear(Random(2), interval_cycles=1000, interval_days=None, cycles=500, now=AT)
    half = 500 + int(wear.life_cycles / 2)
    assert abs(wear.used(cycles=half, now=AT + timedelta(days=900)) - 0.5) < 0.01
    assert [true_grade(used) for used in (0.2, 0.34, 0.75, 1.0)] == [
        "clean",
        "light",
        "heavy",
        "failed",
    ]
