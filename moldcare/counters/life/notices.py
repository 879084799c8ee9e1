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
    """Return what people should be told of a mold's counters."""
    notices: list[dict[str, Any]] = []
    for counter_id in sorted(life.courses):
        judged = judgements.of(counter_id)
        if not judged.held:
            continue
        setup = setup_of(facts.counters.counters[counter_id])
        stale = stale_cycle(judged)
        if stale is not None:
            notices.append(
                {"kind": "stale_cycle", "counter": counter_id, "cycle_us": stale.cycle_us}
            )
        notices += [
            {"kind": "odd", "counter": counter_id, "reading": odd.reading_id}
            for odd in odd_ones_out(judged, setup=setup, pace=facts.counters.paces(counter_id))
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
