"""What counters' verdicts follow from, besides their readings."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from moldcare.core.counting.values import (
    Event,
    PaceKnown,
    PaceStep,
    RunningKnown,
    RunningSpan,
)
from moldcare.counters.convert import (
    CycleTimes,
    counter_events,
)
from moldcare.counters.models import (
    Counter,
    CounterFitting,
    ReadingDecision,
)
from moldcare.counters.run_events import RunEventRow, RunEvents, rows_of
from moldcare.molds.models import CycleTime, RunEvent
from moldcare.plant.models import Plant


@dataclass(frozen=True, kw_only=True, slots=True)
class CounterFacts:
    """Everything but readings that counters' verdicts follow from, read in few queries."""

    counters: dict[int, Counter]
    fittings: dict[int, list[CounterFitting]]
    decisions: dict[int, list[ReadingDecision]]
    cycle_times: CycleTimes
    run_events: RunEvents
    own_molds: set[int]
    """Molds that one of the counters ever sat on: all their run events are here."""
    molds_of: dict[int, set[int]]
    clock_error_us: int

    def events(self, counter_id: int) -> list[Event]:
        """Return the events of one counter."""
        return counter_events(
            fittings=self.fittings.get(counter_id, []),
            decisions=self.decisions.get(counter_id, []),
            cycle_times=self.cycle_times,
            run_events=self.runs_of(counter_id),
        )

    def runs_of(self, counter_id: int) -> list[RunEventRow]:
        """Return the run events of the molds and presses that a counter ever sat on."""
        fittings = self.fittings.get(counter_id, [])
        return self.run_events.of(
            molds={row.mold_id for row in fittings if row.mold_id},
            presses={row.press_id for row in fittings if row.press_id},
        )

    def paces(self, counter_id: int) -> list[PaceStep]:
        """Return the steps of a counter's shortest cycle, in the order they became known."""
        known = sorted(
            (event for event in self.events(counter_id) if isinstance(event, PaceKnown)),
            key=lambda event: event.after_reading,
        )
        return [step for event in known for step in event.steps]

    def running(self, counter_id: int) -> list[RunningSpan] | None:
        """Return the finished runs of what a counter sits on; None where none was recorded."""
        known = [event for event in self.events(counter_id) if isinstance(event, RunningKnown)]
        return [span for event in known for span in event.spans] if known else None


@dataclass(frozen=True, kw_only=True, slots=True)
class CountersAtHand:
    """Counters with all their fittings in the order of time: read once by whoever needs them."""

    counters: dict[int, Counter]
    fittings: dict[int, list[CounterFitting]]


def fittings_of(counter_ids: Iterable[int]) -> dict[int, list[CounterFitting]]:
    """Return the fittings of counters in the order of time."""
    found: dict[int, list[CounterFitting]] = defaultdict(list)
    rows = CounterFitting.objects.filter(counter__in=set(counter_ids)).order_by("at", "id")
    for fitting in rows:
        found[fitting.counter_id].append(fitting)
    return found


def counter_facts(
    counter_ids: Iterable[int],
    *,
    plant: Plant | None = None,
    run_events: Mapping[int, Sequence[RunEventRow]] | None = None,
    has_decisions: bool = True,
    at_hand: CountersAtHand | None = None,
) -> CounterFacts:
    """Read the facts of the counters: some six queries, whatever their number.

    Parameters
    ----------
    counter_ids : iterable of int
        The counters.
    plant : Plant, optional
        The plant, where it is at hand.
    run_events : mapping, optional
        All run events of molds, where they are at hand.
    has_decisions : bool, optional
        Whether decisions are wanted: going on from what was judged, nobody looks at them.
    at_hand : CountersAtHand, optional
        The counters, where all of them are at hand.
    """
    ids = set(counter_ids)
    at_hand = at_hand or CountersAtHand(
        counters=Counter.objects.in_bulk(ids), fittings=fittings_of(ids)
    )
    fittings = {one: at_hand.fittings[one] for one in ids & at_hand.fittings.keys()}
    decisions: dict[int, list[ReadingDecision]] = defaultdict(list)
    for decision in (
        ReadingDecision.objects.filter(reading__counter__in=ids)
        .select_related("reading")
        .order_by("id")
        if has_decisions
        else ()
    ):
        decisions[decision.reading.counter_id].append(decision)
    own = {row.mold_id for rows in fittings.values() for row in rows if row.mold_id}
    presses = {row.press_id for rows in fittings.values() for row in rows if row.press_id}
    on_presses: list[RunEventRow] = []
    if presses:
        on_presses += rows_of(RunEvent.objects.filter(press__in=presses).order_by("at", "id"))
    read_before = [row for rows in (run_events or {}).values() for row in rows]
    elsewhere = own - (run_events or {}).keys()
    of_molds = RunEvent.objects.filter(mold__in=elsewhere).exclude(press__in=presses)
    set_there: dict[int, set[int]] = defaultdict(set)
    for row in on_presses:
        set_there[row.press_id].add(row.mold_id)
    molds_of = {
        counter_id: {row.mold_id for row in rows if row.mold_id}
        | {mold for row in rows if row.press_id for mold in set_there[row.press_id]}
        for counter_id, rows in fittings.items()
    }
    molds = own | {row.mold_id for row in on_presses}
    plant = plant or Plant.objects.filter(pk=1).first() or Plant()
    return CounterFacts(
        counters={one: at_hand.counters[one] for one in ids & at_hand.counters.keys()},
        fittings=fittings,
        decisions=decisions,
        cycle_times=CycleTimes(CycleTime.objects.filter(mold__in=molds).order_by("id")),
        run_events=RunEvents([*on_presses, *read_before, *rows_of(of_molds.order_by("at", "id"))]),
        own_molds=own,
        molds_of=molds_of,
        clock_error_us=plant.clock_error_s * 1_000_000,
    )
