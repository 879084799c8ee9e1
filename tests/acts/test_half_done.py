"""Half-done work is passed on with what is out of the mold, and a signature asks about that."""

from datetime import timedelta
from decimal import Decimal

import pytest

from moldcare.acts.doing import Doing
from moldcare.acts.errors import DoesNotFit, Incomplete, NotAllowed, NotFound
from moldcare.acts.half_done import PartLying, pass_on, take_in
from moldcare.acts.orders import hand_out, strike_out, write_order
from moldcare.acts.sheet import record_look, record_step
from moldcare.acts.signing import SupplySpent, sign_order
from moldcare.care.models import CareRule
from moldcare.molds import models as molds
from moldcare.plant.models import Person
from moldcare.work.models import Order, PartIn, PartOut, PassedOn, SupplyUsed
from moldcare.work.queries import parts_out, passed_on, sheet_of
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def rule() -> CareRule:
    factories.plant()
    rule = factories.care_rule(mold=factories.mold(number="M-2041"), name="Clean the vents")
    factories.step(rule, place=1, text="Wash the vents")
    return rule


@pytest.fixture
def order(doing: Doing, rule: CareRule) -> Order:
    order = Order.objects.get(pk=write_order(doing, mold=rule.mold, rules=[rule]).pk)
    hand_out(doing, order=order)
    return order


@pytest.fixture
def position(rule: CareRule) -> molds.Position:
    return molds.Position.objects.create(mold=rule.mold, ident="C2", name="core of cavity 2")


def worked(doing: Doing, order: Order) -> None:
    task = order.tasks.get()
    record_look(doing, order=order, grades={task.pk: "light"}, without_photo="no camera")
    record_step(doing, order=order, task=task, step=1)


def signed(doing: Doing, order: Order, **more: object) -> Order:
    sign_order(doing, order=order, signer=doing.person, minutes=20, **more)  # type: ignore[arg-type]
    return Order.objects.get(pk=order.pk)


def test_a_part_is_named_by_its_position_and_what_sat_in_it(
    doing: Doing, order: Order, position: molds.Position
) -> None:
    piece = molds.Component.objects.create(serial="4711", name="core")
    molds.Fitting.objects.create(
        component=piece,
        position=position,
        at=doing.now - timedelta(days=1),
        person=doing.person,
        entry=factories.entry(position.mold.chain, author=doing.person, at=doing.now),
        written_at=doing.now,
    )
    pass_on(
        doing,
        order=order,
        note="vents of half B are open",
        parts=[
            PartLying(position=position.pk, lies="box 3 on bench 2"),
            PartLying(what="two springs", lies="box 3 on bench 2"),
        ],
    )
    assert [(part.what, part.lies) for part in parts_out()] == [
        ("C2: core 4711", "box 3 on bench 2"),
        ("two springs", "box 3 on bench 2"),
    ]
    assert [part.pk for part in parts_out([order.mold_id or 0])] == [
        part.pk for part in parts_out()
    ]
    assert parts_out([0]) == []
    assert passed_on([order.pk])[order.pk].note == "vents of half B are open"


def test_the_newest_word_counts(doing: Doing, order: Order) -> None:
    pass_on(doing, order=order, note="wait for the part")
    pass_on(doing, order=order, note="the part is here")
    assert passed_on([order.pk])[order.pk].note == "the part is here"
    assert PassedOn.objects.count() == 2


def test_nothing_said_is_nothing_passed_on(doing: Doing, order: Order) -> None:
    with pytest.raises(Incomplete, match="Say what whoever goes on must know"):
        pass_on(doing, order=order, note="  ")
    with pytest.raises(Incomplete, match="where the parts lie"):
        pass_on(doing, order=order, parts=[PartLying(what="a spring", lies=" ")])
    with pytest.raises(Incomplete, match="What is out"):
        pass_on(doing, order=order, note="and this", parts=[PartLying(lies="box 3")])
    assert not PartOut.objects.exists()
    assert not PassedOn.objects.exists()


def test_what_is_out_cannot_come_out_again(
    doing: Doing, order: Order, position: molds.Position
) -> None:
    part = PartLying(position=position.pk, lies="box 3")
    with pytest.raises(DoesNotFit, match="named twice"):
        pass_on(doing, order=order, parts=[part, part])
    (out,) = pass_on(doing, order=order, parts=[part])
    with pytest.raises(DoesNotFit, match="out already: box 3"):
        pass_on(doing, order=order, parts=[part])
    take_in(doing, part=out)
    pass_on(doing, order=order, parts=[part])
    assert len(parts_out()) == 1


def test_a_position_of_another_mold_is_refused(doing: Doing, order: Order) -> None:
    other = molds.Position.objects.create(mold=factories.mold(), ident="X")
    with pytest.raises(NotFound, match="not in this mold"):
        pass_on(doing, order=order, parts=[PartLying(position=other.pk, lies="box 3")])


def test_a_part_is_taken_in_once(doing: Doing, order: Order) -> None:
    (out,) = pass_on(doing, order=order, parts=[PartLying(what="a spring", lies="box 3")])
    take_in(doing, part=out)
    take_in(doing, part=out)
    assert PartIn.objects.count() == 1
    assert parts_out() == []


def test_a_reader_passes_nothing_on(doing: Doing, order: Order, reader: Person) -> None:
    (out,) = pass_on(doing, order=order, parts=[PartLying(what="a spring", lies="box 3")])
    looks = Doing(person=reader, now=doing.now)
    with pytest.raises(NotAllowed):
        pass_on(looks, order=order, note="seen")
    with pytest.raises(NotAllowed):
        take_in(looks, part=out)


def test_parts_of_a_struck_out_order_stay_out_until_they_are_in(doing: Doing, order: Order) -> None:
    (out,) = pass_on(doing, order=order, parts=[PartLying(what="a spring", lies="box 3")])
    strike_out(doing, order=order, reason="mold is needed")
    assert parts_out() == [out]
    with pytest.raises(DoesNotFit, match="struck out"):
        pass_on(doing, order=order, note="and this")
    take_in(doing, part=out)
    assert parts_out() == []


def test_a_signature_with_parts_out_asks(doing: Doing, order: Order) -> None:
    (out,) = pass_on(doing, order=order, parts=[PartLying(what="a spring", lies="box 3")])
    worked(doing, order)
    with pytest.raises(Incomplete, match=r"Parts are still out: a spring \(box 3\)"):
        signed(doing, order)
    entry = signed(doing, order, parts_stay_out=True).entry
    assert entry is not None
    assert "Still out of the mold: a spring (box 3)." in entry.sentence
    assert '"what":"a spring"' in entry.facts
    assert parts_out() == [out]
    take_in(doing, part=out)
    assert parts_out() == []


def test_with_all_parts_in_nothing_is_asked(doing: Doing, order: Order) -> None:
    (out,) = pass_on(doing, order=order, parts=[PartLying(what="a spring", lies="box 3")])
    take_in(doing, part=out)
    worked(doing, order)
    entry = signed(doing, order).entry
    assert entry is not None
    assert "out of the mold" not in entry.sentence


def test_what_was_used_up_stands_in_the_entry(doing: Doing, order: Order) -> None:
    grease = molds.Supply.objects.create(number="S-7", name="grease", unit="g")
    worked(doing, order)
    row = signed(
        doing,
        order,
        supplies=[
            SupplySpent(name="grease", amount=Decimal("2.50"), unit="g", supply=grease.pk),
            SupplySpent(name="lint-free cloth"),
        ],
    )
    assert row.entry is not None
    assert "Used: grease 2.5 g, lint-free cloth." in row.entry.sentence
    assert [(used.name, used.amount, used.supply) for used in SupplyUsed.objects.all()] == [
        ("grease", Decimal("2.5"), grease),
        ("lint-free cloth", None, None),
    ]
    assert {used.entry for used in SupplyUsed.objects.all()} == {row.entry}


@pytest.mark.parametrize(
    ("spent", "says"),
    [
        (SupplySpent(name=" "), "Say what was used up"),
        (SupplySpent(name="grease", amount=Decimal(0)), "above nought"),
        (SupplySpent(name="grease", supply=999), "not on the list of supplies"),
        (SupplySpent(name="g" * 121), "at most 120"),
    ],
)
def test_a_supply_that_cannot_be_is_refused_and_nothing_signed(
    doing: Doing, order: Order, spent: SupplySpent, says: str
) -> None:
    worked(doing, order)
    with pytest.raises((DoesNotFit, Incomplete, NotFound), match=says):
        signed(doing, order, supplies=[spent])
    assert Order.objects.get(pk=order.pk).signed_at is None
    assert not SupplyUsed.objects.exists()


def test_a_step_that_somebody_else_wrote_meanwhile_is_not_written_over(
    doing: Doing, order: Order
) -> None:
    other = Doing(person=factories.person(name="Mara Lindgren"), now=doing.now)
    task = order.tasks.get()
    seen = sheet_of(order).steps[1].newest
    record_step(other, order=order, task=task, step=1, seen=seen)
    with pytest.raises(DoesNotFit, match="Mara Lindgren wrote this step down meanwhile"):
        record_step(doing, order=order, task=task, step=1, seen=seen)
    # one's own row does not stand in the way, and a fresh sheet has seen the other's
    record_step(other, order=order, task=task, step=1, seen=seen)
    record_step(doing, order=order, task=task, step=1, seen=sheet_of(order).steps[1].newest)


def test_a_picture_of_the_finished_work_is_nobodys_duty(doing: Doing, order: Order) -> None:
    worked(doing, order)
    sheet = sheet_of(order)
    assert sheet.is_ready_to_sign
    assert not sheet.after.is_done
    assert sheet.pairs == ()
