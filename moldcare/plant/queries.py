"""Questions about the plant, its shifts and its people."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from typing import Any

from django.db import connection, models
from django.db.models import F, OuterRef, QuerySet, Subquery

from moldcare.core.shifts import ShiftCalendar
from moldcare.plant.convert import shift_calendar
from moldcare.plant.models import (
    CautionLine,
    Person,
    Plant,
    Qualification,
    Rate,
    ShiftException,
    ShiftPattern,
    Spot,
)

_FIGURES = re.compile(r"(\d+)", re.ASCII)

# what names the shifts that there are: the newest pattern and exception
NEWEST = (
    "newest_pattern_id",
    "newest_pattern_written_at",
    "newest_exception_id",
    "newest_exception_written_at",
)


def the_plant() -> Plant:
    """Return the plant's record, or one with the defaults when none was written yet."""
    # a slice in place of first(): no order to work out, and acts ask often
    rows = Plant.objects.filter(pk=1)[:1]
    return rows[0] if rows else Plant(pk=1, name="")


def the_plant_with_shifts() -> Plant:
    """Return the plant as `the_plant` does, so that its calendar then costs no query."""
    asked = {name: Subquery(rows) for name, rows in _newest().items()}
    plant = Plant.objects.filter(pk=1).annotate(**asked).first()
    return plant if plant is not None else _with_newest(Plant(pk=1, name=""))


def _newest() -> dict[str, QuerySet[Any, Any]]:
    """Return the questions for what is named in `NEWEST`."""
    return {
        f"newest_{name}_{column}": rows.order_by("-id").values_list(column, flat=True)[:1]
        for name, rows in (
            ("pattern", ShiftPattern.objects),
            ("exception", ShiftException.objects),
        )
        for column in ("id", "written_at")
    }


def _with_newest(plant: Plant) -> Plant:
    for name, rows in (("pattern", ShiftPattern.objects), ("exception", ShiftException.objects)):
        newest = list(rows.order_by("-id").values_list("id", "written_at")[:1])
        number, written_at = newest[0] if newest else (None, None)
        setattr(plant, f"newest_{name}_id", number)
        setattr(plant, f"newest_{name}_written_at", written_at)
    return plant


def the_calendar(plant: Plant) -> ShiftCalendar:
    """Return the plant's worked shifts; what was looked up before is kept.

    Patterns and exceptions are facts, so the newest of them name what there is. A number that was
    rolled back is given out again, so the instant of writing is part of the name.
    """
    if not hasattr(plant, "newest_pattern_id"):
        return the_calendar(_with_newest(plant))
    newest = tuple(getattr(plant, name) for name in NEWEST)
    return _calendar_of(str(connection.settings_dict["NAME"]), plant.zone, newest)


@lru_cache(maxsize=8)
def _calendar_of(database: str, zone: str, newest: tuple[object, ...]) -> ShiftCalendar:
    return shift_calendar(
        Plant(zone=zone),
        patterns=patterns_in_force(),
        exceptions=ShiftException.objects.order_by("id"),
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


def people_at_work() -> QuerySet[Person]:
    """Return everybody who may be put down for work, by name."""
    work = (Person.Role.TECHNICIAN, Person.Role.LEAD, Person.Role.MANAGER)
    return Person.objects.filter(is_active=True, role__in=work).order_by("name", "id")


def person_with_badge(badge: str) -> Person | None:
    """Return the active person who has this badge; feeds have none that signs."""
    people = Person.objects.filter(badge=badge, is_active=True)
    return people.exclude(role=Person.Role.FEED).first() if badge else None


def patterns_in_force() -> QuerySet[ShiftPattern]:
    """Return the patterns by their dates, with their slots at hand: the newest word on each."""
    newest = (
        ShiftPattern.objects.filter(valid_from=OuterRef("valid_from")).order_by("-id").values("pk")
    )
    rows = ShiftPattern.objects.filter(pk=Subquery(newest[:1]), is_taken_back=False)
    return rows.order_by("valid_from").prefetch_related("slots")


def pattern_on(on: date) -> ShiftPattern | None:
    """Return the shift pattern that is in force on a date, with its slots at hand."""
    return patterns_in_force().filter(valid_from__lte=on).order_by("-valid_from").first()


def spots_in_use(*, kinds: Iterable[str] = ()) -> QuerySet[Spot]:
    """Return the spots that are in use, of some kinds or of all."""
    spots = Spot.objects.filter(is_in_use=True)
    chosen = list(kinds)
    return spots.filter(kind__in=chosen) if chosen else spots


def qualified(person: Person, *, subject: str, on: date) -> bool:
    """Return whether a person is qualified for a subject on a date: the newest word counts."""
    newest = (
        Qualification.objects.filter(person=person, subject=subject, valid_from__lte=on)
        .order_by("-valid_from", "-id")
        .first()
    )
    return (
        newest is not None
        and not newest.is_withdrawn
        and (newest.valid_to is None or newest.valid_to >= on)
    )


def rates_in_force() -> QuerySet[Rate]:
    """Return what was written of rates, newest date first: the newest word on each date."""
    same = Rate.objects.filter(kind=OuterRef("kind"), valid_from=OuterRef("valid_from"))
    own = same.filter(spot=OuterRef("spot")).order_by("-id").values("pk")
    general = same.filter(spot__isnull=True).order_by("-id").values("pk")
    newest = models.Case(
        models.When(spot__isnull=True, then=Subquery(general[:1])), default=Subquery(own[:1])
    )
    rows = Rate.objects.alias(newest=newest).filter(pk=F("newest"))
    return rows.select_related("spot").order_by("-valid_from")


def rate_on(on: date, *, kind: str, spot: Spot | None = None) -> Rate | None:
    """Return the rate in force on a date: the spot's own, else the one of all spots."""
    rates = rates_in_force().filter(kind=kind, valid_from__lte=on)
    own = rates.filter(spot=spot).first() if spot is not None else None
    if own is not None and own.amount is not None:
        return own
    return rates.filter(spot__isnull=True).first()


def days_that_differ() -> QuerySet[ShiftException]:
    """Return what holds against the pattern: exceptions that nobody took back, in order."""
    rows = ShiftException.objects.filter(takes_back__isnull=True)
    return rows.exclude(pk__in=_taken_back()).order_by("on", "id")


def _taken_back() -> QuerySet[ShiftException, int | None]:
    gone = ShiftException.objects.filter(takes_back__isnull=False)
    return gone.values_list("takes_back", flat=True)


def cautions_in_force(families: Iterable[str] | None = None) -> QuerySet[CautionLine]:
    """Return the plant's own cautions: of all sheets, and of some families or of all."""
    rows = CautionLine.objects.filter(withdrawn_at__isnull=True)
    return rows if families is None else rows.filter(family_key__in=["", *families])


@dataclass(frozen=True, kw_only=True, slots=True)
class Qualified:
    """What a person may do by the newest word on it; `ends_on` None has no end."""

    number: int
    person: Person
    subject: str
    evidence: str
    ends_on: date | None


def qualifications_on(on: date, *, people: Iterable[int] | None = None) -> list[Qualified]:
    """Return what everybody is, or was, qualified for: lapsed included, withdrawn left out."""
    rows = Qualification.objects.filter(valid_from__lte=on).select_related("person")
    if people is not None:
        rows = rows.filter(person__in=list(people))
    newest = {(row.person_id, row.subject): row for row in rows.order_by("valid_from", "id")}
    return [
        Qualified(
            number=row.pk,
            person=row.person,
            subject=row.subject,
            evidence=row.evidence,
            ends_on=row.valid_to,
        )
        for row in sorted(newest.values(), key=lambda row: (row.person.name, row.subject))
        if not row.is_withdrawn
    ]


def lapsing(on: date, *, within_days: int) -> list[Qualified]:
    """Return what lapses soon, or has lapsed, of people who may sign in; the first end first."""
    until = on + timedelta(days=within_days)
    found = [
        row
        for row in qualifications_on(on)
        if row.person.is_active and row.ends_on is not None and row.ends_on <= until
    ]
    return sorted(found, key=lambda row: (row.ends_on or on, row.person.name))


def spots_in_order() -> list[Spot]:
    """Return all spots, also those out of use: by kind, and 2 before 10 within it."""
    order = {kind: place for place, kind in enumerate(Spot.Kind.values)}
    return sorted(Spot.objects.all(), key=lambda spot: (order[spot.kind], _counted(spot.number)))


def _counted(number: str) -> list[tuple[int, int, str]]:
    """Return what sorts a number as people count: its figures by their value."""
    parts = _FIGURES.split(number.casefold())
    return [(0, int(part), "") if part.isdecimal() else (1, 0, part) for part in parts if part]
