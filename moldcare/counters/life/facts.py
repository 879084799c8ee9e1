"""What the lives of molds follow from, read in few queries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from moldcare.core.counting import CounterStay
from moldcare.counters.convert import microseconds, stays_in_press
from moldcare.counters.counter_facts import CounterFacts, counter_facts
from moldcare.counters.models import (
    CounterFitting,
    CountPreference,
    DryCycles,
)
from moldcare.counters.run_events import RunEventRow, run_events_of
from moldcare.molds.models import Mold
from moldcare.plant.models import Plant

Stay = tuple[int, int | None]


@dataclass(frozen=True, kw_only=True, slots=True)
class LifeFacts:
    """What the lives of molds follow from, beside what their counters' verdicts follow from."""

    molds: dict[int, Mold]
    counters: CounterFacts
    preferences: dict[int, list[CountPreference]]
    dry: dict[int, list[DryCycles]]
    stays: dict[int, list[tuple[int, Stay]]]
    """By mold: (press, (set, pulled)) in the order of time [us since 1970]."""

    def in_press(self, mold_id: int) -> list[Stay]:
        """Return when a mold was in presses [us since 1970]."""
        return [stay for _press, stay in self.stays.get(mold_id, [])]


def life_facts(
    mold_ids: Iterable[int],
    *,
    plant: Plant | None = None,
    run_events: Mapping[int, Sequence[RunEventRow]] | None = None,
) -> LifeFacts:
    """Read the facts of the molds' lives: some ten queries, whatever the number of molds."""
    ids = set(mold_ids)
    stays: dict[int, list[tuple[int, Stay]]] = defaultdict(list)
    by_press: dict[tuple[int, int], list[RunEventRow]] = defaultdict(list)
    presses: set[int] = set()
    if run_events is None:
        run_events = run_events_of(ids)
    for row in (row for rows in run_events.values() for row in rows):
        by_press[(row.mold_id, row.press_id)].append(row)
        presses.add(row.press_id)
    for (mold_id, press_id), rows in by_press.items():
        for _mold, from_at, to_at in stays_in_press(rows):
            stay = (microseconds(from_at), None if to_at is None else microseconds(to_at))
            stays[mold_id].append((press_id, stay))
    for known in stays.values():
        known.sort(key=lambda each: each[1][0])
    counter_ids = set(
        CounterFitting.objects.filter(mold__in=ids).values_list("counter_id", flat=True)
    ) | set(CounterFitting.objects.filter(press__in=presses).values_list("counter_id", flat=True))
    preferences: dict[int, list[CountPreference]] = defaultdict(list)
    for preference in CountPreference.objects.filter(mold__in=ids).order_by("id"):
        preferences[preference.mold_id].append(preference)
    dry: dict[int, list[DryCycles]] = defaultdict(list)
    for one in DryCycles.objects.filter(mold__in=ids).order_by("id"):
        dry[one.mold_id].append(one)
    return LifeFacts(
        molds=Mold.objects.in_bulk(ids),
        counters=counter_facts(counter_ids, plant=plant, run_events=run_events),
        preferences=preferences,
        dry=dry,
        stays=stays,
    )


def counter_stays(
    fittings: Sequence[CounterFitting], *, mold: int = 0, press: int = 0
) -> list[CounterStay]:
    """Return when counters sat on a mold or press, from the fittings of one counter in order."""
    stays: list[CounterStay] = []
    from_us: int | None = None
    for row in fittings:
        is_here = (mold and row.mold_id == mold) or (press and row.press_id == press)
        at_us = microseconds(row.at)
        if row.act == CounterFitting.Act.FITTED and is_here and from_us is None:
            from_us = at_us
        elif from_us is not None and (row.act == CounterFitting.Act.REMOVED or not is_here):
            stays.append(CounterStay(counter=row.counter_id, from_us=from_us, to_us=at_us))
            from_us = None
    if from_us is not None and fittings:
        stays.append(CounterStay(counter=fittings[0].counter_id, from_us=from_us))
    return stays
