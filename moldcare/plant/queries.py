"""Questions about the plant, its shifts and its people."""

from functools import lru_cache

from django.db import connection
from django.db.models import Max

from moldcare.core.shifts import ShiftCalendar
from moldcare.plant.convert import shift_calendar
from moldcare.plant.models import Person, Plant, ShiftException, ShiftPattern


def the_plant() -> Plant:
    """Return the plant's record, or one with the defaults when none was written yet."""
    return Plant.objects.filter(pk=1).first() or Plant(pk=1, name="")


def the_calendar(plant: Plant) -> ShiftCalendar:
    """Return the plant's worked shifts. Two small queries; what was looked up before is kept.

    Patterns and exceptions are facts, so the newest numbers name what there is.
    """
    patterns = ShiftPattern.objects.aggregate(newest=Max("id"))["newest"] or 0
    exceptions = ShiftException.objects.aggregate(newest=Max("id"))["newest"] or 0
    return _calendar_of(str(connection.settings_dict["NAME"]), plant.zone, patterns, exceptions)


@lru_cache(maxsize=8)
def _calendar_of(
    database: str, zone: str, newest_pattern: int, newest_exception: int
) -> ShiftCalendar:
    return shift_calendar(
        Plant(zone=zone),
        patterns=ShiftPattern.objects.filter(id__lte=newest_pattern).prefetch_related("slots"),
        exceptions=ShiftException.objects.filter(id__lte=newest_exception).order_by("id"),
    )


def forget_calendars() -> None:
    """Drop what was kept: for tests, which roll numbers back."""
    _calendar_of.cache_clear()


def people_who_sign() -> list[Person]:
    """Return everybody who may sign at a tablet: active, with a badge and a PIN."""
    return list(
        Person.objects.filter(is_active=True, badge__isnull=False)
        .exclude(pin_hash="")
        .exclude(role=Person.Role.FEED)
        .order_by("name")
    )
