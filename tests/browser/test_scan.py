"""Scanning: readers that type faster than a page, and the camera."""

import pytest
from django.db import connection
from django.utils import timezone
from playwright.sync_api import BrowserContext, Route, expect
from pytest_django.live_server_helper import LiveServer

from moldcare.acts.doing import Doing
from moldcare.acts.floor import set_mold
from tests import factories
from tests.browser.tablet import (
    Tablet,
    broken_rules,
    tablet,
    until,
    wider_than_the_screen,
    without_net,
)

# a detector that sees the code on whatever the camera shows: machines without a camera, and
# browsers without a detector of their own, run these tests too
CAMERA = """
navigator.mediaDevices.getUserMedia = async () => document.createElement("canvas").captureStream();
Object.defineProperty(HTMLMediaElement.prototype, "readyState", { get: () => 4 });
window.BarcodeDetector = class {
  async detect() { return [{ rawValue: "https://old.name/molds/0417" }]; }
};
"""


@pytest.fixture
def floor(context: BrowserContext, live_server: LiveServer) -> Tablet:
    factories.plant()
    person = factories.person(role="technician")
    lead = Doing(person=factories.person(role="lead"), now=timezone.now())
    for number in ("0417", "0418"):
        mold = factories.counted_mold(number=number)
        set_mold(lead, mold=mold, press=factories.spot(number=f"P{number}"), at=lead.now)
    connection.close()
    return tablet(context, live_server, person=person)


def test_two_codes_at_once_are_both_found_in_order(floor: Tablet) -> None:
    page = floor.page
    waiting: list[Route] = []

    def hold(route: Route) -> None:
        waiting.append(route)

    def let_through() -> None:
        while not waiting:
            page.evaluate("new Promise(requestAnimationFrame)")
        waiting.pop().continue_()

    floor.go("/orders")
    page.route("**/scan?code=*", hold)
    page.get_by_label("Number or code").first.focus()
    # faster than the server answers; the second without Enter
    with page.expect_request("**/scan?code=0417"):
        page.keyboard.type("0417")
        page.keyboard.press("Enter")
        page.keyboard.type("*0418")
    with page.expect_request("**/scan?code=0418"):
        let_through()
    let_through()
    links = page.locator(".found__list a")
    expect(links).to_have_count(2)
    assert links.evaluate_all("all => all.map(each => each.getAttribute('href'))") == [
        "/molds/0417",
        "/molds/0418",
    ]
    assert broken_rules(page) == []
    page.unroute("**/scan?code=*")
    # one code alone opens its page
    floor.go("/readings")
    page.get_by_label("Number or code").first.fill("]Q10417")
    page.keyboard.press("Enter")
    expect(page).to_have_url(f"{floor.home}/molds/0417")
    assert floor.wrong == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_camera_opens_what_it_sees_and_its_absence_is_said(floor: Tablet, scheme: str) -> None:
    page = floor.page
    floor.hold("phone", scheme=scheme)  # type: ignore[arg-type]
    page.add_init_script("delete window.BarcodeDetector")
    floor.go("/scan")
    expect(page.get_by_text("This browser cannot read codes with its camera.")).to_be_visible()
    assert broken_rules(page) == []
    assert not wider_than_the_screen(page)
    page.add_init_script(CAMERA)
    floor.go("/scan")
    floor.tap(floor.button("Scan with the camera"))
    expect(page).to_have_url(f"{floor.home}/molds/0417")
    assert floor.wrong == []


IS_PACKED = "async (path) => Boolean(await (await caches.open('pages')).match(path))"


def test_codes_are_found_among_the_kept_pages_while_there_is_no_net(
    floor: Tablet, context: BrowserContext
) -> None:
    page = floor.page
    floor.go("/readings")
    for path in ("/scan", "/molds/0417", "/spots/press/P0418"):
        until(page, IS_PACKED, arg=path)
    with without_net(context):
        code = page.get_by_label("Number or code").first
        code.fill("https://old.name/molds/0417")
        page.keyboard.press("Enter")
        expect(page).to_have_url(f"{floor.home}/molds/0417")
        expect(page.locator("#copy")).to_contain_text("Kept copy of")
        floor.go("/scan")
        page.locator("#scan-code").fill("*P0418")
        page.keyboard.press("Enter")
        expect(page).to_have_url(f"{floor.home}/spots/press/P0418")
        page.get_by_label("Number or code").first.fill("9999")
        page.keyboard.press("Enter")
        expect(page.locator("#messages")).to_contain_text("9999: not found among the pages")
