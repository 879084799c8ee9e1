import io
import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from django.core.management import call_command

from moldcare.acts import refresh
from moldcare.acts.doing import Doing
from moldcare.acts.orders import hand_out, tick_covered, write_order
from moldcare.acts.sheet import record_look, record_step
from moldcare.acts.signing import sign_order
from moldcare.care.convert import standing_value
from moldcare.care.models import CareRule, Completion, Cover, Standing
from moldcare.core.due import State, state_at
from moldcare.molds.models import Mold
from moldcare.work.models import Order
from moldcare.work.queries import (
    covered_rules,
    first_unbacked,
    missing_qualifications,
    next_order_number,
    order_numbered,
    unsigned_order_of,
    unsigned_orders,
)
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def mold(doing: Doing) -> Mold:
    """A mold whose counter has passed 20,000 since its records began."""
    factories.plant()
    mold = factories.mold(number="M-2041")
    factories.set_in_press(mold, press=factories.spot(), author=doing.person)
    counter = factories.counter(on=mold, author=doing.person)
    rows = [(datetime(2026, 11, day, 5, 0, tzinfo=UTC), 1_000 * day) for day in range(1, 25)]
    factories.cycle_time(mold, author=doing.person)
    factories.readings(counter, rows=rows, author=doing.person)
    refresh.refresh_counts(counters=[counter.pk], molds=[mold.pk])
    return mold


def state_of(rule: CareRule, at: datetime) -> State:
    return state_at(standing_value(Standing.objects.get(rule=rule)), at=at)


def signed_order(doing: Doing, *rules: CareRule, without: CareRule | None = None) -> Order:
    written = write_order(doing, mold=rules[0].mold, rules=list(rules))
    order = Order.objects.get(number=written.number)
    hand_out(doing, order=order)
    if without is not None:
        tick_covered(doing, task=order.tasks.get(rule=without), is_ticked=False)
    lines = list(order.tasks.all())
    record_look(
        doing, order=order, grades={line.pk: "light" for line in lines}, without_photo="dark"
    )
    for line in lines:
        if line.covered_by_id is None:
            record_step(doing, order=order, task=line, step=1)
    sign_order(doing, order=order, signer=doing.person, minutes=30)
    order.refresh_from_db()
    return order


def test_a_signed_covering_rule_leaves_none_of_its_ticked_rules_due(
    doing: Doing, mold: Mold
) -> None:
    full, plates, faces = (
        factories.care_rule(mold=mold, name=name) for name in ("Full", "Plates", "Faces")
    )
    unticked = factories.care_rule(mold=mold, name="Pins")
    Cover.objects.create(covering=full, covered=plates)
    Cover.objects.create(covering=plates, covered=faces)
    Cover.objects.create(covering=full, covered=unticked)
    refresh.refresh_care(molds=[mold.pk])
    rules = (full, plates, faces, unticked)
    reached = {State.DUE, State.OVERDUE, State.PAST_LIMIT}
    assert all(state_of(rule, doing.now) in reached for rule in rules)
    signed_order(doing, full, without=unticked)
    after = {rule.name: state_of(rule, doing.now) for rule in rules}
    assert after.pop("Pins") in reached
    assert not set(after.values()) & reached


def test_completions_and_entries_have_each_other(doing: Doing, mold: Mold) -> None:
    rule = factories.care_rule(mold=mold)
    signed_order(doing, rule)
    assert first_unbacked() is None
    # a completion that names an order's entry which does not speak of it
    entry = Completion.objects.get().entry
    stray = factories.care_rule(mold=mold)
    Completion.objects.create(
        rule=stray,
        happened_at=doing.now,
        person=doing.person,
        entry=entry,
        written_at=doing.now,
    )
    assert first_unbacked() == (
        f"{entry}: a completion of rule {stray.pk} names it, and it does not say so."
    )


def test_an_entry_of_work_done_without_its_completion_is_found(doing: Doing, mold: Mold) -> None:
    entry = factories.entry(
        mold.chain,
        author=doing.person,
        kind="order",
        facts={"order": 1001, "tasks": [{"rule": 7, "completes": True}]},
    )
    assert first_unbacked() == f"{entry}: rule 7 is done in it and has no completion."
    out = io.StringIO()
    with pytest.raises(SystemExit) as ended:
        call_command("verify_logbook", stdout=out)
    assert ended.value.code == 1
    assert "rule 7" in out.getvalue()


def test_a_completion_backed_by_another_molds_entry_is_found(doing: Doing, mold: Mold) -> None:
    other = factories.mold()
    Completion.objects.create(
        rule=factories.care_rule(mold=mold),
        happened_at=doing.now,
        person=doing.person,
        entry=factories.entry(other.chain, author=doing.person),
        written_at=doing.now,
    )
    assert "another chain" in str(first_unbacked())


def test_unsigned_orders_come_by_their_plan(doing: Doing) -> None:
    factories.plant()
    assert next_order_number() == 1001
    plans = [doing.now + timedelta(days=2), None, doing.now + timedelta(days=1)]
    for at in plans:
        rule = factories.care_rule(mold=factories.mold())
        write_order(doing, mold=rule.mold, rules=[rule], planned_at=at)
    assert [order.number for order in unsigned_orders()] == [1003, 1001, 1002]
    assert next_order_number() == 1004
    found = order_numbered(1003)
    assert found is not None
    assert unsigned_order_of(mold=found.mold_id or 0) == found
    assert order_numbered(99) is None


def test_lists_of_orders_take_the_same_queries_however_many(
    doing: Doing, django_assert_num_queries: Callable[..., object]
) -> None:
    factories.plant()
    for _each in range(4):
        rule = factories.care_rule(mold=factories.mold())
        write_order(doing, mold=rule.mold, rules=[rule])
    # orders, their people, tasks, rules and families
    with django_assert_num_queries(5):  # type: ignore[attr-defined]
        rows = [
            (order.mold.number, [task.rule.family.name for task in order.tasks.all()])
            for order in unsigned_orders()
        ]
    assert len(rows) == 4


def test_covers_through_two_ways_are_reached_once(mold: Mold) -> None:
    top, left, right, bottom = (factories.care_rule(mold=mold) for _each in range(4))
    for above, below in ((top, left), (top, right), (left, bottom), (right, bottom)):
        Cover.objects.create(covering=above, covered=below)
    assert set(covered_rules([top])[top.pk]) == {left.pk, right.pk, bottom.pk}
    both = covered_rules([left, top])
    assert set(both[left.pk]) == {bottom.pk}
    assert set(both[top.pk]) == {left.pk, right.pk, bottom.pk}


def test_nobody_needs_a_qualification_that_is_not_asked_for(doing: Doing) -> None:
    assert missing_qualifications(doing.person, subjects=["", ""], on=doing.now.date()) == []


def test_facts_of_a_signature_are_plain_json(doing: Doing, mold: Mold) -> None:
    order = signed_order(doing, factories.care_rule(mold=mold))
    assert order.entry is not None
    facts = json.loads(order.entry.facts, parse_float=lambda text: pytest.fail(text))
    assert facts["order"] == order.number
    assert facts["counts"]["cycles"] == 24_000
