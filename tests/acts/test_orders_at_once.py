"""Orders written and signed at one moment, on the engine that DATABASE_URL names."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from threading import Barrier
from typing import Any
from uuid import uuid4

import pytest
from django.db import connections

from moldcare.acts import refresh
from moldcare.acts.doing import Doing
from moldcare.acts.errors import AlreadySigned
from moldcare.acts.orders import hand_out, write_order
from moldcare.acts.sheet import record_look, record_step
from moldcare.acts.signing import sign_order
from moldcare.care.models import Completion
from moldcare.logbook.models import Entry
from moldcare.work.models import Order
from tests import factories

pytestmark = [pytest.mark.slow, pytest.mark.usefixtures("fresh_db")]
NOW = datetime(2026, 11, 25, 6, 12, tzinfo=UTC)


@pytest.fixture(autouse=True)
def derives_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(refresh, "refresh_care", lambda **_touched: None)


def at_once(*calls: Callable[[], Any]) -> list[Any]:
    """Make the calls in threads of their own, begun together; return answers or errors."""
    together = Barrier(len(calls))

    def one(call: Callable[[], Any]) -> Any:
        together.wait(timeout=30)
        try:
            return call()
        except AlreadySigned as error:
            return error
        finally:
            connections.close_all()

    with ThreadPoolExecutor(len(calls)) as pool:
        return list(pool.map(one, calls))


def lead_doing() -> Doing:
    factories.plant()
    return Doing(person=factories.person(role="lead"), now=NOW)


def test_orders_of_many_molds_get_a_number_each() -> None:
    doing = lead_doing()
    rules = [factories.care_rule(mold=factories.mold()) for _each in range(8)]
    answers = at_once(
        *(lambda rule=rule: write_order(doing, mold=rule.mold, rules=[rule]) for rule in rules)
    )
    assert sorted(answer.number for answer in answers) == list(range(1001, 1009))


def test_two_orders_for_one_mold_are_one() -> None:
    doing = lead_doing()
    mold = factories.mold()
    rules = [factories.care_rule(mold=mold) for _each in range(4)]
    answers = at_once(
        *(lambda rule=rule: write_order(doing, mold=mold, rules=[rule]) for rule in rules)
    )
    assert {answer.number for answer in answers} == {1001}
    assert sum(answer.is_new for answer in answers) == 1
    assert Order.objects.get().tasks.count() == 4


@pytest.mark.parametrize("is_same_hand_in", [True, False])
def test_two_signatures_at_one_moment_are_one(is_same_hand_in: bool) -> None:
    doing = lead_doing()
    rule = factories.care_rule(mold=factories.mold())
    order = Order.objects.get(number=write_order(doing, mold=rule.mold, rules=[rule]).number)
    hand_out(doing, order=order)
    task = order.tasks.get()
    record_look(doing, order=order, grades={task.pk: "light"}, without_photo="dark")
    record_step(doing, order=order, task=task, step=1)
    named = uuid4()
    hand_ins = [named, named if is_same_hand_in else uuid4()]
    first, second = at_once(
        *(
            lambda hand_in=hand_in: sign_order(
                Doing(person=doing.person, now=NOW, hand_in=hand_in),
                order=order,
                signer=doing.person,
                minutes=30,
            )
            for hand_in in hand_ins
        )
    )
    if is_same_hand_in:
        assert first == second
    else:
        assert sum(isinstance(answer, AlreadySigned) for answer in (first, second)) == 1
    assert Entry.objects.filter(chain=rule.mold.chain).count() == 1
    assert Completion.objects.count() == 1
