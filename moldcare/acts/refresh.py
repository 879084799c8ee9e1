"""What an act does last: derive again what it touched, in the same transaction."""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field

from django.db import transaction

from moldcare.care.derive import derive_standings
from moldcare.counters.counter_facts import CountersAtHand
from moldcare.counters.derive import derive_counters, derive_tails
from moldcare.counters.history import LivesAtHand
from moldcare.counters.life import derive_lives, go_on
from moldcare.counters.queries import lock_lives, where_components_went
from moldcare.plant.models import Plant
from moldcare.plant.queries import the_plant


@dataclass(slots=True)
class Touched:
    """What was written to since the last refresh, by how much must be derived again."""

    counters: set[int] = field(default_factory=set)
    tails: set[int] = field(default_factory=set)
    molds: set[int] = field(default_factory=set)
    cared_for: set[int] = field(default_factory=set)
    auxiliaries: set[int] = field(default_factory=set)


_touched: ContextVar[Touched | None] = ContextVar("touched", default=None)


@contextmanager
def refreshing_once() -> Iterator[None]:
    """Do several acts in one transaction and derive what they touched once, at its end.

    Inside, what is derived is as old as the start; acts that read it should not be put together
    with acts that change it. Used for a round of readings, for imports and for the demo plant.
    """
    if _touched.get() is not None:
        yield
        return
    with transaction.atomic():
        touched = Touched()
        token = _touched.set(touched)
        try:
            yield
        finally:
            _touched.reset(token)
        _derive(touched)


def refresh_counts(
    *, counters: Iterable[int] = (), molds: Iterable[int] = (), auxiliaries: Iterable[int] = ()
) -> None:
    """Derive verdicts of the counters, then lives, standings and boards of the molds.

    Molds that the counters count for are found here and need not be named. Call it where a fact
    other than a reading changed what counters say, or where a mold sits.
    """
    _refresh(Touched(counters=set(counters), molds=set(molds), auxiliaries=set(auxiliaries)))


def refresh_readings(
    counters: Iterable[int],
    *,
    plant: Plant | None = None,
    at_hand: CountersAtHand | None = None,
) -> None:
    """Derive what follows from new readings of the counters, when nothing else was written.

    The plant and the counters need not be read again where they are at hand.
    """
    _refresh(Touched(tails=set(counters)), plant=plant, at_hand=at_hand)


def refresh_care(*, molds: Iterable[int] = (), auxiliaries: Iterable[int] = ()) -> None:
    """Derive standings and boards again. Call it where a fact changed care, and no count."""
    _refresh(Touched(cared_for=set(molds), auxiliaries=set(auxiliaries)))


def _refresh(
    new: Touched, *, plant: Plant | None = None, at_hand: CountersAtHand | None = None
) -> None:
    waiting = _touched.get()
    if waiting is None:
        _derive(new, plant=plant, at_hand=at_hand)
        return
    waiting.counters |= new.counters
    waiting.tails |= new.tails
    waiting.molds |= new.molds
    waiting.cared_for |= new.cared_for
    waiting.auxiliaries |= new.auxiliaries


def _derive(
    touched: Touched, *, plant: Plant | None = None, at_hand: CountersAtHand | None = None
) -> None:
    plant = plant or the_plant()
    # acts are in a transaction already; whoever is not derives in one
    with transaction.atomic(savepoint=False):
        _derive_locked(touched, plant=plant, at_hand=at_hand)


def _derive_locked(touched: Touched, *, plant: Plant, at_hand: CountersAtHand | None) -> None:
    lock_lives(counters=touched.counters | touched.tails, molds=touched.molds | touched.cared_for)
    whole = set(touched.molds)
    if touched.counters:
        whole |= derive_counters(touched.counters, plant=plant).molds
    moved: set[int] = set()
    lives = LivesAtHand()
    tails = touched.tails - touched.counters
    for went_on in derive_tails(tails, plant=plant, at_hand=at_hand):
        whole |= went_on.molds
        for life in go_on(went_on, without=whole, plant=plant):
            moved.add(life.mold_id)
            lives.keep(life)
            if went_on.facts is not None and life.mold_id in went_on.facts.own_molds:
                events = went_on.facts.run_events.of(molds={life.mold_id})
                lives.keep_events(life.mold_id, events)
    for life, knots in derive_lives(whole, plant=plant):
        lives.keep(life, knots)
    # what sat in these molds took its count along to where it sits now
    moved |= where_components_went(whole | moved)
    derive_standings(
        molds=whole | touched.cared_for,
        only_read=moved,
        auxiliaries=touched.auxiliaries,
        plant=plant,
        lives=lives,
    )
