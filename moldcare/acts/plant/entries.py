"""What hangs on the shifts and the zone of the plant, and is derived again when they change."""

from collections.abc import Mapping
from typing import Any

from moldcare.acts.answers import Written
from moldcare.acts.doing import Doing, once
from moldcare.acts.refresh import refresh_counts
from moldcare.counters.models import Counter
from moldcare.molds.models import Auxiliary, Mold
from moldcare.plant.queries import forget_calendars


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
