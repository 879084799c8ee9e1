"""Verdicts and running totals of counters, from their facts."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from itertools import repeat
from typing import Any

from moldcare.bulk import upsert, upsert_values
from moldcare.core.counting import extend, judge_counter
from moldcare.core.counting.values import (
    CounterSetup,
    Event,
    Judged,
    OpenHeld,
    PaceKnown,
    PaceStep,
    Resume,
    RunningKnown,
    RunningSpan,
)
from moldcare.counters.columns import Columns, columns_after, columns_of
from moldcare.counters.convert import (
    CycleTimes,
    counter_events,
    instant_of,
    microseconds,
    setup_of,
)
from moldcare.counters.models import (
    Counter,
    CounterFitting,
    CounterTotal,
    ReadingDecision,
    Verdict,
)
from moldcare.molds.models import CycleTime, RunEvent
from moldcare.plant.models import Plant

VERDICT_COLUMNS = (
    "reading",
    "counter",
    "state",
    "note",
    "reason",
    "cycles",
    "counter_total",
    "detail",
)
VerdictValues = tuple[int, int, int, int, str, int, int | None, dict[str, Any] | None]


@dataclass(frozen=True, kw_only=True, slots=True)
class Derived:
    """What deriving counters touched.

    `molds` need their lives derived from all their facts; `tails` holds, for counters that only
    went on, the new accepted points (instant in microseconds, running total) in order.
    """

    molds: set[int] = field(default_factory=set)
    tails: dict[int, list[tuple[int, int]]] = field(default_factory=dict)


class RunEvents:
    """Run events, found by mold and by press."""

    def __init__(self, rows: Iterable[RunEvent]) -> None:
        self._of_mold: dict[int, list[RunEvent]] = defaultdict(list)
        self._on_press: dict[int, list[RunEvent]] = defaultdict(list)
        for row in rows:
            self._of_mold[row.mold_id].append(row)
            self._on_press[row.press_id].append(row)

    def of(self, *, molds: set[int], presses: set[int]) -> list[RunEvent]:
        """Return the events of the molds and those on the presses, in the order of time."""
        found = {row.pk: row for mold in molds for row in self._of_mold.get(mold, ())}
        found |= {row.pk: row for press in presses for row in self._on_press.get(press, ())}
        return sorted(found.values(), key=run_order)


@dataclass(frozen=True, kw_only=True, slots=True)
class CounterFacts:
    """Everything but readings that counters' verdicts follow from, read in few queries."""

    counters: dict[int, Counter]
    fittings: dict[int, list[CounterFitting]]
    decisions: dict[int, list[ReadingDecision]]
    cycle_times: CycleTimes
    run_events: RunEvents
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

    def runs_of(self, counter_id: int) -> list[RunEvent]:
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


def run_order(row: RunEvent) -> tuple[datetime, str, int]:
    """Return what run events are sorted by: a pull comes before a set at the same instant."""
    return (row.at, row.act, row.pk)


def counter_facts(counter_ids: Iterable[int]) -> CounterFacts:
    """Read the facts of the counters: six queries, whatever their number."""
    ids = set(counter_ids)
    fittings: dict[int, list[CounterFitting]] = defaultdict(list)
    for fitting in CounterFitting.objects.filter(counter__in=ids).order_by("at", "id"):
        fittings[fitting.counter_id].append(fitting)
    decisions: dict[int, list[ReadingDecision]] = defaultdict(list)
    for decision in (
        ReadingDecision.objects.filter(reading__counter__in=ids)
        .select_related("reading")
        .order_by("id")
    ):
        decisions[decision.reading.counter_id].append(decision)
    own = {row.mold_id for rows in fittings.values() for row in rows if row.mold_id}
    presses = {row.press_id for rows in fittings.values() for row in rows if row.press_id}
    on_presses = list(RunEvent.objects.filter(press__in=presses).order_by("at", "id"))
    of_molds = list(
        RunEvent.objects.filter(mold__in=own).exclude(press__in=presses).order_by("at", "id")
    )
    set_there: dict[int, set[int]] = defaultdict(set)
    for row in on_presses:
        set_there[row.press_id].add(row.mold_id)
    molds_of = {
        counter_id: {row.mold_id for row in rows if row.mold_id}
        | {mold for row in rows if row.press_id for mold in set_there[row.press_id]}
        for counter_id, rows in fittings.items()
    }
    molds = own | {row.mold_id for row in on_presses}
    plant = Plant.objects.filter(pk=1).first() or Plant()
    return CounterFacts(
        counters=Counter.objects.in_bulk(ids),
        fittings=fittings,
        decisions=decisions,
        cycle_times=CycleTimes(CycleTime.objects.filter(mold__in=molds).order_by("id")),
        run_events=RunEvents(on_presses + of_molds),
        molds_of=molds_of,
        clock_error_us=plant.clock_error_s * 1_000_000,
    )


def derive_counters(counter_ids: Iterable[int]) -> Derived:
    """Derive the verdicts of counters from all their facts; write only what changed."""
    facts = counter_facts(counter_ids)
    touched: set[int] = set()
    for counter_id in sorted(facts.counters):
        judged = judge_stored(counter_id, facts=facts)
        _write_differences(counter_id, judged)
        _write_total(counter_id, judged)
        touched |= facts.molds_of.get(counter_id, set())
    return Derived(molds=touched)


def derive_tails(counter_ids: Iterable[int]) -> Derived:
    """Derive the verdicts of counters to which nothing but readings was added.

    A counter whose new readings are not all newer than what was accepted is derived in full.
    """
    ids = set(counter_ids)
    totals = CounterTotal.objects.in_bulk(ids)
    fresh = columns_after(
        {
            counter_id: total.last_reading
            for counter_id, total in totals.items()
            if total.is_resumable
        }
    )
    facts = counter_facts(ids)
    in_full: set[int] = set()
    tails: dict[int, list[tuple[int, int]]] = {}
    rows: list[VerdictValues] = []
    changed: list[CounterTotal] = []
    for counter_id in sorted(ids):
        total = totals.get(counter_id)
        judged = (
            _extended(total, fresh[counter_id], counter_id=counter_id, facts=facts)
            if total is not None and total.is_resumable
            else None
        )
        if judged is None or total is None or _is_doubtful(judged, total):
            in_full.add(counter_id)
            continue
        rows += verdict_values(counter_id, judged)
        tails[counter_id] = [
            (at_us, point)
            for at_us, point in zip(judged.point_at_us, judged.point_totals, strict=True)
            if total.newest_at is None or at_us > microseconds(total.newest_at)
        ]
        changed.append(total_row(counter_id, judged, last_reading=fresh[counter_id].ids[-1]))
    if rows:
        upsert_values(Verdict, VERDICT_COLUMNS, rows)
        upsert(changed)
    derived = derive_counters(in_full) if in_full else Derived()
    return Derived(molds=derived.molds, tails=tails)


def _extended(
    total: CounterTotal, fresh: Columns, *, counter_id: int, facts: CounterFacts
) -> Judged | None:
    if not fresh.ids or total.newest_at is None:
        return None
    return extend(
        Resume(
            newest_at_us=microseconds(total.newest_at),
            newest_value=total.newest_value or 0,
            newest_total=total.newest_total or 0,
            fitted_to_us=microseconds(total.fitted_to_at) if total.fitted_to_at else None,
            last_id=total.last_reading,
            open_held=tuple(
                OpenHeld(
                    reading_id=held[0], at_us=held[1], value=held[2], is_clock_off=bool(held[3])
                )
                for held in total.open_held
            ),
        ),
        readings=fresh.readings(),
        setup=setup_of(facts.counters[counter_id]),
        pace=facts.paces(counter_id),
        running=facts.running(counter_id),
        clock_error_us=facts.clock_error_us,
    )


def judge_stored(counter_id: int, *, facts: CounterFacts) -> Judged:
    """Judge one counter from all its stored readings."""
    return judge_counter(
        columns_of(counter_id).readings(),
        setup=counter_setup(counter_id, facts=facts),
        events=facts.events(counter_id),
        clock_error_us=facts.clock_error_us,
    )


def _is_doubtful(judged: Judged, total: CounterTotal) -> bool:
    """Return whether new readings raised or settled a doubt, which needs the whole history."""
    before = {held[0] for held in total.open_held}
    return bool(judged.candidates) or {each.reading_id for each in judged.held} != before


def counter_setup(counter_id: int, *, facts: CounterFacts) -> CounterSetup:
    """Return how far the counter counts."""
    return setup_of(facts.counters[counter_id])


def verdict_values(counter_id: int, judged: Judged) -> Iterator[VerdictValues]:
    """Give the verdicts in the order of `VERDICT_COLUMNS`, one a reading, by arrival."""
    plain: dict[int, dict[str, Any]] = {
        number: {"candidates": list(counts)} for number, counts in judged.candidates.items()
    }
    details = plain | {
        each.reading_id: {
            "previous_at_us": each.previous_at_us,
            "previous_value": each.previous_value,
            "next_at_us": each.next_at_us,
            "next_value": each.next_value,
            "possible": each.possible,
        }
        for each in judged.held
    }
    return zip(
        judged.ids,
        repeat(counter_id),
        map(int, judged.states),
        map(int, judged.notes),
        judged.reasons,
        judged.cycles,
        judged.totals,
        map(details.get, judged.ids),
    )


def total_row(counter_id: int, judged: Judged, *, last_reading: int | None = None) -> CounterTotal:
    """Return where the counter's running total stands."""
    resume = judged.resume
    if resume is None:
        last = judged.ids[-1] if judged.ids else 0
        return CounterTotal(counter_id=counter_id, last_reading=last)
    return CounterTotal(
        counter_id=counter_id,
        newest_at=instant_of(resume.newest_at_us),
        newest_value=resume.newest_value,
        newest_total=resume.newest_total,
        last_reading=max(resume.last_id, last_reading or 0),
        is_resumable=True,
        fitted_to_at=None if resume.fitted_to_us is None else instant_of(resume.fitted_to_us),
        open_held=[
            [each.reading_id, each.at_us, each.value, int(each.is_clock_off)]
            for each in resume.open_held
        ],
    )


def _write_differences(counter_id: int, judged: Judged) -> None:
    stored = {
        row[0]: row
        for row in Verdict.objects.filter(reading__counter=counter_id).values_list(*VERDICT_COLUMNS)
    }
    changed = [row for row in verdict_values(counter_id, judged) if stored.get(row[0]) != row]
    if changed:
        upsert_values(Verdict, VERDICT_COLUMNS, changed)


def _write_total(counter_id: int, judged: Judged) -> None:
    upsert([total_row(counter_id, judged)])
