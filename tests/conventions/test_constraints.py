"""The database itself refuses what can never be true, whoever writes it, on both engines."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import IntegrityError, transaction

from moldcare.care import models as care
from moldcare.counters import models as counters
from moldcare.logbook.models import Entry
from moldcare.molds import models as molds
from moldcare.plant.models import Person
from moldcare.production.models import Interruption
from moldcare.work.models import Order
from tests import factories

pytestmark = pytest.mark.django_db
AT = datetime(2026, 11, 3, 6, tzinfo=UTC)


def twice(make: Callable[[], object]) -> None:
    make()
    make()


def a_move(by: Person) -> None:
    mold, spots = factories.mold(), [factories.spot(kind="bench"), factories.spot(kind="bench")]
    for spot in spots:
        factories.move(mold, to=spot, author=by, at=AT)


def a_fitting_of_one_piece(by: Person) -> None:
    mold, piece = factories.mold(), molds.Component.objects.create(serial="S-1", name="core")
    for ident in ("K1", "K2"):
        place = molds.Position.objects.create(mold=mold, ident=ident, name="core")
        fitting(piece, place, by=by, mold=mold)


def a_fitting_in_one_position(by: Person) -> None:
    mold = factories.mold()
    place = molds.Position.objects.create(mold=mold, ident="K1", name="core")
    for serial in ("S-1", "S-2"):
        piece = molds.Component.objects.create(serial=serial, name="core")
        fitting(piece, place, by=by, mold=mold)


def fitting(piece: molds.Component, place: molds.Position, *, by: Person, mold: molds.Mold) -> None:
    molds.Fitting.objects.create(
        component=piece,
        position=place,
        at=AT,
        person=by,
        entry=factories.entry(mold.chain, author=by, at=AT),
        written_at=AT,
    )


def a_counter_on_both(by: Person) -> None:
    counters.CounterFitting.objects.create(
        counter=factories.CounterFactory(),
        mold=factories.mold(),
        press=factories.spot(),
        at=AT,
        act="fitted",
        person=by,
        after_reading=0,
        written_at=AT,
    )


def a_counter_on_nothing(by: Person) -> None:
    counters.CounterFitting.objects.create(
        counter=factories.CounterFactory(),
        at=AT,
        act="fitted",
        person=by,
        after_reading=0,
        written_at=AT,
    )


def a_reading_twice(by: Person) -> None:
    counter = factories.counter(on=factories.mold(), author=by)
    factories.readings(counter, rows=[(AT, 7), (AT, 7)], author=by)


def a_negative_reading(by: Person) -> None:
    counter = factories.counter(on=factories.mold(), author=by)
    factories.readings(counter, rows=[(AT, -1)], author=by)


def an_entry_far_before_it_happened(by: Person) -> None:
    chain = factories.mold().chain
    row = factories.entry(chain, author=by, at=AT)
    written_at = AT - timedelta(days=2)
    copy = {name: getattr(row, name) for name in ("form", "kind", "sentence", "facts", "canonical")}
    Entry.objects.create(
        chain=chain,
        number=2,
        happened_at=AT,
        written_at=written_at,
        author=by,
        author_name=by.name,
        previous_hash=row.hash,
        hash="0" * 64,
        **copy,
    )


def a_forked_chain(by: Person) -> None:
    chain = factories.mold().chain
    row = factories.entry(chain, author=by, at=AT)
    copy = {name: getattr(row, name) for name in ("form", "kind", "sentence", "facts", "canonical")}
    Entry.objects.create(
        chain=chain,
        number=2,
        happened_at=AT,
        written_at=AT,
        author=by,
        author_name=by.name,
        previous_hash=row.previous_hash,
        hash="0" * 64,
        **copy,
    )


def a_completion_without_an_entry(by: Person) -> None:
    rule = factories.care_rule(mold=factories.mold())
    care.Completion.objects.create(rule=rule, happened_at=AT, person=by, entry=None, written_at=AT)


def a_completion_without_time_or_count(by: Person) -> None:
    rule = factories.care_rule(mold=factories.mold())
    entry = factories.entry(rule.mold.chain, author=by, at=AT)
    care.Completion.objects.create(rule=rule, person=by, entry=entry, written_at=AT)


def a_deferral(by: Person, *, reason: str, until_on: date | None) -> None:
    rule = factories.care_rule(mold=factories.mold())
    care.Deferral.objects.create(
        rule=rule,
        made_at=AT,
        made_count=0,
        until_on=until_on,
        reason=reason,
        person=by,
        entry=factories.entry(rule.mold.chain, author=by, at=AT),
        written_at=AT,
    )


def an_interruption_that_ends_first(by: Person) -> None:
    mold = factories.mold()
    Interruption.objects.create(
        mold=mold,
        press=factories.spot(),
        from_at=AT,
        to_at=AT - timedelta(hours=1),
        defect="flash",
        finding="Flash.",
        person=by,
        entry=factories.entry(mold.chain, author=by, at=AT),
        written_at=AT,
    )


def a_rule_of_two_targets(by: Person) -> None:
    mold = factories.mold()
    place = molds.Position.objects.create(mold=mold, ident="K1", name="core")
    circuit = molds.Circuit.objects.create(mold=mold, ident="A1", half="A")
    factories.care_rule(mold=mold, position=place, circuit=circuit, target="position")


def two_unsigned_orders(by: Person) -> None:
    mold = factories.mold()
    twice(lambda: factories.order(mold, rules=[], author=by, at=AT))


def an_order_of_nothing(by: Person) -> None:
    Order.objects.create(number=1001, written_by=by, written_at=AT)


# what is never true, the word by which both databases refuse it, and who tries
NEVER: dict[str, tuple[str, Callable[[Person], object]]] = {
    "a mold in two places at one instant": ("molds_move", a_move),
    "a component fitted twice at one instant": ("molds_fitting", a_fitting_of_one_piece),
    "a position with two components from one instant": ("molds_fitting", a_fitting_in_one_position),
    "two molds of one number": (
        "molds_mold",
        lambda _by: twice(lambda: factories.mold(number="0417")),
    ),
    "two components of one serial": (
        "molds_component",
        lambda _by: twice(lambda: molds.Component.objects.create(serial="S-1", name="core")),
    ),
    "a badge of two people": ("badge", lambda _by: twice(lambda: factories.person(badge="4711"))),
    "two spots of one kind and number": (
        "plant_spot",
        lambda _by: twice(lambda: factories.spot(number="7")),
    ),
    "a counter that starts again at 0": (
        "counters_counter_rollover",
        lambda _by: factories.CounterFactory(rollover=0),
    ),
    "a counter on a mold and a press": ("counters_fitting_mold_xor_press", a_counter_on_both),
    "a counter fitted to nothing": ("counters_fitting_mold_xor_press", a_counter_on_nothing),
    "one reading stored twice": ("counters_reading", a_reading_twice),
    "a reading below 0": ("value|counters_reading_not_negative", a_negative_reading),
    "an entry written before it happened": (
        "logbook_entry_not_before_it_happened",
        an_entry_far_before_it_happened,
    ),
    "two entries after one": ("logbook_entry", a_forked_chain),
    "work done that no entry says": ("entry_id", a_completion_without_an_entry),
    "work done at no time and no count": (
        "care_completion_when_or_count",
        a_completion_without_time_or_count,
    ),
    "a deferral without a reason": (
        "care_deferral_has_a_reason",
        lambda by: a_deferral(by, reason="", until_on=date(2026, 12, 1)),
    ),
    "a deferral without a limit": (
        "care_deferral_has_a_limit",
        lambda by: a_deferral(by, reason="urgent", until_on=None),
    ),
    "an interruption that ends before it begins": (
        "production_interruption_order",
        an_interruption_that_ends_first,
    ),
    "a rule of two targets": ("care_carerule_one_target", a_rule_of_two_targets),
    "two orders of a mold that nobody signed": ("work_order", two_unsigned_orders),
    "an order for nothing": ("work_order_mold_xor_auxiliary", an_order_of_nothing),
}


@pytest.mark.parametrize("never", NEVER)
def test_what_can_never_be_true_is_refused(technician: Person, never: str) -> None:
    word, attempt = NEVER[never]
    with pytest.raises(IntegrityError, match=word), transaction.atomic():
        attempt(technician)
