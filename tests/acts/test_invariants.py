"""What holds after any history: random sequences of acts, right and wrong ones, then the checks."""

import random
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from uuid import UUID

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from moldcare.acts.counters import exchange_counter, prefer_count, report_dry_cycles
from moldcare.acts.doing import Doing
from moldcare.acts.floor import move_mold, pull_mold, set_mold
from moldcare.acts.orders import hand_out, write_order
from moldcare.acts.readings import (
    ReadingEntry,
    accept_reading,
    record_readings,
    restart_from_reading,
    set_reading_aside,
)
from moldcare.acts.rebuild import first_difference
from moldcare.acts.refresh import refresh_counts
from moldcare.acts.signing import SignedFrom, TaskResult, sign_order
from moldcare.care.convert import standing_value
from moldcare.care.models import CareRule, Completion, Cover, Standing
from moldcare.care.past import standings_as_of
from moldcare.core.counting.values import State as ReadingState
from moldcare.core.due import WORSENING, State, state_at
from moldcare.core.errors import DomainError
from moldcare.counters.models import Counter, Life, Reading, Verdict
from moldcare.handin.models import HandIn
from moldcare.logbook.models import Entry
from moldcare.logbook.verify import verify_logbook
from moldcare.molds.models import Mold, Move, RunEvent
from moldcare.plant.models import Person, Spot
from moldcare.plant.queries import the_calendar, the_plant
from moldcare.work.models import Order
from moldcare.work.queries import first_unbacked
from tests import factories

pytestmark = pytest.mark.django_db
START = datetime(2026, 3, 23, 5, tzinfo=UTC)


@dataclass
class World:
    """A small plant, its truth, and what was seen of it along the way."""

    chance: random.Random
    lead: Person
    molds: list[Mold]
    counters: dict[int, Counter]
    presses: list[Spot]
    benches: list[Spot]
    now: datetime = START
    true: dict[int, int] = field(default_factory=lambda: defaultdict(int))
    on_presses: dict[int, Counter] = field(default_factory=dict)
    true_on_press: dict[int, int] = field(default_factory=lambda: defaultdict(int))
    lives: dict[int, tuple[int, bool]] = field(default_factory=dict)
    refused: int = 0
    written: int = 0

    def doing(self) -> Doing:
        return Doing(person=self.lead, now=self.now, hand_in=UUID(int=self.chance.getrandbits(128)))


def small_plant(seed: int) -> World:
    factories.begin_again()
    factories.plant(zone="Europe/Berlin")
    factories.three_shifts()
    lead = factories.person(role="lead")
    molds, counters = [], {}
    presses = [factories.spot(), factories.spot()]
    on_presses = {
        press.pk: factories.counter(on=press, author=lead, at=START, digits=6) for press in presses
    }
    for number in ("0101", "0102", "0103", "0104"):
        mold = factories.mold(number=number, opening_at=START, entered_at=START)
        factories.cycle_time(mold, author=lead, standard_s="30", valid_from=START)
        # the last two count by the press that they are in
        if number < "0103":
            counters[mold.pk] = factories.counter(on=mold, author=lead, at=START, digits=6)
        wipe = factories.care_rule(
            mold=mold, name="Vents, wipe", count_base=3_000, entered_at=START, hard_count=5_000
        )
        clean = factories.care_rule(
            mold=mold,
            name="Vents, clean",
            count_base=9_000,
            period_n=1,
            period_unit="month",
            reach="plates",
            entered_at=START,
        )
        factories.care_rule(
            mold=mold, name="Leak test", count_base=None, event="mold_opened", entered_at=START
        )
        Cover.objects.create(covering=clean, covered=wipe)
        molds.append(mold)
    fitted = [*counters.values(), *on_presses.values()]
    refresh_counts(counters=[counter.pk for counter in fitted], molds=[mold.pk for mold in molds])
    return World(
        chance=random.Random(seed),
        lead=lead,
        molds=molds,
        counters=counters,
        presses=presses,
        on_presses=on_presses,
        benches=[factories.spot(kind="bench"), factories.spot(kind="rack")],
    )


def pass_time(world: World) -> None:
    """Let time go on; molds that are set make cycles a little faster or slower than they should."""
    hours = world.chance.choice([1, 4, 8, 8, 8, 24, 72])
    for mold in world.molds:
        newest = RunEvent.objects.filter(mold=mold).order_by("at").last()
        if newest is not None and newest.act == RunEvent.Act.SET:
            cycles = int(hours * 120 * world.chance.uniform(0.6, 1.0))
            world.true[mold.pk] += cycles
            world.true_on_press[newest.press_id] += cycles
    world.now += timedelta(hours=hours)


def take_reading(world: World) -> None:
    counters = [(counter, world.true[mold]) for mold, counter in world.counters.items()]
    counters += [
        (counter, world.true_on_press[press]) for press, counter in world.on_presses.items()
    ]
    counter, value = world.chance.choice(counters)
    slip = world.chance.random()
    if slip < 0.10:
        value = int(str(value)[::-1])
    elif slip < 0.15:
        value = value * 10 % 1_000_000
    at = world.now - timedelta(hours=world.chance.choice([0, 0, 0, 0, 5]))
    source = world.chance.choice([Reading.Source.TYPED] * 5 + [Reading.Source.ESTIMATED])
    entry = ReadingEntry(counter=counter, at=at, value=value, source=source)
    doing = world.doing()
    first = record_readings(doing, [entry])
    counted = Reading.objects.count(), HandIn.objects.count()
    # invariant 8: the same hand-in twice is one
    assert record_readings(doing, [entry]) == first
    assert (Reading.objects.count(), HandIn.objects.count()) == counted


def set_or_pull(world: World) -> None:
    mold = world.chance.choice(world.molds)
    if world.chance.random() < 0.5:
        set_mold(
            world.doing(),
            mold=mold,
            press=world.chance.choice(world.presses),
            at=world.now,
            accepts_open="the order is urgent",
        )
    else:
        pull_mold(world.doing(), mold=mold, to=world.chance.choice(world.benches), at=world.now)


def move(world: World) -> None:
    mold = world.chance.choice(world.molds)
    move_mold(world.doing(), mold=mold, to=world.chance.choice(world.benches), at=world.now)


def decide(world: World) -> None:
    held = Verdict.objects.filter(state=ReadingState.HELD).order_by("pk").first()
    if held is None:
        return
    act: Callable[..., object] = world.chance.choice(
        [accept_reading, set_reading_aside, set_reading_aside, restart_from_reading]
    )
    act(world.doing(), reading=held.reading, reason="looked at the counter again")
    world.lives.clear()


def work_an_order(world: World) -> None:
    mold = world.chance.choice(world.molds)
    rules = list(CareRule.objects.filter(mold=mold))
    chosen = world.chance.sample(rules, world.chance.randint(1, len(rules)))
    written = write_order(world.doing(), rules=chosen, mold=mold)
    order = Order.objects.get(pk=written.pk)
    hand_out(world.doing(), order=order)
    lines = list(order.tasks.all())
    sign_order(
        world.doing(),
        order=order,
        signer=world.lead,
        minutes=30,
        results={
            line.pk: TaskResult(
                outcome="" if line.covered_by_id else "done",
                grade=world.chance.choice(["clean", "light", "heavy"]),
            )
            for line in lines
        },
        source=SignedFrom.PAPER,
    )
    # invariant 6: a signed covering rule leaves none of its ticked covered rules due
    for line in order.tasks.filter(is_ticked=True).exclude(outcome="left"):
        state = state_at(standing_value(Standing.objects.get(rule=line.rule_id)), at=world.now)
        assert state not in (State.DUE, State.OVERDUE, State.PAST_LIMIT)


def report_dry(world: World) -> None:
    report_dry_cycles(
        world.doing(),
        mold=world.chance.choice(world.molds),
        from_at=world.now - timedelta(hours=world.chance.choice([2, 6])),
        to_at=world.now - timedelta(hours=1),
        cycles=world.chance.choice([5, 50]),
    )


def prefer(world: World) -> None:
    prefer_count(
        world.doing(),
        mold=world.chance.choice(world.molds),
        source=world.chance.choice(["press", "own"]),
        from_at=world.now - timedelta(hours=world.chance.choice([1, 12])),
        to_at=None,
        reason="the other one slips",
    )
    world.lives.clear()


def exchange(world: World) -> None:
    mold_id, old = world.chance.choice(list(world.counters.items()))
    new = factories.CounterFactory(digits=6)
    exchange_counter(
        world.doing(),
        old=old,
        new=new,
        at=world.now - timedelta(hours=world.chance.choice([0, 3])),
        last_value=world.chance.choice([world.true[mold_id], None]),
        value_shown=0,
    )
    world.counters[mold_id] = new
    world.true[mold_id] = 0
    # what was read on the old one after it was exchanged is no count any more
    world.lives.clear()


STEPS = (
    *[pass_time] * 4,
    *[take_reading] * 6,
    *[set_or_pull] * 2,
    *[move, decide, work_an_order] * 2,
    *[report_dry, prefer, exchange],
)


def check_lives(world: World) -> None:
    """Invariant 1: a life count never falls but by a recorded correction, or as an estimate did."""
    for life in Life.objects.all():
        before, was_estimated = world.lives.get(life.mold_id, (0, False))
        assert was_estimated or life.cycles >= before
        world.lives[life.mold_id] = life.cycles, life.is_estimated


def check_places(world: World) -> None:
    """Invariant 3: a mold is in one place at a time, and a press holds one mold."""
    for mold in world.molds:
        instants = list(Move.objects.filter(mold=mold).values_list("at", flat=True))
        assert len(instants) == len(set(instants))
    in_press: dict[int, int] = {}
    for mold in world.molds:
        last = Move.objects.filter(mold=mold).order_by("at", "id").last()
        if last is not None and last.spot.kind == Spot.Kind.PRESS:
            assert in_press.setdefault(last.spot_id, mold.pk) == mold.pk


def check_never_better_later(world: World) -> None:
    """Invariant 7: later never makes a standing better."""
    for row in Standing.objects.all():
        standing = standing_value(row)
        worst = -1
        for days in range(0, 60, 3):
            state = state_at(standing, at=world.now + timedelta(days=days))
            if state in WORSENING:
                rank = WORSENING.index(state)
                assert rank >= worst
                worst = rank


def check_all(world: World) -> None:
    """The checks that read everything."""
    assert first_difference() is None  # invariants 4 and 10
    assert verify_logbook().is_whole  # invariant 5
    assert first_unbacked() is None  # invariant 2
    for entry in Entry.objects.all():  # invariant 9
        assert entry.happened_at <= entry.written_at + timedelta(seconds=the_plant().clock_error_s)
    assert not Completion.objects.filter(entry__isnull=True).exists()
    check_places(world)
    check_never_better_later(world)
    calendar = the_calendar(the_plant())
    then = {row.rule_id: row for row in standings_as_of(world.now, calendar=calendar)}
    for row in Standing.objects.all():
        assert state_at(standing_value(then[row.rule_id]), at=world.now) is state_at(
            standing_value(row), at=world.now
        )


def live(seed: int, *, steps: int) -> World:
    """Let a small plant live through random acts; what is refused leaves nothing behind."""
    world = small_plant(seed)
    for _step in range(steps):
        act = world.chance.choice(STEPS)
        rows = Entry.objects.count(), Reading.objects.count(), Move.objects.count()
        try:
            act(world)
            world.written += 1
        except DomainError:
            world.refused += 1
            if act is not work_an_order:
                assert rows == (
                    Entry.objects.count(),
                    Reading.objects.count(),
                    Move.objects.count(),
                )
        check_lives(world)
    check_all(world)
    return world


def test_invariants_hold_through_one_long_history() -> None:
    world = live(20261125, steps=90)
    assert world.written > 50
    assert Completion.objects.exists()
    assert Verdict.objects.filter(state=ReadingState.HELD).exists() or world.refused


@pytest.mark.slow
@settings(max_examples=12, deadline=None)
@given(seed=st.integers(min_value=0, max_value=2**32))
def test_invariants_hold_through_random_histories(seed: int) -> None:
    from django.db import transaction

    sid = transaction.savepoint()
    try:
        live(seed, steps=40)
    finally:
        transaction.savepoint_rollback(sid)
