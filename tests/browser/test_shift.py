"""From the Shift page to an order, and every page around it at each size."""

from datetime import timedelta
from typing import Literal

import pytest
from django.db import connection
from django.utils import timezone
from playwright.sync_api import BrowserContext, expect
from pytest_django.live_server_helper import LiveServer

from moldcare.acts.doing import Doing
from moldcare.acts.orders import hand_out, write_order
from moldcare.acts.refresh import refresh_counts
from moldcare.acts.sheet import record_look, record_step
from moldcare.acts.signing import sign_order
from moldcare.care.models import CareRule
from moldcare.counters.models import Reading
from moldcare.plant.models import Person
from moldcare.work.models import Order, OrderState
from tests import factories
from tests.browser.outbox.waiting import wait_until
from tests.browser.tablet import (
    Tablet,
    broken_rules,
    tablet,
    wider_than_the_screen,
    without_net,
)


@pytest.fixture
def rule(live_server: LiveServer, lead: Person) -> CareRule:
    """Vents that are overdue, on a mold in a press that was read an hour ago."""
    now = timezone.now()
    factories.plant()
    factories.three_shifts()
    mold = factories.mold(number="M-2041")
    press = factories.spot(kind="press", number="7")
    factories.set_in_press(mold, press=press, author=lead)
    counter = factories.counter(on=mold, author=lead)
    rows = [(now - timedelta(days=20), 1_000), (now - timedelta(hours=1), 30_000)]
    factories.readings(counter, rows=rows, author=lead)
    rule = factories.care_rule(mold=mold, name="Clean the vents", minutes=40)
    refresh_counts(counters=[counter.pk], molds=[mold.pk])
    connection.close()
    return rule


@pytest.fixture
def desk(context: BrowserContext, live_server: LiveServer, rule: CareRule, lead: Person) -> Tablet:
    """A lead's screen."""
    return tablet(context, live_server, person=lead)


def signed_order(rule: CareRule, *, lead: Person) -> Order:
    """An order of the rule that was worked through and signed."""
    doing = Doing(person=lead, now=timezone.now())
    order = Order.objects.get(pk=write_order(doing, mold=rule.mold, rules=[rule]).pk)
    hand_out(doing, order=order)
    task = order.tasks.get()
    record_look(doing, order=order, grades={task.pk: "heavy"}, without_photo="battery empty")
    record_step(doing, order=order, task=task, step=1)
    sign_order(doing, order=order, signer=lead, minutes=35)
    order.refresh_from_db()
    connection.close()
    return order


def test_what_is_ticked_becomes_an_order_that_is_handed_out(desk: Tablet) -> None:
    page = desk.page
    desk.go("/")
    desk.tap(page.locator("label.rule__tick").first)
    expect(page.locator("[data-ticked-say]")).to_have_text("Ticked: 1 task, 40 min")
    desk.tap(desk.button("Make orders"))
    expect(page.get_by_role("heading", level=1)).to_have_text("Order 1001")
    expect(page.locator("#messages")).to_contain_text("Order 1001 is written.")
    order = Order.objects.get()
    assert order.state is OrderState.HANDED_OUT
    assert "of 20,000 shots" in order.tasks.get().why
    desk.tap(page.get_by_role("link", name="Start sheet"))
    expect(page.locator("#now .step__title")).to_have_text("Look and photograph before cleaning")
    assert desk.wrong == []


def test_nothing_ticked_writes_nothing(desk: Tablet) -> None:
    desk.go("/")
    desk.tap(desk.button("Make orders"))
    expect(desk.page.locator("#messages")).to_contain_text("Tick at least one task first.")
    assert not Order.objects.exists()


def test_a_round_that_meets_a_gap_in_the_wifi_keeps_what_was_typed(
    desk: Tablet, rule: CareRule, context: BrowserContext
) -> None:
    desk.go("/readings")
    field = desk.page.locator("[data-pad-field]").first
    field.fill("31000")
    with without_net(context):
        desk.tap(desk.page.locator(".round__side .button--go"))
        expect(desk.page.locator("#messages")).to_contain_text("kept on this tablet")
        assert not Reading.objects.filter(value=31_000).exists()
    desk.page.evaluate("window.outbox.flush()")
    wait_until(lambda: Reading.objects.filter(value=31_000, source="typed").exists())


def test_an_order_is_held_up_goes_on_and_is_struck_out(desk: Tablet) -> None:
    page = desk.page
    desk.go("/")
    page.locator("label.rule__tick").first.click()
    desk.tap(desk.button("Make orders"))
    page.locator("summary", has_text="Something holds the work up").click()
    page.get_by_label("Held up by").fill("a gasket")
    desk.tap(desk.button("Hold it up"))
    expect(page.locator(".lead")).to_contain_text("Held up by: a gasket.")
    desk.tap(desk.button("Go on"))
    expect(page.locator(".lead")).to_contain_text("Handed out.")
    page.locator("summary", has_text="Strike the order out").click()
    page.get_by_label("Why it is struck out").fill("the mold is sold")
    desk.tap(desk.button("Strike it out"))
    expect(page.locator(".lead")).to_contain_text("Struck out: the mold is sold.")
    assert desk.wrong == []


@pytest.mark.parametrize(
    ("size", "scheme"), [("desk", "dark"), ("tablet", "light"), ("phone", "dark")]
)
def test_the_pages_around_an_order_keep_the_rules_at_each_size(
    desk: Tablet, rule: CareRule, lead: Person, size: str, scheme: Literal["light", "dark"]
) -> None:
    order = signed_order(rule, lead=lead)
    factories.care_rule(mold=rule.mold, name="Grease the slides")
    doing = Doing(person=lead, now=timezone.now())
    more = write_order(doing, mold=rule.mold, rules=[rule])
    connection.close()
    entry = order.entry
    assert entry is not None
    desk.hold(size, scheme=scheme)
    found = {}
    for path in (
        "/",
        "/wall",
        "/orders",
        "/orders?state=all",
        f"/orders/{order.number}",
        f"/orders/{more.number}",
        f"/orders/{more.number}/tasks",
        f"/orders/{more.number}/paper",
        "/logbook",
        f"/logbook/{entry.pk}",
        f"/logbook/{entry.pk}/correct",
        f"/logbook/{entry.pk}/take-back",
        f"/logbook/chains/{entry.chain_id}",
        "/no/such/page",
    ):
        desk.go(path)
        faults = broken_rules(desk.page)
        if wider_than_the_screen(desk.page):
            faults.append("wider than the screen")
        if faults:
            found[path] = faults
    assert found == {}
    assert desk.wrong == []
