"""Entries about counters: in the mold's chain, or in the plant's for a press."""

from datetime import datetime
from typing import Any

from moldcare.acts.doing import Doing
from moldcare.acts.words import sentence_end, tidy
from moldcare.logbook.append import append_entry, plant_chain
from moldcare.logbook.models import Chain, Entry
from moldcare.molds.models import Mold
from moldcare.plant.models import Spot


def counter_entry(
    doing: Doing,
    *,
    on: Mold | Spot,
    kind: str,
    at: datetime,
    sentence: str,
    facts: dict[str, Any],
    reason: str,
) -> Entry:
    """Append an entry about a counter and what it sits on."""
    words = tidy(reason)
    chain: Chain = on.chain if isinstance(on, Mold) else plant_chain()
    where = {"mold": on.number} if isinstance(on, Mold) else {"press": on.number}
    return append_entry(
        chain,
        kind=kind,
        happened_at=at,
        written_at=doing.now,
        author=doing.person,
        sentence=f"{sentence} {sentence_end(words)}" if words else sentence,
        facts={**where, **facts, "reason": words},
    )
