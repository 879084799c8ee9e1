"""Pages from the pack, signing on without a net, and what nobody may see or keep."""

from collections.abc import Callable
from typing import Any

import pytest
from django.contrib.auth.hashers import make_password
from django.db import connection
from playwright.sync_api import BrowserContext, BrowserType, expect
from pytest_django.live_server_helper import LiveServer

from moldcare.pages.tablet import version
from moldcare.plant.models import Person
from moldcare.work.models import Order, StepValue
from tests.browser.outbox.faulty_proxy import FaultyProxy, Net
from tests.browser.outbox.waiting import (
    PIN,
    OutboxTablet,
    bar_says,
    outbox_tablet,
    words,
    written,
)
from tests.browser.tablet import broken_rules

pytestmark = pytest.mark.slow
NewContext = Callable[..., BrowserContext]


def signed_off(bench: OutboxTablet) -> None:
    """Sign off by the bar's own button."""
    bench.page.locator(".drop--who summary").click()
    bench.page.get_by_role("button", name="Sign off").click()


def sign_on(bench: OutboxTablet, badge: str, pin: str) -> None:
    """Sign on at the tablet while there is no net."""
    bench.page.get_by_label("Badge number").fill(badge)
    bench.page.get_by_label("PIN", exact=True).fill(pin)
    bench.page.get_by_role("button", name="Sign on").click()


def test_a_shift_without_a_net(
    bench: OutboxTablet, net: FaultyProxy, order: Order, tomas: Person, lead: Person
) -> None:
    """Tomas goes, the net goes, a lead signs on off line, and a stranger with a wrong PIN."""
    lead.badge, lead.pin_hash = "20001", make_password("2580")
    lead.save()
    connection.close()
    sheet = f"/orders/{order.number}/sheet"
    bench.packed(sheet)
    bench.packed("/molds/M-2041")
    # a page that is kept names nobody, and says how old it is
    kept = bench.page.evaluate(
        "async (path) => (await (await caches.open('pages')).match(path)).text()", sheet
    )
    assert "Tomas" not in kept
    net.net = Net.REFUSED
    bench.go(sheet)
    expect(bench.page.locator("#copy")).to_contain_text("Kept copy of")
    expect(bench.page.locator(".drop__who")).to_have_text("Tomas Breuer")
    assert words(bench, order, "by Tomas")
    bar_says(bench, "Not yet sent: 1.")
    signed_off(bench)
    expect(bench.page.get_by_role("button", name="Sign on")).to_be_visible()
    for path in (sheet, "/molds/M-2041", "/"):
        bench.go(path)
        expect(bench.page.get_by_role("button", name="Sign on")).to_be_visible()
        assert "M-2041" not in bench.page.locator("body").inner_text()
    bench.page.go_back()
    expect(bench.page.get_by_role("button", name="Sign on")).to_be_visible()
    assert broken_rules(bench.page) == []
    sign_on(bench, "20001", "2580")
    # back on the page that was asked for
    expect(bench.page.locator("#copy")).to_be_visible()
    bench.go(sheet)
    expect(bench.page.locator(".drop__who")).to_have_text("Badge 20001")
    assert words(bench, order, "by the lead")
    # the PIN itself is nowhere on the tablet
    everything = bench.page.evaluate("store.read((_entries, about) => about.getAll())")
    assert "2580" not in str(everything)
    net.net = Net.GOOD
    bench.page.evaluate("outbox.flush()")
    bench.wait_for(0)
    found = StepValue.objects.filter(kind="position").order_by("id")
    assert list(found.values_list("value", "person__badge")) == [
        ("by Tomas", "10417"),
        ("by the lead", "20001"),
    ]
    connection.close()
    # and the lead is signed in with the server now, Tomas is not
    bench.go("/tablets")
    expect(bench.page.get_by_role("heading", name="Tablets", exact=True)).to_be_visible()


def test_a_wrong_pin_waits_for_its_author(
    bench: OutboxTablet, net: FaultyProxy, order: Order, tomas: Person
) -> None:
    bench.packed("/tablet/sign-on")
    bench.packed("/tablet")
    net.net = Net.REFUSED
    bench.go("/tablet")
    signed_off(bench)
    expect(bench.page.get_by_role("button", name="Sign on")).to_be_visible()
    sign_on(bench, "10417", "0000")
    expect(bench.page.get_by_role("heading", name="On this tablet")).to_be_visible()
    assert words(bench, order, "under a wrong PIN")
    net.net = Net.GOOD
    bench.page.evaluate("outbox.flush()")
    bench.wait_for(1, why="author")
    assert written(order) == []
    # Tomas signs on properly: it is his only if he says so
    outbox_tablet(bench.context, bench.home, person=tomas).page.close()
    bench.go("/tablet")
    bench.ready()
    assert written(order) == []
    bench.page.get_by_role("button", name="It is mine").click()
    bench.wait_for(0)
    assert written(order) == ["under a wrong PIN"]


def test_a_signature_waits_with_its_pin_sealed(
    bench: OutboxTablet, net: FaultyProxy, order: Order
) -> None:
    """A wrong one waits for its author, and is signed again in place."""
    action = f"/orders/{order.number}/sheet"
    task = order.tasks.get()
    left = {"do": "leave", "task": str(task.pk), "reason": "the press ran"}
    look = {"do": "look", "without_photo": "the camera is broken", "grade": "light"}
    net.net = Net.REFUSED
    assert bench.fill(look, action=action)
    assert bench.fill(left, action=action)
    assert bench.fill({"do": "sign", "minutes": "5", "pin": "9999"}, action=action)
    assert all("9999" not in str(entry) for entry in bench.entries())
    net.net = Net.GOOD
    bench.send_now()
    bench.wait_for(1, why="pin")
    order.refresh_from_db()
    assert order.signed_at is None
    connection.close()
    bench.page.get_by_label("PIN, to sign it again").fill(PIN)
    bench.page.get_by_role("button", name="Sign again").click()
    bench.wait_for(0)
    order.refresh_from_db()
    assert order.signed_at is not None
    connection.close()


def test_a_strangers_page_is_never_kept_and_a_new_version_takes_over(
    bench: OutboxTablet, net: FaultyProxy, order: Order, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench.packed("/tablet")
    before = bench.page.evaluate("caches.keys()")
    net.net = Net.FOREIGN
    assert words(bench, order, "behind a wifi page")
    bench.page.evaluate("navigator.serviceWorker.controller.postMessage({again: ['/tablet']})")
    bench.go("/orders")
    expect(bench.page.get_by_role("heading", name="Sign in to the wifi")).to_be_visible()
    net.net = Net.GOOD
    bench.go("/tablet")
    bench.wait_for(0)
    everything = bench.page.evaluate(
        "(async () => { let all = ''; for (const name of await caches.keys()) "
        "for (const answer of await (await caches.open(name)).matchAll()) "
        "all += await answer.text(); return all; })()"
    )
    assert "Sign in to the wifi" not in everything
    # a new version of the product: its worker takes over, and what waits is still there
    net.net = Net.REFUSED
    assert words(bench, order, "over the update")
    for name in ("_read", "_read_once"):
        monkeypatch.setattr(version, name, lambda: "another")
    net.net = Net.GOOD
    bench.page.evaluate("navigator.serviceWorker.controller.postMessage({pack: 'another'})")
    bench.until(
        "async () => (await caches.keys()).every((one) => !one.startsWith('files-') "
        "|| one === 'files-another')",
        tries=3000,
    )
    # files are kept as they are asked for
    bench.go("/tablet")
    bench.until("async () => (await caches.keys()).includes('files-another')", tries=3000)
    assert before != bench.page.evaluate("caches.keys()")
    bench.send_now()
    bench.wait_for(0)
    assert written(order) == ["behind a wifi page", "over the update"]


def test_a_page_that_is_not_secure_says_what_is_off_and_still_works(
    browser_type: BrowserType,
    browser_type_launch_args: dict[str, list[str]],
    settings: Any,
    net: FaultyProxy,
    live_server: LiveServer,
    order: Order,
    tomas: Person,
) -> None:
    settings.ALLOWED_HOSTS = ["*"]
    name = "moldcare.plant.example"
    arguments = [*browser_type_launch_args["args"], f"--host-resolver-rules=MAP {name} 127.0.0.1"]
    browser = browser_type.launch(**{**browser_type_launch_args, "args": arguments})  # type: ignore[arg-type]
    context = browser.new_context(viewport={"width": 1024, "height": 768})
    bench = outbox_tablet(context, f"http://{name}:{net.port}", person=tomas)
    bench.go(f"/orders/{order.number}/sheet")
    assert bench.page.evaluate("isSecureContext") is False
    expect(bench.page.locator("#no-outbox")).to_contain_text("Offline work")
    bench.page.locator("details:has([name=without_photo]) summary").click()
    bench.page.get_by_label("why there is no photo").fill("the camera is broken")
    bench.page.get_by_role("button", name="light").click()
    expect(bench.page.locator("#messages")).to_contain_text("Written down")
    assert bench.wrong == []
    browser.close()
