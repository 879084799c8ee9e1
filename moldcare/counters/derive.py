"""Verdicts and running totals of counters, from their facts."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from moldcare.bulk import upsert
from moldcare.core.counting import extend, judge_counter
from moldcare.core.counting.values import (
    CounterSetup,
    Event,
    Judged,
    OpenHeld,
    PaceKnown,
    PaceStep,
    Readings,
    Resume,
    RunningKnown,
    RunningSpan,
)
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
    Reading,
    ReadingDecision,
    Verdict,
)
from moldcare.molds.models import CycleTime, RunEvent
from moldcare.plant.models import Plant

VERDICT_COLUMNS = ("state", "note", "reason", "cycles", "counter_total", "detail")


@dataclass(frozen=True, kw_only=True, slots=True)
class Derived:
    """What deriving counters touched.

    `molds` need their lives derived from all their facts; `tails` holds, for counters that only
    went on, the new accepted points (instant in microseconds, running total) in order.
    """

    molds: set[int] = field(default_factory=set)
    tails: dict[int, list[tuple[int, int]]] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True, slots=True)
class CounterFacts:
    """Everything but readings that counters' verdicts follow from, read in few queries."""

    counters: dict[int, Counter]
    fittings: dict[int, list[CounterFitting]]
    decisions: dict[int, list[ReadingDecision]]
    cycle_times: CycleTimes
    run_events: list[RunEvent]
    molds_of: dict[int, set[int]]
    clock_error_us: int

    def events(self, counter_id: int) -> list[Event]:
        """Return the events of one counter."""
        fittings = self.fittings.get(counter_id, [])
        presses = {row.press_id for row in fittings if row.press_id}
        molds = {row.mold_id for row in fittings if row.mold_id}
        return counter_events(
            fittings=fittings,
            decisions=self.decisions.get(counter_id, []),
            cycle_times=self.cycle_times,
            run_events=[
                row for row in self.run_events if row.press_id in presses or row.mold_id in molds
            ],
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
        run_events=sorted(on_presses + of_molds, key=run_order),
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
    fresh = _readings_after(totals, ids)
    facts = counter_facts(ids)
    in_full: set[int] = set()
    tails: dict[int, list[tuple[int, int]]] = {}
    rows: list[Verdict] = []
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
        rows += verdict_rows(counter_id, judged)
        tails[counter_id] = [
            (at_us, point)
            for at_us, point in zip(judged.point_at_us, judged.point_totals, strict=True)
            if total.newest_at is None or at_us > microseconds(total.newest_at)
        ]
        changed.append(total_row(counter_id, judged, last_reading=fresh[counter_id][0][-1]))
    if rows:
        upsert(rows)
        upsert(changed)
    derived = derive_counters(in_full) if in_full else Derived()
    return Derived(molds=derived.molds, tails=tails)


Columns = tuple[list[int], list[int], list[int], list[str], list[int]]


def _readings_after(totals: dict[int, CounterTotal], ids: set[int]) -> dict[int, Columns]:
    """Return the columns of the readings that each counter's total does not know yet."""
    oldest = min(
        (totals[counter_id].last_reading for counter_id in ids if counter_id in totals), default=0
    )
    columns: dict[int, Columns] = {counter_id: ([], [], [], [], []) for counter_id in ids}
    rows = Reading.objects.filter(counter__in=ids, id__gt=oldest).order_by("id")
    for number, counter_id, at, value, source, written_at in rows.values_list(
        "id", "counter_id", "at", "value", "source", "written_at"
    ):
        if counter_id in totals and number > totals[counter_id].last_reading:
            known = columns[counter_id]
            known[0].append(number)
            known[1].append(microseconds(at))
            known[2].append(value)
            known[3].append(source)
            known[4].append(microseconds(written_at))
    return columns


def _extended(
    total: CounterTotal, fresh: Columns, *, counter_id: int, facts: CounterFacts
) -> Judged | None:
    if not fresh[0] or total.newest_at is None:
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
        readings=Readings(
            ids=fresh[0],
            at_us=fresh[1],
            values=fresh[2],
            sources=fresh[3],
            written_us=fresh[4],
        ),
        setup=setup_of(facts.counters[counter_id]),
        pace=facts.paces(counter_id),
        running=facts.running(counter_id),
        clock_error_us=facts.clock_error_us,
    )


def judge_stored(counter_id: int, *, facts: CounterFacts) -> Judged:
    """Judge one counter from all its stored readings."""
    rows = list(
        Reading.objects.filter(counter=counter_id)
        .order_by("id")
        .values_list("id", "at", "value", "source", "written_at")
    )
    return judge_counter(
        Readings(
            ids=[row[0] for row in rows],
            at_us=[microseconds(row[1]) for row in rows],
            values=[row[2] for row in rows],
            sources=[row[3] for row in rows],
            written_us=[microseconds(row[4]) for row in rows],
        ),
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


def verdict_rows(counter_id: int, judged: Judged) -> list[Verdict]:
    """Return the verdicts as rows, one a reading, in the order of arrival."""
    held = {each.reading_id: each for each in judged.held}
    rows = []
    for place, reading_id in enumerate(judged.ids):
        detail: dict[str, Any] | None = None
        if reading_id in held:
            each = held[reading_id]
            detail = {
                "previous_at_us": each.previous_at_us,
                "previous_value": each.previous_value,
                "next_at_us": each.next_at_us,
                "next_value": each.next_value,
                "possible": each.possible,
            }
        elif reading_id in judged.candidates:
            detail = {"candidates": list(judged.candidates[reading_id])}
        rows.append(
            Verdict(
                reading_id=reading_id,
                counter_id=counter_id,
                state=int(judged.states[place]),
                note=int(judged.notes[place]),
                reason=str(judged.reasons[place]),
                cycles=judged.cycles[place],
                counter_total=judged.totals[place],
                detail=detail,
            )
        )
    return rows


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
        row[0]: row[1:]
        for row in Verdict.objects.filter(reading__counter=counter_id).values_list(
            "reading_id", *VERDICT_COLUMNS
        )
    }
    changed = [
        row
        for row in verdict_rows(counter_id, judged)
        if stored.get(row.reading_id) != tuple(getattr(row, name) for name in VERDICT_COLUMNS)
    ]
    if changed:
        upsert(changed)


def _write_total(counter_id: int, judged: Judged) -> None:
    upsert([total_row(counter_id, judged)])
