"""What people should be told of a mold's counters."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from moldcare.core.counting import (
    CounterStay,
    odd_ones_out,
    source_differences,
    stale_cycle,
)
from moldcare.counters.convert import setup_of
from moldcare.counters.life.facts import LifeFacts
from moldcare.counters.life.judgements import Judgements
from moldcare.counters.life.values import WholeLife


def notices_about(
    life: WholeLife,
    *,
    own: Sequence[CounterStay],
    press: Sequence[CounterStay],
    facts: LifeFacts,
    judgements: Judgements,
) -> list[dict[str, Any]]:
    """Return what people should be told of a mold's counters.

    A press's counter speaks of the mold that was set then; a stale cycle is said once a mold.
    """
    notices: list[dict[str, Any]] = []
    is_stale_said = False
    stays = [*own, *press]
    for counter_id in sorted(life.courses):
        judged = judgements.of(counter_id)
        if not judged.held:
            continue
        instants = {one.reading_id: one.at_us for one in judged.held}
        stale = None if is_stale_said else stale_cycle(judged)
        if stale is not None and _sat_there(
            counter_id, instants[stale.reading_ids[-1]], stays=stays
        ):
            is_stale_said = True
            notices.append(
                {"kind": "stale_cycle", "counter": counter_id, "cycle_us": stale.cycle_us}
            )
        notices += [
            {"kind": "odd", "counter": counter_id, "reading": odd.reading_id}
            for odd in odd_ones_out(
                judged,
                setup=setup_of(facts.counters.counters[counter_id]),
                pace=facts.counters.paces(counter_id),
                running=facts.counters.running(counter_id),
            )
            if _sat_there(counter_id, instants[odd.witnesses[0]], stays=stays)
        ]
    notices += [
        {
            "kind": "difference",
            "from_us": one.from_us,
            "to_us": one.to_us,
            "own_cycles": one.own_cycles,
            "press_cycles": one.press_cycles,
        }
        for one in source_differences(own=own, press=press, courses=life.courses)[-3:]
    ]
    return notices


def _sat_there(counter_id: int, at_us: int, *, stays: Sequence[CounterStay]) -> bool:
    """Return whether a counter sat on the mold, or on the press that it was in, at an instant."""
    return any(
        stay.counter == counter_id
        and stay.from_us <= at_us
        and (stay.to_us is None or at_us <= stay.to_us)
        for stay in stays
    )
