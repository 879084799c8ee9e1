"""Questions about interruptions."""

from collections.abc import Iterable
from datetime import datetime

from django.db.models import Q, QuerySet

from moldcare.molds.models import Mold
from moldcare.production.models import Interruption


def interruptions() -> QuerySet[Interruption]:
    """Return interruptions with mold, press and end, oldest first."""
    return Interruption.objects.select_related("mold", "press", "end").order_by("from_at", "id")


def lasting() -> QuerySet[Interruption]:
    """Return the interruptions that have not ended."""
    return interruptions().filter(to_at__isnull=True, end__isnull=True)


def interruptions_of(mold: Mold) -> QuerySet[Interruption]:
    """Return the interruptions of a mold, newest first."""
    return interruptions().filter(mold=mold).order_by("-from_at", "-id")


def interruptions_between(
    from_at: datetime, *, to_at: datetime, molds: Iterable[int] | None = None
) -> QuerySet[Interruption]:
    """Return the interruptions that touch a span; those that last touch everything after."""
    found = interruptions().filter(
        Q(to_at__gt=from_at) | Q(end__to_at__gt=from_at) | Q(to_at=None, end=None),
        from_at__lt=to_at,
    )
    return found if molds is None else found.filter(mold__in=list(molds))
