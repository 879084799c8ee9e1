"""What to ask a person about doubtful readings, put together from what is stored."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from moldcare.core.counting import Proposal, odd_ones_out, proposals, stale_cycle
from moldcare.core.counting.values import Held, HoldReason, Judged, State
from moldcare.counters.convert import instant_of, microseconds, setup_of
from moldcare.counters.counter_facts import CounterFacts, counter_facts
from moldcare.counters.derive import judge_stored
from moldcare.counters.models import Life, Reading, Verdict
from moldcare.counters.queries import molds_of_counters

#: Later readings that are looked at for each counter: whether they run on from a low value.
LATER_READINGS = 200


@dataclass(frozen=True, kw_only=True, slots=True)
class Odd:
    """An accepted reading that later ones show to be wrong, and how many of them do."""

    reading: Reading
    witnesses: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Doubt:
    """All that is known about one doubtful reading.

    `odd` is an accepted reading against which this one speaks, or this one itself; `stale_cycle_s`
    is the pace [s a cycle] that it and its neighbours agree on; `turns` the possible counts of its
    span, where full turns of the counter are possible.
    """

    verdict: Verdict
    held: Held | None
    proposals: list[Proposal]
    odd: Odd | None = None
    stale_cycle_s: float | None = None
    stale_readings: int = 0
    turns: tuple[int, ...] = ()


def held_of(verdict: Verdict) -> Held | None:
    """Return a held reading with the numbers that explain why; None where it is not held."""
    if verdict.state != State.HELD:
        return None
    detail = verdict.detail or {}
    reading = verdict.reading
    return Held(
        reading_id=reading.pk,
        at_us=microseconds(reading.at),
        value=reading.value,
        reason=HoldReason(verdict.reason),
        previous_at_us=detail.get("previous_at_us"),
        previous_value=detail.get("previous_value"),
        next_at_us=detail.get("next_at_us"),
        next_value=detail.get("next_value"),
        possible=detail.get("possible"),
    )


def proposals_for(verdicts: Sequence[Verdict]) -> dict[int, list[Proposal]]:
    """Return what each held reading may have meant; some ten queries, whatever their number."""
    held = [verdict for verdict in verdicts if verdict.state == State.HELD]
    if not held:
        return {}
    counters = {verdict.reading.counter_id for verdict in held}
    facts = counter_facts(counters)
    later = _later(counters, after=min(verdict.reading.at for verdict in held))
    rates = _rates(counters)
    return {
        verdict.pk: _proposals(verdict, facts=facts, later=later, rates=rates) for verdict in held
    }


def doubt_about(verdict: Verdict) -> Doubt:
    """Return all that is known about a reading; reads the whole history of its counter."""
    reading = verdict.reading
    facts = counter_facts([reading.counter_id])
    judged = judge_stored(reading.counter_id, facts=facts)
    stale = stale_cycle(judged)
    agrees = stale is not None and reading.pk in stale.reading_ids
    return Doubt(
        verdict=verdict,
        held=held_of(verdict),
        proposals=proposals_for([verdict]).get(verdict.pk, []),
        odd=_odd(reading, judged=judged, facts=facts),
        stale_cycle_s=stale.cycle_us / 1_000_000 if stale is not None and agrees else None,
        stale_readings=len(stale.reading_ids) if stale is not None and agrees else 0,
        turns=judged.candidates.get(reading.pk, ()),
    )


def _odd(reading: Reading, *, judged: Judged, facts: CounterFacts) -> Odd | None:
    found = odd_ones_out(
        judged,
        setup=setup_of(facts.counters[reading.counter_id]),
        pace=facts.paces(reading.counter_id),
        running=facts.running(reading.counter_id),
    )
    for odd in found:
        if reading.pk in (odd.reading_id, *odd.witnesses):
            row = Reading.objects.select_related("counter").get(pk=odd.reading_id)
            return Odd(reading=row, witnesses=len(odd.witnesses))
    return None


Later = dict[int, list[tuple[int, int]]]


def _later(counters: Iterable[int], *, after: datetime) -> Later:
    """Return instants and values of newer readings by counter; those set aside are left out."""
    rows = (
        Reading.objects.filter(counter__in=set(counters), at__gt=after)
        .exclude(verdict__state=State.SET_ASIDE)
        .order_by("at", "id")
        .values_list("counter_id", "at", "value")
    )
    later: Later = defaultdict(list)
    for counter_id, at, value in rows[: LATER_READINGS * len(set(counters))]:
        if len(later[counter_id]) < LATER_READINGS:
            later[counter_id].append((microseconds(at), value))
    return later


def _rates(counters: Iterable[int]) -> dict[int, float]:
    """Return the recent rate of the mold that each counter sits on [cycles/h]."""
    molds = molds_of_counters(counters)
    lives = Life.objects.in_bulk({mold_id for mold_id, _number in molds.values()})
    return {
        counter_id: life.rate_per_hour
        for counter_id, (mold_id, _number) in molds.items()
        if (life := lives.get(mold_id)) is not None and life.rate_per_hour is not None
    }


def _proposals(
    verdict: Verdict, *, facts: CounterFacts, later: Later, rates: dict[int, float]
) -> list[Proposal]:
    held = held_of(verdict)
    if held is None:
        return []
    reading = verdict.reading
    counter_id = reading.counter_id
    return proposals(
        held,
        setup=setup_of(facts.counters[counter_id]),
        pace=facts.paces(counter_id),
        running=facts.running(counter_id),
        later=[each for each in later.get(counter_id, []) if each[0] > held.at_us],
        recent_cycles_h=rates.get(counter_id),
        # a device that did not say what its clock showed: it was read when it arrived
        proposed_at_us=microseconds(min(reading.written_at, reading.at)),
    )


def previous_at(held: Held | None) -> datetime | None:
    """Return when the counter showed the value before a held reading."""
    return None if held is None or held.previous_at_us is None else instant_of(held.previous_at_us)
