from datetime import timedelta

import pytest

from moldcare.acts.doing import Doing
from moldcare.acts.floor import OpenMatters, move_mold, open_matters, pull_mold, set_mold
from moldcare.acts.refresh import refresh_care
from moldcare.molds.models import Mold
from moldcare.plant.models import Spot
from moldcare.work.models import Order
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def mold() -> Mold:
    return factories.counted_mold(number="M-2044")


@pytest.fixture
def press() -> Spot:
    return factories.spot(number="7")


def hours(n: float) -> timedelta:
    return timedelta(hours=n)


def test_nothing_speaks_against_a_mold_that_is_in_order(doing: Doing, mold: Mold) -> None:
    assert open_matters(mold, at=doing.now) == ()


def test_an_order_that_is_not_signed_speaks_against_setting_it(
    doing: Doing, mold: Mold, press: Spot
) -> None:
    order = Order.objects.create(
        number=1001, mold=mold, written_by=doing.person, written_at=doing.now
    )

    with pytest.raises(OpenMatters, match="1001") as refused:
        set_mold(doing, mold=mold, press=press, at=doing.now)
    assert [(matter.kind, matter.row_id) for matter in refused.value.matters] == [
        ("order", order.pk)
    ]
    order.struck_out_at, order.struck_out_reason = doing.now, "not needed"
    order.save()
    assert set_mold(doing, mold=mold, press=press, at=doing.now).accepted == []


def test_a_rule_that_is_asked_for_before_it_is_set_speaks_against_it(
    doing: Doing, mold: Mold, press: Spot
) -> None:
    rack = factories.spot(kind="rack", number="B4")
    move_mold(doing, mold=mold, to=rack, at=doing.now - hours(90))
    set_mold(doing, mold=mold, press=press, at=doing.now - hours(80))
    pull_mold(doing, mold=mold, to=rack, at=doing.now - hours(8))
    rule = factories.care_rule(
        mold=mold, name="Test for leaks", count_base=None, event="before_set"
    )
    refresh_care(molds=[mold.pk])

    matters = open_matters(mold, at=doing.now)

    assert [(matter.kind, matter.row_id) for matter in matters] == [("before_set", rule.pk)]
    answer = set_mold(
        doing, mold=mold, press=press, at=doing.now, accepts_open="tested by the maker"
    )
    assert answer.accepted == ["not done before set: Test for leaks"]


def test_a_rule_past_its_limit_speaks_against_it_and_one_that_is_due_does_not(
    doing: Doing, mold: Mold
) -> None:
    past = factories.care_rule(
        mold=mold,
        name="Descale",
        count_base=None,
        period_n=1,
        period_unit="month",
        hard_days=60,
    )
    factories.care_rule(mold=mold, name="Inspect", count_base=None, period_n=1, period_unit="month")
    refresh_care(molds=[mold.pk])

    matters = open_matters(mold, at=doing.now)

    assert [(matter.kind, matter.row_id) for matter in matters] == [("past_limit", past.pk)]
