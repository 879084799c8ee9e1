"""The running product in a real browser, under its strict policy: what only a browser can show.

Kinds of faults are those that public reports about web programs describe: controls that a policy
kills in silence, half pages that come back, double taps, numbers that a wheel changes, a focus that
is lost, pages of the last person that come back from memory, plain http.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

import pytest
import time_machine
from django.test import Client
from playwright.sync_api import Browser, BrowserType, Page, expect
from pytest_django.live_server_helper import LiveServer

from moldcare.acts.orders import hand_out, write_order
from moldcare.care.models import Completion
from moldcare.counters.models import Counter, Reading, Verdict
from moldcare.plant.models import Person
from moldcare.production.models import Interruption
from moldcare.work.models import Order
from tests import factories
from tests.browser.outbox.waiting import wait_until
from tests.pages.routes import PUBLIC, routes, sample_path
from tests.pages.small_world import World, small_world

pytestmark = pytest.mark.slow

NOW = datetime(2026, 11, 25, 6, 12, tzinfo=UTC)
PASSWORD = "quiet river stones"
# what stays after the policy stopped something, or a script failed
LISTEN = """
window.stopped = [];
document.addEventListener("securitypolicyviolation",
  (event) => window.stopped.push(`${event.violatedDirective} ${event.blockedURI} ${event.sample}`));
"""


@dataclass(kw_only=True)
class Plant:
    """A live plant and its people."""

    server: LiveServer
    world: World

    def address(self, path: str) -> str:
        return f"{self.server.url}{path}"

    def sign_in(self, page: Page, *, role: str = "lead", origin: str | None = None) -> Person:
        """Sign in on the real page."""
        person = self.world.people[role]
        page.set_default_timeout(10_000)
        page.goto(f"{origin or self.server.url}/sign-in")
        page.get_by_label("Sign-in name").fill(person.username)
        page.get_by_label("Password").fill(PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        expect(page.get_by_role("heading", level=1)).to_contain_text("Wednesday")
        return person


@pytest.fixture
def plant(live_server: LiveServer) -> Iterator[Plant]:
    """A plant at work on Wednesday morning; its clock runs from there."""
    with time_machine.travel(NOW, tick=True):
        world = small_world()
        factories.three_shifts()
        for person in world.people.values():
            person.set_password(PASSWORD)
            person.save()
        yield Plant(server=live_server, world=world)


@pytest.fixture
def heard(page: Page) -> list[str]:
    """What the browser complains of."""
    found: list[str] = []
    page.add_init_script(LISTEN)
    page.on("pageerror", lambda error: found.append(f"{page.url}: {error}"))
    page.on(
        "console",
        lambda said: found.append(f"{page.url}: {said.text}") if said.type == "error" else None,
    )
    return found


FAULTS_OF_CONTROLS = """() => {
  const found = [];
  const name = (one) => (one.getAttribute("aria-label") || one.innerText || one.value || "").trim()
    || [...one.querySelectorAll("img, svg")].some((each) => each.getAttribute("alt")
      || each.getAttribute("aria-label") || each.querySelector("title"))
    || (one.getAttribute("aria-labelledby") && "named elsewhere");
  for (const link of document.querySelectorAll("a")) {
    if (!link.getAttribute("href")) found.push(`a link without an address: ${link.outerHTML}`);
    if (!link.hidden && !name(link)) found.push(`a link without a name: ${link.outerHTML}`);
  }
  for (const button of document.querySelectorAll("button, summary, [role=button]"))
    if (!name(button)) found.push(`a button without a name: ${button.outerHTML}`);
  for (const field of document.querySelectorAll("input[type=number], [draggable=true]"))
    found.push(`steps or drags: ${field.outerHTML}`);
  for (const one of document.querySelectorAll("[tabindex]"))
    if (Number(one.getAttribute("tabindex")) > 0) found.push(`out of order: ${one.outerHTML}`);
  for (const one of document.querySelectorAll("[onclick], [role=button]:not(button)"))
    found.push(`no control of the browser's own: ${one.outerHTML}`);
  const regions = document.querySelectorAll("[role=status], [role=alert], [aria-live]").length;
  const isSaid = regions === 1 || regions === 2;
  if (document.querySelector("#content") && !isSaid) found.push(`${regions} regions`);
  return found.concat(window.stopped);
}"""


def test_nothing_on_any_page_is_stopped_and_every_control_has_a_name(
    plant: Plant, page: Page, heard: list[str]
) -> None:
    plant.sign_in(page, role="manager")
    found: list[str] = []
    visited = 0
    for route in routes():
        if route.is_admin or route.name in PUBLIC or route.name in {"file", "wall"}:
            continue
        address = sample_path(route, world=plant.world)
        if "text/html" not in page.request.head(plant.address(address)).headers["content-type"]:
            continue  # a document, not a page
        answer = page.goto(plant.address(address))
        assert answer is not None
        if answer.status >= 400:
            # a sample that names nothing: said by a whole page, which the console repeats
            heard[:] = [said for said in heard if "the server responded with" not in said]
            continue
        visited += 1
        page.evaluate("() => document.querySelectorAll('details').forEach((d) => d.open = true)")
        found += [f"{route.name}: {fault}" for fault in page.evaluate(FAULTS_OF_CONTROLS)]
    assert visited > 80
    assert "\n".join(found + heard) == ""


def test_back_after_signing_off_shows_nothing_of_the_last_person(plant: Plant, page: Page) -> None:
    person = plant.sign_in(page)
    number = plant.world.mold.number
    for address in (f"/molds/{number}", f"/orders/{plant.world.order.number}/sheet", "/logbook"):
        page.goto(plant.address(address))
        expect(page.get_by_role("main")).to_be_visible()
    page.locator("header summary").first.click()
    page.get_by_role("button", name="Sign off").first.click()
    expect(page).to_have_url(re.compile("/sign-in"))
    for move in (page.go_back, page.go_back, page.go_forward, page.reload, page.go_back):
        move()
        page.wait_for_load_state("load")
        shown = page.content()
        assert person.name not in shown
        assert number not in page.inner_text("body")
        assert "/sign-in" in page.url or page.url == "about:blank"


def report(page: Page, plant: Plant) -> None:
    """Fill the form of an interruption."""
    page.goto(plant.address(f"/molds/{plant.world.mold.number}/interruption"))
    page.get_by_label("What was found").fill("flash at cavity 3")


def reported(plant: Plant) -> int:
    """How often an interruption of the mold was reported."""
    return Interruption.objects.filter(mold=plant.world.mold).count()


def test_two_taps_within_a_moment_report_once(plant: Plant, page: Page) -> None:
    plant.sign_in(page)
    report(page, plant)
    page.get_by_role("button", name="Report it").evaluate("(b) => { b.click(); b.click(); }")
    expect(page.locator("#messages")).to_contain_text("is reported")
    assert reported(plant) == 1
    assert plant.world.mold.chain.entries.filter(kind="interruption").count() == 1


def test_without_script_the_server_decides_that_it_was_once(
    plant: Plant, browser: Browser, browser_context_args: dict[str, Any]
) -> None:
    context = browser.new_context(**{**browser_context_args, "java_script_enabled": False})
    try:
        page = context.new_page()
        plant.sign_in(page)
        report(page, plant)
        page.get_by_role("button", name="Report it").dblclick()
        expect(page.locator("#messages")).to_contain_text("is reported")
    finally:
        context.close()
    assert reported(plant) == 1


def test_a_reload_before_a_late_answer_reports_once(plant: Plant) -> None:
    """The first report is written while its answer is lost; the page is loaded and sent again."""
    client = Client()
    client.force_login(plant.world.people["technician"])
    address = f"/molds/{plant.world.mold.number}/interruption"

    def form() -> dict[str, str]:
        shown = client.get(address).content.decode()
        found = re.search(r'name="hand_in" value="([0-9a-f-]{36})"', shown)
        assert found is not None
        return {"hand_in": found[1], "since": "0", "finding": "flash at cavity 3"}

    first = form()
    answers = [client.post(address, first) for _tap in range(2)]
    assert [answer.status_code for answer in answers] == [302, 302]
    again = client.post(address, form())
    assert again.status_code == 422
    assert "flash at cavity 3" in again.content.decode()
    assert reported(plant) == 1


def test_back_and_forward_always_show_whole_pages(
    plant: Plant, page: Page, heard: list[str]
) -> None:
    plant.sign_in(page)
    page.goto(plant.address("/logbook"))
    page.get_by_label("Words").fill("Looked")
    page.get_by_role("button", name="Show", exact=True).click()
    expect(page).to_have_url(re.compile("q=Looked"))
    page.locator("main a[href^='/logbook/']").first.click()
    expect(page).to_have_url(re.compile(r"/logbook/\d+"))
    for move in (page.go_back, page.reload, page.go_forward, page.go_back):
        move()
        expect(page.get_by_role("navigation").first).to_be_visible()
        expect(page.get_by_role("heading", level=1)).to_be_visible()
        sheets = page.evaluate("document.styleSheets.length")
        assert sheets > 0
    assert heard == []


def test_a_part_of_a_page_is_never_kept_as_the_page(plant: Plant) -> None:
    client = Client()
    client.force_login(plant.world.people["lead"])
    part, whole = {"HX-Request": "true"}, {}
    restored = {"HX-Request": "true", "HX-History-Restore-Request": "true"}
    seen = 0
    for route in routes():
        if route.is_admin or route.name in PUBLIC or route.name in {"file", "wall"}:
            continue
        address = sample_path(route, world=plant.world)
        plain = client.get(address, headers=whole)
        if plain.status_code != 200 or not plain["Content-Type"].startswith("text/html"):
            continue
        back = client.get(address, headers=restored)
        assert back.content.lstrip().lower().startswith(b"<!doctype html"), route.name
        asked = client.get(address, headers=part)
        if not asked.content.lstrip().lower().startswith(b"<!doctype html"):
            assert "HX-Request" in plain.headers.get("Vary", ""), route.name
            assert "HX-Request" in asked.headers.get("Vary", ""), route.name
        seen += 1
    assert seen > 20


def test_a_reading_stays_what_was_typed_while_the_round_is_scrolled(
    plant: Plant, page: Page
) -> None:
    plant.sign_in(page)
    page.goto(plant.address("/readings"))
    field = page.locator("input[name^=counter-]").first
    field.fill("12400")
    field.hover()
    page.mouse.wheel(0, 400)
    page.mouse.wheel(0, -300)
    for key in ("ArrowUp", "ArrowUp", "ArrowDown", "PageDown"):
        field.press(key)
    expect(field).to_have_value("12400")
    page.get_by_role("button", name="Write down").last.click()
    expect(page.locator("#messages")).to_contain_text("1 reading")
    assert Reading.objects.order_by("-id")[0].value == 12_400


@pytest.mark.parametrize("pasted", ["12 400", "12\u00a0400", " 12400 ", "12\u202f400", "12.400"])
def test_a_pasted_count_loses_its_blanks_and_nothing_else(
    plant: Plant, page: Page, pasted: str
) -> None:
    plant.sign_in(page)
    page.goto(plant.address("/readings"))
    field = page.locator("input[name^=counter-]").first
    assert field.get_attribute("type") == "text"
    field.focus()
    page.keyboard.insert_text(pasted)
    page.get_by_role("button", name="Write down").last.click()
    expect(page.locator("#messages")).to_contain_text("1 reading")
    assert Reading.objects.order_by("-id")[0].value == 12_400


def test_a_saved_and_a_held_reading_are_each_said_once_in_the_region_that_was_there(
    plant: Plant, page: Page
) -> None:
    plant.sign_in(page)
    for value, count in (("5000", 3), ("40", 4)):
        # a page of its own: the one before loads itself anew once the server has answered
        page = page.context.new_page()
        page.goto(plant.address("/readings"))
        region = page.locator("#messages")
        expect(region).to_have_count(1)
        expect(region).to_be_empty()
        field = page.locator("input[name^=counter-]").first
        field.fill(value)
        page.get_by_role("button", name="Write down").last.click()
        wait_until(lambda wanted=count: Reading.objects.count() == wanted)  # type: ignore[misc]
        expect(region.locator(".message")).to_have_count(1)
    assert Verdict.objects.exclude(reason="").count() == 1


def sheet(plant: Plant) -> str:
    """An order of three ticks and a value, handed out; the look is written down."""
    lead = plant.world.people["lead"]
    mold = factories.mold(number="0419")
    rule = factories.care_rule(mold=mold, name="Clean the vents")
    for place, text in ((1, "Wash the vents"), (2, "Blow out the dumps"), (3, "Wipe the land")):
        factories.step(rule, place=place, text=text)
    factories.step(
        rule,
        place=4,
        text="Depth at cavity 1",
        kind="value",
        unit="mm",
        low=Decimal("0.012"),
        high=Decimal("0.020"),
    )
    from moldcare.acts.doing import Doing
    from moldcare.acts.sheet import record_look

    doing = Doing(person=lead, now=NOW)
    written = write_order(doing, mold=mold, rules=[rule])
    order = Order.objects.get(pk=written.pk)
    hand_out(doing, order=order)
    grades = {line.pk: "light" for line in order.tasks.all()}
    record_look(doing, order=order, grades=grades, without_photo="camera is broken")
    return f"/orders/{order.number}/sheet"


def test_a_folded_part_opens_and_closes_by_keyboard_under_the_focus(
    plant: Plant, page: Page
) -> None:
    plant.sign_in(page)
    page.goto(plant.address(f"/molds/{plant.world.mold.number}"))
    folds = page.locator("main summary")
    assert folds.count() > 0
    fold = folds.first
    fold.focus()
    for is_open in (True, False):
        page.keyboard.press("Enter")
        expect(fold).to_be_focused()
        assert fold.evaluate("(s) => s.parentElement.open") is is_open


@pytest.mark.browser
def test_everything_works_over_plain_http_on_the_plants_net(
    plant: Plant,
    browser_type: BrowserType,
    browser_type_launch_args: dict[str, Any],
    browser_context_args: dict[str, Any],
    settings: Any,
) -> None:
    settings.ALLOWED_HOSTS = [*settings.ALLOWED_HOSTS, "molds.plant.example"]
    address = sheet(plant)
    origin = plant.server.url.replace("localhost", "molds.plant.example")
    arguments = [*browser_type_launch_args["args"], "--host-resolver-rules=MAP * 127.0.0.1"]
    browser = browser_type.launch(**{**browser_type_launch_args, "args": arguments})
    try:
        page = browser.new_context(**browser_context_args).new_page()
        plant.sign_in(page, origin=origin)
        assert page.evaluate("isSecureContext") is False
        assert page.evaluate("typeof crypto.randomUUID") == "undefined"
        page.goto(f"{origin}/readings")
        page.locator("input[name^=counter-]").first.fill("5000")
        page.get_by_role("button", name="Write down").last.click()
        expect(page.locator("#messages")).to_contain_text("1 reading")
        page.goto(f"{origin}/molds/{plant.world.mold.number}/interruption")
        page.get_by_label("What was found").fill("flash at cavity 3")
        page.get_by_role("button", name="Report it").click()
        expect(page.locator("#messages")).to_contain_text("is reported")
        page.goto(f"{origin}{address}")
        for text in ("Wash the vents", "Blow out the dumps", "Wipe the land"):
            expect(page.locator("#now")).to_contain_text(text)
            page.locator("#now").get_by_role("button", name="Done").click()
        page.locator("#now").get_by_label(re.compile("Measured")).fill("0.015")
        page.keyboard.press("Enter")
        page.get_by_label(re.compile("Time it took, minutes")).fill("25")
        page.get_by_label(re.compile("[Pp]assword")).fill(PASSWORD)
        page.get_by_role("button", name=re.compile("^Sign")).last.click()
        expect(page).to_have_url(re.compile(r"/orders/\d+$"))
    finally:
        browser.close()
    assert Counter.objects.get().readings.filter(value=5_000).exists()
    assert reported(plant) == 1
    assert Completion.objects.filter(rule__mold__number="0419").count() == 1
