"""A mold's life from all its facts: segments, knots, shots."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from moldcare.core.counting import (
    CounterStay,
    Dry,
    Opening,
    Preference,
    life_points,
    life_segments,
    overlaps,
    shots_at,
    total_at,
)
from moldcare.counters.convert import microseconds
from moldcare.counters.life.facts import LifeFacts, Stay, counter_stays
from moldcare.counters.life.judgements import Judgements
from moldcare.counters.life.notices import notices_about
from moldcare.counters.life.settled import without_settled
from moldcare.counters.life.values import WholeLife
from moldcare.counters.models import CountPreference


def whole_life(mold_id: int, *, facts: LifeFacts, judgements: Judgements) -> WholeLife:
    """Return a mold's life from all its facts."""
    mold = facts.molds[mold_id]
    own: list[CounterStay] = []
    press: list[CounterStay] = []
    set_in: dict[int, list[Stay]] = defaultdict(list)
    for press_id, stay in facts.stays.get(mold_id, []):
        set_in[press_id].append(stay)
    for rows in facts.counters.fittings.values():
        own += counter_stays(rows, mold=mold_id)
        for press_id, stays in set_in.items():
            press += overlaps(counter_stays(rows, press=press_id), stays=stays)
    read = {stay.counter: judgements.course(stay.counter) for stay in {*own, *press}}
    courses = read | {
        stay.counter: without_settled(
            read[stay.counter], judged=judgements.of(stay.counter), others=others, courses=read
        )
        for stays, others in ((own, press), (press, own))
        for stay in stays
    }
    preferences = [
        Preference(
            from_us=microseconds(row.from_at),
            to_us=None if row.to_at is None else microseconds(row.to_at),
            is_press=row.source == CountPreference.Source.PRESS,
        )
        for row in facts.preferences.get(mold_id, [])
    ]
    segments = life_segments(
        Opening(at_us=microseconds(mold.opening_at), cycles=mold.opening_count),
        own=own,
        press=press,
        courses=courses,
        preferences=preferences,
    )
    at_us, cycles = life_points(segments, courses=courses)
    dry = [
        Dry(from_us=microseconds(row.from_at), to_us=microseconds(row.to_at), cycles=row.cycles)
        for row in facts.dry.get(mold_id, [])
    ]
    life = WholeLife(segments=segments, courses=courses, at_us=at_us, cycles=cycles, shots=None)
    if dry:
        _add_shots(life, dry)
    life.notices = notices_about(life, own=own, press=press, facts=facts, judgements=judgements)
    return life


def _add_shots(life: WholeLife, dry: Sequence[Dry]) -> None:
    """Give a life its shots, with knots where a reported span begins and ends."""

    def cycles_at(at_us: int) -> int:
        found = total_at(life.segments, courses=life.courses, at_us=at_us)
        return life.cycles[0] if found is None else found.cycles

    first, last = life.at_us[0], life.at_us[-1]
    edges = {edge for one in dry for edge in (one.from_us, one.to_us) if first < edge < last}
    life.at_us = sorted({*life.at_us, *edges})
    life.cycles = [cycles_at(at_us) for at_us in life.at_us]
    life.shots = [shots_at(at_us, cycles_at=cycles_at, dry=dry) for at_us in life.at_us]
