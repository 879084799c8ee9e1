"""Builders of rows with fixed, realistic defaults: everything invented, nothing random.

A test calls the functions below; each builds one thing, and what it needs where that was not
given. They write rows directly and derive nothing: acts have tests of their own.
"""

from collections.abc import Iterable, Mapping
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

import factory
from django.contrib.auth.hashers import make_password
from django.db import transaction
from factory.django import DjangoModelFactory

from moldcare.acts.refresh import refresh_counts
from moldcare.care import models as care
from moldcare.counters import models as counters
from moldcare.logbook.append import append_entry, new_chain
from moldcare.logbook.models import Chain, Entry
from moldcare.molds import models as molds
from moldcare.plant import models as plants
from moldcare.production import models as production
from moldcare.work import models as work

# the plant began to keep its records here, well before any test's now
ENTERED_AT = datetime(2026, 1, 5, 5, 0, tzinfo=UTC)

NAMES = {
    "reader": "Ada Lindqvist",
    "technician": "Tomas Breuer",
    "lead": "Rosa Feldmann",
    "manager": "Ingrid Solberg",
    "feed": "press hall feed",
}
FAMILIES = {
    "vents": "vents",
    "lubrication": "lubrication",
    "inspection": "inspection",
    "descaling": "descaling",
}


class PlantFactory(DjangoModelFactory):
    class Meta:
        model = plants.Plant
        django_get_or_create = ("id",)

    id = 1
    name = "Molding plant 2"
    zone = "Europe/Berlin"


class PersonFactory(DjangoModelFactory):
    class Meta:
        model = plants.Person

    username = factory.LazyAttributeSequence(lambda row, n: f"{row.role}{n}")
    name = factory.LazyAttribute(lambda row: NAMES[row.role])
    badge = factory.Sequence(lambda n: str(4100 + n))
    role = "technician"
    password = "!"  # signs in nowhere, unless a test gives one


class SpotFactory(DjangoModelFactory):
    class Meta:
        model = plants.Spot

    kind = "press"
    number = factory.Sequence(str)


class OwnerFactory(DjangoModelFactory):
    class Meta:
        model = molds.Owner

    name = factory.Sequence(lambda n: f"Customer {n}")


class MoldFactory(DjangoModelFactory):
    class Meta:
        model = molds.Mold

    number = factory.Sequence(lambda n: f"M-{100 + n}")
    name = "lid, 38 mm"
    cavity_count = 4
    opening_count = 0
    opening_at = ENTERED_AT
    opening_source = "maker's record"
    entered_at = ENTERED_AT


class CounterFactory(DjangoModelFactory):
    class Meta:
        model = counters.Counter

    label = factory.Sequence(lambda n: f"Z-{n}")
    digits = 7


class FamilyFactory(DjangoModelFactory):
    class Meta:
        model = care.Family
        django_get_or_create = ("key",)

    key = "vents"
    name = factory.LazyAttribute(lambda row: FAMILIES.get(row.key, row.key))
    grade_clean = "shiny, no residue"
    grade_light = "a thin film"
    grade_heavy = "vents partly closed"
    grade_failed = "vents closed, burns on the part"


class CareRuleFactory(DjangoModelFactory):
    class Meta:
        model = care.CareRule

    name = factory.Sequence(lambda n: f"Clean the vents {n}")
    count_base = 20_000
    count_basis = "shots"
    reason = "starting value"
    entered_at = ENTERED_AT


FACTORIES: tuple[type[DjangoModelFactory[Any]], ...] = (
    PlantFactory,
    PersonFactory,
    SpotFactory,
    OwnerFactory,
    MoldFactory,
    CounterFactory,
    FamilyFactory,
    CareRuleFactory,
)


def begin_again() -> None:
    """Let every factory's numbers begin at 1."""
    for each in FACTORIES:
        each.reset_sequence(1, force=True)


def plant(**fields: Any) -> plants.Plant:
    """The plant; a plant that is there already gets the given fields."""
    row = PlantFactory(**fields)
    for name, value in fields.items():
        setattr(row, name, value)
    row.save()
    return row


def person(*, role: str = "technician", pin: str = "", **fields: Any) -> plants.Person:
    """A person; with a PIN, one who can sign at a tablet."""
    if pin:
        fields["pin_hash"] = make_password(pin)
    return PersonFactory(role=role, **fields)


def spot(*, kind: str = "press", **fields: Any) -> plants.Spot:
    """A press, unless another kind is asked for."""
    return SpotFactory(kind=kind, **fields)


def owner(**fields: Any) -> molds.Owner:
    """A customer who owns molds."""
    return OwnerFactory(**fields)


def mold(*, number: str | None = None, **fields: Any) -> molds.Mold:
    """A mold of four cavities with a chain of its own; nowhere, and without a counter."""
    if number is not None:
        fields["number"] = number
    row = MoldFactory.build(**fields)
    if "chain" not in fields:
        row.chain = new_chain(Chain.Kind.MOLD, row.number)
    row.save()
    for each in range(1, row.cavity_count + 1):
        molds.Cavity.objects.create(mold=row, ident=str(each))
    return row


def entry(
    chain: Chain,
    *,
    author: plants.Person,
    kind: str = "note",
    at: datetime = ENTERED_AT,
    sentence: str = "Looked over, nothing found.",
    facts: Mapping[str, object] | None = None,
    **fields: Any,
) -> Entry:
    """An entry, appended as the product appends it."""
    fields.setdefault("written_at", at)
    with transaction.atomic():
        return append_entry(
            chain,
            kind=kind,
            happened_at=at,
            author=author,
            sentence=sentence,
            facts=facts or {},
            **fields,
        )


def cycle_time(
    of: molds.Mold,
    *,
    author: plants.Person,
    standard_s: str = "12.0",
    valid_from: datetime = ENTERED_AT,
    after_reading: int = 0,
) -> molds.CycleTime:
    """A mold's cycle time from an instant on, with its entry."""
    return molds.CycleTime.objects.create(
        mold=of,
        standard_s=Decimal(standard_s),
        valid_from=valid_from,
        reason="as quoted",
        entry=entry(of.chain, author=author, kind="cycle_time", at=valid_from),
        after_reading=after_reading,
        written_at=valid_from,
    )


def move(
    of: molds.Mold, *, to: plants.Spot, author: plants.Person, at: datetime = ENTERED_AT
) -> molds.Move:
    """A mold came to a spot."""
    return molds.Move.objects.create(mold=of, spot=to, at=at, person=author, written_at=at)


def set_in_press(
    of: molds.Mold,
    *,
    press: plants.Spot,
    author: plants.Person,
    at: datetime = ENTERED_AT,
    after_reading: int = 0,
) -> molds.RunEvent:
    """A mold was set: the move to the press, and the event that counting looks at."""
    move(of, to=press, author=author, at=at)
    return molds.RunEvent.objects.create(
        mold=of,
        press=press,
        act="set",
        at=at,
        person=author,
        after_reading=after_reading,
        written_at=at,
    )


def counter(
    *,
    on: molds.Mold | plants.Spot,
    author: plants.Person,
    at: datetime = ENTERED_AT,
    value_shown: int | None = 0,
    **fields: Any,
) -> counters.Counter:
    """A counter of seven digits that was fitted to a mold or a press."""
    row = CounterFactory(**fields)
    where = {"mold": on} if isinstance(on, molds.Mold) else {"press": on}
    counters.CounterFitting.objects.create(
        counter=row,
        at=at,
        act="fitted",
        value_shown=value_shown,
        person=author,
        after_reading=0,
        written_at=at,
        **where,
    )
    return row


def readings(
    of: counters.Counter,
    *,
    rows: Iterable[tuple[datetime, int]],
    author: plants.Person,
    source: str = "typed",
) -> list[counters.Reading]:
    """Readings in the order of arrival, each written when it was taken; nothing is judged."""
    return [
        counters.Reading.objects.create(
            counter=of, at=at, value=value, source=source, person=author, written_at=at
        )
        for at, value in rows
    ]


def family(*, key: str = "vents", **fields: Any) -> care.Family:
    """A family of tasks; the same key gives the same family."""
    return FamilyFactory(key=key, **fields)


def care_rule(*, mold: molds.Mold | None = None, **fields: Any) -> care.CareRule:
    """A rule: clean the vents every 20,000 shots, unless told otherwise; without steps."""
    if mold is not None:
        fields["mold"] = mold
    if "family" not in fields:
        fields["family"] = family()
    return CareRuleFactory(**fields)


def completion(
    of: care.CareRule, *, author: plants.Person, at: datetime = ENTERED_AT
) -> care.Completion:
    """A mold's rule was done, and its logbook says so."""
    assert of.mold is not None
    said = entry(of.mold.chain, author=author, kind="order", at=at, sentence=f"{of.name}: done.")
    return care.Completion.objects.create(
        rule=of,
        happened_at=at,
        minutes=20,
        person=author,
        entry=said,
        written_at=at,
    )


def step(of: care.CareRule, *, place: int = 1, **fields: Any) -> care.Step:
    """A step that asks for a tick."""
    fields.setdefault("text", "Brush the vents clean, then blow them out.")
    return care.Step.objects.create(rule=of, place=place, **fields)


def order(
    of: molds.Mold,
    *,
    rules: Iterable[care.CareRule],
    author: plants.Person,
    at: datetime = ENTERED_AT,
    **fields: Any,
) -> work.Order:
    """An order with one task a rule, numbered from 1001 on, being written."""
    newest = work.Order.objects.order_by("-number").values_list("number", flat=True).first()
    fields.setdefault("number", (newest or 1000) + 1)
    row = work.Order.objects.create(mold=of, written_by=author, written_at=at, **fields)
    for place, rule in enumerate(rules, start=1):
        work.OrderTask.objects.create(order=row, rule=rule, place=place)
    return row


def run(of: molds.Mold, *, press: plants.Spot, planned_from: datetime) -> molds.Run:
    """Five days in a press are planned for a mold."""
    return molds.Run.objects.create(
        mold=of, press=press, planned_from=planned_from, planned_to=planned_from + timedelta(days=5)
    )


def interruption(
    of: molds.Mold,
    *,
    press: plants.Spot,
    author: plants.Person,
    at: datetime = ENTERED_AT,
    finding: str = "Flash at the parting line of cavity 2.",
) -> production.Interruption:
    """A run is interrupted, and still is."""
    return production.Interruption.objects.create(
        mold=of,
        press=press,
        from_at=at,
        defect="flash",
        finding=finding,
        person=author,
        entry=entry(of.chain, author=author, kind="interruption", at=at, sentence=finding),
        written_at=at,
    )


def counted_mold(**fields: Any) -> molds.Mold:
    """A mold as acts leave it: its life, standings and board are derived."""
    row = mold(**fields)
    refresh_counts(molds=[row.pk])
    return row


def rate(*, kind: str, valid_from: date, **fields: Any) -> plants.Rate:
    """What an hour costs from a date on: 40 EUR, unless said otherwise."""
    return plants.Rate.objects.create(
        **{"amount": "40.00", "currency": "EUR", "written_at": ENTERED_AT}
        | {"kind": kind, "valid_from": valid_from}
        | fields
    )


def three_shifts(*, valid_from: date = date(2026, 1, 1)) -> plants.ShiftPattern:
    """Early, late and night from Monday to Friday; the night ends on the next day."""
    pattern = plants.ShiftPattern.objects.create(valid_from=valid_from, written_at=ENTERED_AT)
    for weekday in range(5):
        for name, starts, ends in (("early", 6, 14), ("late", 14, 22), ("night", 22, 6)):
            plants.ShiftSlot.objects.create(
                pattern=pattern, weekday=weekday, name=name, starts=time(starts), ends=time(ends)
            )
    return pattern
