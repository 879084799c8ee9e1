"""Scanning: readers that type faster than a page, and the camera."""

import pytest
from django.db import connection
from playwright.sync_api import BrowserContext, Route, expect
from pytest_django.live_server_helper import LiveServer

from tests import factories
from tests.browser.tablet import Tablet, broken_rules, tablet, wider_than_the_screen

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
    for number in ("0417", "0418"):
        factories.counted_mold(number=number)
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
