"""The entry with which an act about the plant as a whole ends."""

from typing import Any

from moldcare.acts.doing import Doing
from moldcare.logbook.append import append_entry, plant_chain
from moldcare.logbook.models import Entry


def plant_entry(doing: Doing, *, kind: str, sentence: str, facts: dict[str, Any]) -> Entry:
    """Append to the plant's chain what somebody does now."""
    return append_entry(
        plant_chain(),
        kind=kind,
        happened_at=doing.now,
        written_at=doing.now,
        author=doing.person,
        sentence=sentence,
        facts=facts,
    )
