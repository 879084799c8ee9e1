from datetime import timedelta
from itertools import pairwise
from uuid import uuid4

import pytest

from moldcare.acts.doing import Doing
from moldcare.acts.errors import (
    AlreadySigned,
    DoesNotFit,
    HandedInDifferently,
    Incomplete,
    NotAllowed,
    NotFound,
)
from moldcare.acts.orders import (
    add_tasks,
    begin,
    go_on,
    hand_out,
    hold_up,
    open_order,
    plan_order,
    remove_task,
    strike_out,
    tick_covered,
    write_order,
)
from moldcare.care.models import CareRule, Cover
from moldcare.logbook.models import Entry
from moldcare.molds.models import Mold
from moldcare.plant.models import Person
from moldcare.work.models import Order, OrderState
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def mold() -> Mold:
    factories.plant()
    return factories.mold(number="M-2041")


def covering(mold: Mold, *names: str) -> list[CareRule]:
    """Rules of which each covers the next."""
    rules = [factories.care_rule(mold=mold, name=name) for name in names]
    for above, below in pairwise(rules):
        Cover.objects.create(covering=above, covered=below)
    return rules


def the_order(number: int) -> Order:
    return Order.objects.get(number=number)


def test_numbers_begin_at_1001_and_follow(doing: Doing, mold: Mold) -> None:
    first = write_order(doing, mold=mold, rules=[factories.care_rule(mold=mold)])
    other = factories.mold()
    second = write_order(doing, mold=other, rules=[factories.care_rule(mold=other)])
    assert (first.number, second.number) == (1001, 1002)
    assert the_order(1001).state is OrderState.WRITTEN


def test_what_a_rule_covers_enters_as_ticked_lines_through_all_depths(
    doing: Doing, mold: Mold
) -> None:
    full, plates, faces = covering(mold, "Full service", "Plates apart", "Clean the faces")
    written = write_order(doing, mold=mold, rules=[full])
    assert written.added == (full.pk, plates.pk, faces.pk)
    own, *under = the_order(written.number).tasks.all()
    assert own.rule == full
    assert own.covered_by is None
    assert [(line.rule, line.covered_by, line.is_ticked) for line in under] == [
        (plates, own, True),
        (faces, own, True),
    ]


def test_a_task_asked_for_together_with_one_that_covers_it_is_covered(
    doing: Doing, mold: Mold
) -> None:
    full, faces = covering(mold, "Full service", "Clean the faces")
    written = write_order(doing, mold=mold, rules=[faces, full])
    lines = {line.rule_id: line for line in the_order(written.number).tasks.all()}
    assert lines[faces.pk].covered_by == lines[full.pk]


def test_a_covered_line_that_is_asked_for_later_becomes_a_task_of_its_own(
    doing: Doing, mold: Mold
) -> None:
    full, faces = covering(mold, "Full service", "Clean the faces")
    order = the_order(write_order(doing, mold=mold, rules=[full]).number)
    assert add_tasks(doing, order=order, rules=[faces]) == ()
    assert order.tasks.get(rule=faces).covered_by is None


def test_a_circle_of_covers_ends(doing: Doing, mold: Mold) -> None:
    one, two = covering(mold, "One", "Two")
    Cover.objects.create(covering=two, covered=one)
    assert write_order(doing, mold=mold, rules=[one]).added == (one.pk, two.pk)


def test_a_withdrawn_rule_is_not_covered(doing: Doing, mold: Mold) -> None:
    full, faces = covering(mold, "Full service", "Clean the faces")
    CareRule.objects.filter(pk=faces.pk).update(withdrawn_at=doing.now)
    assert write_order(doing, mold=mold, rules=[full]).added == (full.pk,)


def test_a_mold_has_one_unsigned_order_which_takes_further_tasks(doing: Doing, mold: Mold) -> None:
    one, two = factories.care_rule(mold=mold), factories.care_rule(mold=mold)
    first = write_order(doing, mold=mold, rules=[one])
    again = write_order(doing, mold=mold, rules=[two, one])
    assert again.number == first.number
    assert not again.is_new
    assert again.added == (two.pk,)
    assert Order.objects.count() == 1


def test_after_an_order_is_struck_out_the_next_one_is_new(doing: Doing, mold: Mold) -> None:
    rule = factories.care_rule(mold=mold)
    first = write_order(doing, mold=mold, rules=[rule])
    strike_out(doing, order=the_order(first.number), reason="the run goes on")
    again = write_order(doing, mold=mold, rules=[rule])
    assert again.is_new
    assert again.number == first.number + 1


def test_why_and_people_and_note_are_kept(doing: Doing, mold: Mold, technician: Person) -> None:
    rule = factories.care_rule(mold=mold)
    at = doing.now + timedelta(hours=3)
    written = write_order(
        doing,
        mold=mold,
        rules=[rule],
        planned_at=at,
        people=[technician],
        note="  bench 2 ",
        why={rule.pk: "due: 20,400 of 20,000 shots"},
    )
    order = the_order(written.number)
    assert order.planned_at == at
    assert list(order.people.all()) == [technician]
    assert order.note == "bench 2"
    assert order.tasks.get().why == "due: 20,400 of 20,000 shots"


def test_another_molds_rule_is_refused(doing: Doing, mold: Mold) -> None:
    with pytest.raises(DoesNotFit, match="belongs to something else"):
        write_order(doing, mold=mold, rules=[factories.care_rule(mold=factories.mold())])
    assert not Order.objects.exists()


def test_an_order_needs_a_task_and_a_subject(doing: Doing, mold: Mold) -> None:
    with pytest.raises(Incomplete):
        write_order(doing, mold=mold, rules=[])
    with pytest.raises(Incomplete):
        write_order(doing, rules=[factories.care_rule(mold=mold)])


def test_a_note_that_is_too_long_is_refused_with_its_limit(doing: Doing, mold: Mold) -> None:
    with pytest.raises(Incomplete, match="400"):
        write_order(doing, mold=mold, rules=[factories.care_rule(mold=mold)], note="x" * 401)


def test_a_reader_writes_no_order(mold: Mold, reader: Person, doing: Doing) -> None:
    with pytest.raises(NotAllowed):
        write_order(
            Doing(person=reader, now=doing.now),
            mold=mold,
            rules=[factories.care_rule(mold=mold)],
        )


def test_the_same_hand_in_twice_is_one_order(doing: Doing, mold: Mold) -> None:
    rule = factories.care_rule(mold=mold)
    named = Doing(person=doing.person, now=doing.now, hand_in=uuid4())
    first = write_order(named, mold=mold, rules=[rule])
    assert write_order(named, mold=mold, rules=[rule]) == first
    with pytest.raises(HandedInDifferently):
        write_order(named, mold=mold, rules=[rule], note="another")


def test_a_lead_hands_out_and_a_technician_begins(
    doing: Doing, mold: Mold, technician: Person
) -> None:
    order = the_order(write_order(doing, mold=mold, rules=[factories.care_rule(mold=mold)]).number)
    by_technician = Doing(person=technician, now=doing.now)
    with pytest.raises(NotAllowed):
        hand_out(by_technician, order=order)
    with pytest.raises(NotAllowed, match="still being written"):
        begin(by_technician, order=order)
    hand_out(doing, order=order)
    assert the_order(order.number).state is OrderState.HANDED_OUT
    begin(by_technician, order=order)
    assert the_order(order.number).state is OrderState.BEGUN


def test_an_order_is_held_up_and_goes_on(doing: Doing, mold: Mold) -> None:
    order = the_order(write_order(doing, mold=mold, rules=[factories.care_rule(mold=mold)]).number)
    begin(doing, order=order)
    with pytest.raises(Incomplete):
        hold_up(doing, order=order, by="  ")
    hold_up(doing, order=order, by="part: slide spring")
    assert the_order(order.number).state is OrderState.HELD_UP
    go_on(doing, order=order)
    assert the_order(order.number).state is OrderState.BEGUN


def test_striking_out_keeps_the_reason_in_the_logbook(doing: Doing, mold: Mold) -> None:
    order = the_order(write_order(doing, mold=mold, rules=[factories.care_rule(mold=mold)]).number)
    with pytest.raises(Incomplete):
        strike_out(doing, order=order, reason=" ")
    strike_out(doing, order=order, reason="mold goes back to its owner")
    entry = Entry.objects.get(chain=mold.chain)
    assert entry.sentence == "Order 1001 struck out: mold goes back to its owner."
    assert the_order(order.number).state is OrderState.STRUCK_OUT
    with pytest.raises(DoesNotFit, match="struck out"):
        hand_out(doing, order=order)


def test_a_line_is_removed_only_while_the_order_is_being_written(doing: Doing, mold: Mold) -> None:
    full, faces = covering(mold, "Full service", "Clean the faces")
    other = factories.care_rule(mold=mold, name="Grease the pins")
    order = the_order(write_order(doing, mold=mold, rules=[full, other]).number)
    remove_task(doing, task=order.tasks.get(rule=full))
    assert [line.rule for line in order.tasks.all()] == [other]
    hand_out(doing, order=order)
    with pytest.raises(DoesNotFit, match="handed out"):
        remove_task(doing, task=order.tasks.get(rule=other))
    assert faces.order_tasks.count() == 0


def test_an_order_without_tasks_is_not_handed_out(doing: Doing, mold: Mold) -> None:
    rule = factories.care_rule(mold=mold)
    order = the_order(write_order(doing, mold=mold, rules=[rule]).number)
    remove_task(doing, task=order.tasks.get())
    with pytest.raises(Incomplete, match="no task"):
        hand_out(doing, order=order)


def test_only_covered_lines_are_unticked(doing: Doing, mold: Mold) -> None:
    full, faces = covering(mold, "Full service", "Clean the faces")
    order = the_order(write_order(doing, mold=mold, rules=[full]).number)
    tick_covered(doing, task=order.tasks.get(rule=faces), is_ticked=False)
    assert order.tasks.get(rule=faces).is_ticked is False
    with pytest.raises(DoesNotFit, match="not covered"):
        tick_covered(doing, task=order.tasks.get(rule=full), is_ticked=False)


def test_planning_changes_people_and_time(doing: Doing, mold: Mold, technician: Person) -> None:
    order = the_order(
        write_order(
            doing, mold=mold, rules=[factories.care_rule(mold=mold)], people=[doing.person]
        ).number
    )
    at = doing.now + timedelta(days=1)
    plan_order(doing, order=order, planned_at=at, people=[technician], note="after the run")
    again = the_order(order.number)
    assert (again.planned_at, again.note) == (at, "after the run")
    assert list(again.people.all()) == [technician]


def test_what_is_gone_or_signed_is_said(doing: Doing, mold: Mold) -> None:
    with pytest.raises(NotFound):
        open_order(Order(pk=99))
    rule = factories.care_rule(mold=mold)
    order = the_order(write_order(doing, mold=mold, rules=[rule]).number)
    Order.objects.filter(pk=order.pk).update(
        signed_at=doing.now, entry=factories.entry(mold.chain, author=doing.person)
    )
    with pytest.raises(AlreadySigned, match="1001"):
        add_tasks(doing, order=order, rules=[rule])
