"""Lives that go on by new readings, without their history."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from django.db.models import Max, Q

from moldcare.bulk import upsert
from moldcare.core.counting import LifeSegment as SegmentValue
from moldcare.core.counting.values import State
from moldcare.counters.convert import instant_of, microseconds, setup_of, stays_in_press
from moldcare.counters.counter_facts import CounterFacts
from moldcare.counters.course import TAIL_KNOTS
from moldcare.counters.derive import Derived
from moldcare.counters.life.rows import derive_lives
from moldcare.counters.life.settling import held_of, held_on, settle, standard_us
from moldcare.counters.models import (
    DryCycles,
    Life,
    LifeSegment,
    Reading,
)
from moldcare.counters.run_events import run_events_of
from moldcare.plant.models import Plant
from moldcare.plant.queries import the_calendar

# earlier than any instant: the mold was not read yet
NEVER_READ_US = -(1 << 62)


def go_on(went_on: Derived, *, without: set[int], plant: Plant) -> list[Life]:
    """Let the lives that follow a counter go on by its new points, and return them.

    A life of which more than its newest knots may move is derived from all its facts instead.
    Molds in `without` are left out: they are derived from all their facts anyway.
    """
    facts = went_on.facts
    if facts is None or not went_on.tails:
        return []
    segments = [
        (segment, segment.counter_id)
        for segment in LifeSegment.objects.filter(
            counter__in=list(went_on.tails), to_at__isnull=True
        )
        if segment.counter_id is not None
    ]
    mold_ids = {segment.mold_id for segment, _counter in segments}
    lives = Life.objects.select_related("mold").in_bulk(mold_ids)
    anew = _to_derive_anew(went_on, facts=facts, segments=segments, lives=lives) - without
    segments = [one for one in segments if one[0].mold_id not in without | anew]
    mold_ids = {segment.mold_id for segment, _counter in segments}
    events = {mold_id: facts.run_events.of(molds={mold_id}) for mold_id in facts.own_molds}
    elsewhere = mold_ids - facts.own_molds
    if elsewhere:
        events |= run_events_of(elsewhere)
    calendar = the_calendar(plant)
    # a counter with new doubts does not only go on: whose mold had nothing held still has not
    in_doubt = {
        counter_id
        for segment, counter_id in segments
        if (life := lives.get(segment.mold_id)) is not None and life.held_count
    }
    held = held_of(in_doubt) if in_doubt else {}
    rows: list[Life] = []
    for segment, counter_id in segments:
        mold_id = segment.mold_id
        life = lives.get(mold_id)
        if life is None:
            continue
        _extend_tail(life, segment, went_on.tails[counter_id])
        newest = (counter_id, life.tail["at_us"][-1])
        life.is_estimated = segment.is_estimated or newest in went_on.estimates
        settle(
            life,
            mold=life.mold,
            in_press=[
                (microseconds(from_at), None if to_at is None else microseconds(to_at))
                for _mold, from_at, to_at in stays_in_press(events.get(mold_id, []))
            ],
            held=held_on(_value_of(segment), held),
            counter_setup=setup_of(facts.counters[counter_id]),
            standard_us=standard_us(facts.cycle_times.of(mold_id)),
            plant=plant,
            calendar=calendar,
        )
        rows.append(life)
    upsert(rows)
    if anew:
        rows += [life for life, _knots in derive_lives(anew, plant=plant)]
    return rows


def _to_derive_anew(
    went_on: Derived,
    *,
    facts: CounterFacts,
    segments: Sequence[tuple[LifeSegment, int]],
    lives: Mapping[int, Life],
) -> set[int]:
    """Return the molds whose lives have an edge behind the counter's newest reading until now.

    A stay that began or ended since then shares the span that the new reading closes; so do dry
    cycles that were reported for it. A counter that was read since its last edge only goes on.
    """
    found: set[int] = set()
    read_since: set[int] = set()
    dry_to = _dry_to([life.pk for life in lives.values() if life.has_dry_cycles])
    for segment, counter_id in segments:
        life = lives.get(segment.mold_id)
        if life is None:
            continue
        newest_us = life.tail["at_us"][-1] if life.tail["is_read"] else NEVER_READ_US
        if newest_us > microseconds(segment.from_at):
            read_since.add(counter_id)
        else:
            found.add(life.pk)
        if dry_to.get(life.pk, NEVER_READ_US) > newest_us:
            found.add(life.pk)
    for counter_id, points in went_on.tails.items():
        if points and counter_id not in read_since:
            found |= _with_edges_since_read(counter_id, before=instant_of(points[0][0]))
    return found


def _with_edges_since_read(counter_id: int, *, before: datetime) -> set[int]:
    """Return the molds of which a stay with a counter began or ended after its last reading."""
    read = Reading.objects.filter(counter=counter_id, at__lt=before, verdict__state=State.ACCEPTED)
    newest_at = read.order_by("-at").values_list("at", flat=True).first()
    edges = LifeSegment.objects.filter(counter=counter_id)
    if newest_at is not None:
        edges = edges.filter(Q(to_at__gt=newest_at) | Q(from_at__gt=newest_at))
    return set(edges.values_list("mold_id", flat=True))


def _dry_to(mold_ids: Sequence[int]) -> dict[int, int]:
    """Return until when dry cycles were reported for molds [us since 1970]."""
    if not mold_ids:
        return {}
    rows = DryCycles.objects.filter(mold__in=mold_ids).values("mold").annotate(last=Max("to_at"))
    return {mold: microseconds(last) for mold, last in rows.values_list("mold", "last")}


def _extend_tail(life: Life, segment: LifeSegment, points: Sequence[tuple[int, int]]) -> None:
    tail = dict(life.tail)
    at_us, cycles = list(tail["at_us"]), list(tail["cycles"])
    shots = None if tail["shots"] is None else list(tail["shots"])
    # dry cycles are reported for spans that are over: what comes after them is shots
    dry = 0 if shots is None else cycles[-1] - shots[-1]
    from_us = microseconds(segment.from_at)
    for point_us, total in points:
        if point_us <= at_us[-1] or point_us < from_us:
            continue
        count = segment.cycles_before + total - segment.from_counter_total
        at_us.append(point_us)
        cycles.append(count)
        if shots is not None:
            shots.append(count - dry)
        tail["is_read"] = True
    tail["at_us"], tail["cycles"] = at_us[-TAIL_KNOTS:], cycles[-TAIL_KNOTS:]
    tail["shots"] = None if shots is None else shots[-TAIL_KNOTS:]
    life.tail = tail


def _value_of(segment: LifeSegment) -> SegmentValue:
    return SegmentValue(
        from_us=microseconds(segment.from_at),
        to_us=None,
        counter=segment.counter_id,
        from_counter_total=segment.from_counter_total,
        to_counter_total=None,
        cycles_before=segment.cycles_before,
        is_press=segment.is_press,
    )
