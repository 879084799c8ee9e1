"""Verdicts and running totals of counters, from their facts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import repeat
from typing import Any

from moldcare.bulk import parts, upsert, upsert_values
from moldcare.core.counting import extend, judge_counter
from moldcare.core.counting.values import (
    CounterSetup,
    Judged,
    OpenHeld,
    Resume,
)
from moldcare.counters.columns import Columns, columns_after, columns_of
from moldcare.counters.convert import (
    instant_of,
    microseconds,
    setup_of,
)
from moldcare.counters.counter_facts import CounterFacts, CountersAtHand, counter_facts
from moldcare.counters.models import (
    CounterFitting,
    CounterTotal,
    Reading,
    Verdict,
)
from moldcare.counters.queries import counters_on_now
from moldcare.counters.run_events import RunEventRow
from moldcare.molds.models import RunEvent
from moldcare.plant.models import Plant

COUNTERS_AT_ONCE = 50
# a counter with more new readings than these is judged from all of them: it costs no more
TAIL_AT_MOST = 100

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
    went on, the new accepted points (instant in microseconds, running total) in order, `estimates`
    those of them (counter, instant in microseconds) that are estimates, and `facts` what those
    counters' verdicts follow from.
    """

    molds: set[int] = field(default_factory=set)
    tails: dict[int, list[tuple[int, int]]] = field(default_factory=dict)
    estimates: set[tuple[int, int]] = field(default_factory=set)
    facts: CounterFacts | None = None


def derive_counters(counter_ids: Iterable[int], *, plant: Plant | None = None) -> Derived:
    """Derive the verdicts of counters from all their facts; write only what changed."""
    touched: set[int] = set()
    for ids in parts(counter_ids, size=COUNTERS_AT_ONCE):
        facts = counter_facts(ids, plant=plant)
        judged_before = set(
            CounterTotal.objects.filter(counter__in=ids).values_list("counter_id", flat=True)
        )
        for counter_id in sorted(facts.counters):
            judged = judge_stored(counter_id, facts=facts)
            if counter_id in judged_before:
                _write_differences(counter_id, judged)
            else:
                upsert_values(Verdict, VERDICT_COLUMNS, verdict_values(counter_id, judged))
            _write_total(counter_id, judged)
            touched |= facts.molds_of.get(counter_id, set())
    return Derived(molds=touched)


def derive_tails(
    counter_ids: Iterable[int],
    *,
    plant: Plant | None = None,
    at_hand: CountersAtHand | None = None,
) -> Iterator[Derived]:
    """Derive the verdicts of counters to which nothing but readings was added; some at a time.

    A counter whose new readings are not all newer than what was accepted is derived in full, and
    so is one that got very many.
    """
    in_full: set[int] = set()
    for ids in parts(counter_ids, size=COUNTERS_AT_ONCE):
        went_on = _go_on(ids, plant=plant, at_hand=at_hand)
        in_full |= set(ids) - went_on.tails.keys()
        yield went_on
    if in_full:
        yield derive_counters(in_full, plant=plant)


def _go_on(
    counter_ids: Sequence[int], *, plant: Plant | None, at_hand: CountersAtHand | None
) -> Derived:
    """Let those of the counters go on that can."""
    totals = {
        counter_id: total
        for counter_id, total in CounterTotal.objects.in_bulk(counter_ids).items()
        if total.is_resumable
    }
    fresh = columns_after({counter_id: total.last_reading for counter_id, total in totals.items()})
    few = [
        counter_id
        for counter_id, columns in sorted(fresh.items())
        if 0 < len(columns.ids) <= TAIL_AT_MOST
    ]
    if not few:
        return Derived()
    facts = counter_facts(few, plant=plant, has_decisions=False, at_hand=at_hand)
    tails: dict[int, list[tuple[int, int]]] = {}
    estimates: set[tuple[int, int]] = set()
    rows: list[VerdictValues] = []
    changed: list[CounterTotal] = []
    for counter_id in few:
        total = totals[counter_id]
        judged = _extended(total, fresh[counter_id], counter_id=counter_id, facts=facts)
        if judged is None or total.newest_at is None or _is_doubtful(judged, total):
            continue
        rows += verdict_values(counter_id, judged)
        newest_us = microseconds(total.newest_at)
        tails[counter_id] = [
            (at_us, point)
            for at_us, point in zip(judged.point_at_us, judged.point_totals, strict=True)
            if at_us > newest_us
        ]
        estimates |= {(counter_id, at_us) for at_us in _estimated(fresh[counter_id], judged)}
        changed.append(total_row(counter_id, judged, last_reading=fresh[counter_id].ids[-1]))
    upsert_values(Verdict, VERDICT_COLUMNS, rows)
    upsert(changed)
    before = {
        counter_id: total.newest_at
        for counter_id, total in totals.items()
        if counter_id in tails and total.newest_at is not None
    }
    return Derived(
        molds=_compared_anew(before, facts=facts, totals=totals),
        tails=tails,
        estimates=estimates,
        facts=facts,
    )


def _estimated(fresh: Columns, judged: Judged) -> set[int]:
    """Return the instants [us] of the new readings that were accepted as estimates."""
    held = {each.reading_id for each in judged.held}
    return {
        at_us
        for number, at_us, source in zip(fresh.ids, fresh.at_us, fresh.sources, strict=True)
        if source == Reading.Source.ESTIMATED and number not in held
    }


def _compared_anew(
    before: dict[int, datetime], *, facts: CounterFacts, totals: dict[int, CounterTotal]
) -> set[int]:
    """Return the molds whose two counters are compared over a longer time than before.

    Own counter and press's are compared up to the older of their newest readings: that moves when
    a counter goes on whose partner was read later than it was before.
    """
    sat = {
        counter_id: rows[-1]
        for counter_id in before
        if (rows := facts.fittings.get(counter_id)) and rows[-1].act == CounterFitting.Act.FITTED
    }
    ends: dict[int, RunEventRow] = {}
    for counter_id in sat:
        runs = facts.runs_of(counter_id)
        if runs and runs[-1].act == RunEvent.Act.SET:
            ends[counter_id] = runs[-1]
    if not ends:
        return set()
    partners = counters_on_now(
        molds={ends[one].mold_id for one in ends if sat[one].press_id},
        presses={ends[one].press_id for one in ends if sat[one].mold_id},
    )
    pairs = {
        counter_id: partner
        for counter_id, run in ends.items()
        if (
            partner := partners["mold"].get(run.mold_id)
            if sat[counter_id].press_id
            else partners["press"].get(run.press_id)
        )
    }
    others = set(pairs.values()) - totals.keys()
    newest = {one: total.newest_at for one, total in totals.items()}
    newest |= dict(CounterTotal.objects.filter(pk__in=others).values_list("pk", "newest_at"))
    found: set[int] = set()
    for counter_id, partner in pairs.items():
        read_at = newest.get(partner)
        if partner in before or (read_at is not None and read_at > before[counter_id]):
            found.add(ends[counter_id].mold_id)
    return found


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
