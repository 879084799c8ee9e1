"""What all acts about the plant end with: an entry in its chain, and what hangs on its shifts."""

from collections.abc import Mapping
from typing import Any

from moldcare.acts.answers import Written
from moldcare.acts.doing import Doing, once
from moldcare.acts.refresh import refresh_counts
from moldcare.counters.models import Counter
from moldcare.logbook.append import append_entry, plant_chain
from moldcare.logbook.models import Entry
from moldcare.molds.models import Auxiliary, Mold
from moldcare.plant.queries import forget_calendars


def plant_entry(doing: Doing, *, kind: str, sentence: str, facts: dict[str, Any]) -> Entry:
    """Append an entry to the plant's chain."""
    return append_entry(
        plant_chain(),
        kind=kind,
        happened_at=doing.now,
        written_at=doing.now,
        author=doing.person,
        sentence=sentence,
        facts=facts,
    )


def refresh_everything() -> None:
    """Derive all counts and standings again: due dates hang on shifts and the zone."""
    refresh_counts(
        counters=Counter.objects.values_list("pk", flat=True),
        molds=Mold.objects.filter(withdrawn_at__isnull=True).values_list("pk", flat=True),
        auxiliaries=Auxiliary.objects.filter(withdrawn_at__isnull=True).values_list(
            "pk", flat=True
        ),
    )


def with_calendars(doing: Doing, *, act: str, body: Mapping[str, Any], do: Any) -> Written:
    """Do it; when it fails, forget calendars that hold rows which were rolled back."""
    try:
        return Written.read(once(doing, act, body, do))
    except BaseException:
        forget_calendars()
        raise
