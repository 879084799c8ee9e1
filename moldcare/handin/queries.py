"""Questions about tablets, and about what could not be handed in."""

from datetime import datetime, timedelta

from django.db.models import Count, Exists, OuterRef, Q, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce

from moldcare.handin.models import StuckEntry, Tablet

# a gap in the wifi is shorter; a tablet that is away longer lies somewhere
SILENT_AFTER = timedelta(minutes=30)
# one that was never heard of again is no news any more
FORGOTTEN_AFTER = timedelta(days=60)


def known_tablets(*, now: datetime) -> QuerySet[Tablet]:
    """Return the tablets that were heard of in the last weeks, the longest silent first."""
    return (
        Tablet.objects.filter(last_contact_at__gt=now - FORGOTTEN_AFTER)
        .select_related("last_person")
        .order_by("last_contact_at", "id")
    )


def tablets_to_look_at(*, now: datetime, tolerance: timedelta) -> QuerySet[Tablet]:
    """Return tablets that lost entries, are silent with some waiting, or whose clock is off.

    And those from which something is stuck: each row knows how much that is of all tablets.
    """
    off_ms = int(tolerance.total_seconds() * 1000)
    silent = Q(waiting__gt=0, last_contact_at__lte=now - SILENT_AFTER)
    is_off = Q(offset_ms__gt=off_ms) | Q(offset_ms__lt=-off_ms)
    lately = Q(last_contact_at__gt=now - SILENT_AFTER)
    known = Q(last_contact_at__gt=now - FORGOTTEN_AFTER) & (
        silent | (is_off & lately) | Q(lost__gt=0)
    )
    stuck = StuckEntry.objects.filter(settled__isnull=True).order_by()
    number = stuck.annotate(of=Value(1)).values("of").annotate(number=Count("pk")).values("number")
    return (
        Tablet.objects.filter(known | Exists(stuck.filter(device=OuterRef("device"))))
        .annotate(stuck_of_all=Coalesce(Subquery(number), 0))
        .select_related("last_person")
        .order_by("last_contact_at", "id")
    )


def stuck_entries() -> QuerySet[StuckEntry]:
    """Return what leads were given from tablets and nobody has seen to, the oldest first."""
    return (
        StuckEntry.objects.filter(settled__isnull=True)
        .select_related("person")
        .order_by("written_at", "id")
    )
