"""An interruption in four taps, with a net and through a gap."""

from datetime import timedelta

import pytest
from django.db import connection
from django.utils import timezone
from playwright.sync_api import BrowserContext, Route, expect
from pytest_django.live_server_helper import LiveServer

from moldcare.acts.doing import Doing
from moldcare.acts.floor import set_mold
from moldcare.production.models import Interruption
from tests import factories
from tests.browser.tablet import Tablet, broken_rules, tablet, until, wider_than_the_screen


@pytest.fixture
def floor(context: BrowserContext, live_server: LiveServer) -> Tablet:
    factories.plant()
    factories.family(key="vents", name="Vents")
    person = factories.person(role="technician", pin="2468", badge="4711")
    lead = Doing(person=factories.person(role="lead"), now=timezone.now())
    for press in ("7", "8"):
        mold = factories.counted_mold(number=f"M-{press}")
        spot = factories.spot(number=press)
        set_mold(lead, mold=mold, press=spot, at=lead.now - timedelta(hours=9))
    connection.close()
    return tablet(context, live_server, person=person)


def report(floor: Tablet, mold: str) -> None:
    page = floor.page
    floor.tap(page.locator("label", has_text=mold))
    floor.tap(page.locator("label", has_text="burn"))
    floor.tap(page.locator("label", has_text="Vents"))
    floor.tap(floor.button("Report it"))


def written() -> list[str]:
    found = list(Interruption.objects.order_by("id").values_list("mold__number", flat=True))
    connection.close()
    return found


def test_four_taps_report_it_with_a_net_and_through_a_gap(floor: Tablet) -> None:
    page = floor.page
    floor.go("/interruption")
    expect(page.locator("html")).to_have_attribute("data-outbox", "on")
    for size in ("desk", "phone", "tablet"):
        for scheme in ("light", "dark"):
            floor.hold(size, scheme=scheme)
            assert broken_rules(page) == []
            assert not wider_than_the_screen(page)
    report(floor, "M-7")
    assert floor.taps == 4
    expect(page.locator("#messages")).to_contain_text("The interruption of M-7 is reported.")
    assert written() == ["M-7"]

    # the server cannot be reached: the report is kept, and the form is there for the next one
    def cut(route: Route) -> None:
        route.abort()

    page.route("**/tablet/contact", cut)
    report(floor, "M-8")
    expect(page.locator("#messages")).to_contain_text("is kept on this tablet")
    expect(page.get_by_label("burn")).not_to_be_checked(timeout=15_000)
    assert written() == ["M-7"]
    assert page.evaluate("window.outbox.waiting('interruption-M-8').then((all) => all.length)") == 1
    page.unroute("**/tablet/contact")
    page.reload()
    with page.expect_response("**/interruption") as sent:
        page.evaluate("window.outbox.flush()")
    assert sent.value.status == 200
    until(page, "async () => (await window.outbox.waiting('interruption-M-8')).length === 0")
    assert written() == ["M-7", "M-8"]
