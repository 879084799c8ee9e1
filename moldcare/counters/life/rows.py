"""Lives and their segments as rows, from all the facts."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence

from moldcare.bulk import insert, parts, upsert
from moldcare.core.counting.values import Judged, Note
from moldcare.counters.convert import instant_of, setup_of
from moldcare.counters.course import TAIL_KNOTS, AllKnots
from moldcare.counters.life.facts import life_facts
from moldcare.counters.life.judgements import Judgements
from moldcare.counters.life.settling import held_on, settle, standard_us
from moldcare.counters.life.values import WholeLife
from moldcare.counters.life.whole import whole_life
from moldcare.counters.models import (
    Life,
    LifeSegment,
)
from moldcare.counters.run_events import RunEventRow
from moldcare.molds.models import CycleTime
from moldcare.plant.models import Plant
from moldcare.plant.queries import the_calendar, the_plant

MOLDS_AT_ONCE = 50


def derive_lives(
    mold_ids: Iterable[int], *, plant: Plant | None = None
) -> Iterator[tuple[Life, AllKnots]]:
    """Derive lives and their segments from all the facts; give each life with its knots."""
    plant = plant or the_plant()
    for ids in parts(mold_ids, size=MOLDS_AT_ONCE):
        found = lives_of(set(ids), plant=plant)
        LifeSegment.objects.filter(mold__in=ids).delete()
        insert([row for life, whole in found for row in segment_rows(life.mold_id, whole)])
        upsert([life for life, _whole in found])
        for life, whole in found:
            yield life, whole.knots()


def lives_of(
    mold_ids: set[int],
    *,
    judged: dict[int, Judged] | None = None,
    plant: Plant | None = None,
    run_events: Mapping[int, Sequence[RunEventRow]] | None = None,
) -> list[tuple[Life, WholeLife]]:
    """Return lives as rows, not stored, each with what it follows from, from all the facts.

    Parameters
    ----------
    mold_ids : set of int
        The molds.
    judged : dict, optional
        Verdicts on counters that are at hand; those of other counters that counted are added.
    plant : Plant, optional
        The plant, where it is at hand.
    run_events : mapping, optional
        All run events of the molds, where they are at hand.
    """
    plant = plant or the_plant()
    facts = life_facts(mold_ids, plant=plant, run_events=run_events)
    judgements = Judgements(facts.counters, judged=judged)
    calendar = the_calendar(plant)
    cycle_times: dict[int, list[CycleTime]] = defaultdict(list)
    for cycle in CycleTime.objects.filter(mold__in=mold_ids).order_by("id"):
        cycle_times[cycle.mold_id].append(cycle)
    found: list[tuple[Life, WholeLife]] = []
    for mold_id, mold in sorted(facts.molds.items()):
        life = whole_life(mold_id, facts=facts, judgements=judgements)
        row = Life(
            mold_id=mold_id,
            has_dry_cycles=life.shots is not None,
            notices=life.notices,
            tail={
                "at_us": life.at_us[-TAIL_KNOTS:],
                "cycles": life.cycles[-TAIL_KNOTS:],
                "shots": life.shots[-TAIL_KNOTS:] if life.shots is not None else None,
                "ambiguous_us": life.ambiguous_us,
                "is_read": len(life.at_us) > 1,
            },
        )
        last = life.segments[-1] if life.segments else None
        row.is_estimated = _is_estimated(life, judgements=judgements)
        row.is_unsure = any(segment.is_unsure for segment in life.segments)
        setup, held = None, []
        if last is not None and last.counter in facts.counters.counters:
            setup = setup_of(facts.counters.counters[last.counter])
            newest = judgements.of(last.counter)
            held = held_on(
                last, {last.counter: [(one.at_us, one.reading_id) for one in newest.held]}
            )
        settle(
            row,
            mold=mold,
            in_press=facts.in_press(mold_id),
            held=held,
            counter_setup=setup,
            standard_us=standard_us(cycle_times.get(mold_id, [])),
            plant=plant,
            calendar=calendar,
        )
        found.append((row, life))
    return found


def _is_estimated(life: WholeLife, *, judgements: Judgements) -> bool:
    """Return whether the newest count was shared, or read from an estimate.

    It is said of the stretch that was counted last: a real reading takes an estimate's place.
    """
    newest_us = life.at_us[-1]
    counted = [
        one for one in life.segments if one.counter in life.courses and one.from_us <= newest_us
    ]
    if not counted:
        return False
    last = counted[-1]
    if last.is_estimated or last.counter is None:
        return last.is_estimated
    judged = judgements.of(last.counter)
    place = bisect_right(judged.point_at_us, newest_us) - 1
    number = judged.point_ids[place] if place >= 0 else None
    if number is None or judged.point_at_us[place] < last.from_us:
        return False
    return bool(judged.notes[bisect_left(judged.ids, number)] & Note.ESTIMATED)


def segment_rows(mold_id: int, life: WholeLife) -> list[LifeSegment]:
    """Return a life's segments as rows."""
    return [
        LifeSegment(
            mold_id=mold_id,
            from_at=instant_of(one.from_us),
            to_at=None if one.to_us is None else instant_of(one.to_us),
            counter_id=one.counter,
            from_counter_total=one.from_counter_total,
            to_counter_total=one.to_counter_total,
            cycles_before=one.cycles_before,
            is_press=one.is_press,
            is_estimated=one.is_estimated,
            is_unsure=one.is_unsure,
        )
        for one in life.segments
    ]
