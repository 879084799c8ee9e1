"""A tablet that nobody touches signs off, and keeps what was typed for its owner only."""

from datetime import timedelta

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.utils import timezone
from playwright.sync_api import BrowserContext, Page, expect
from pytest_django.live_server_helper import LiveServer

from tests import factories
from tests.browser.tablet import Tablet, broken_rules, tablet


def sign_on(page: Page, *, badge: str, pin: str) -> None:
    page.get_by_label("Badge number").fill(badge)
    page.get_by_label("PIN").fill(pin)
    page.keyboard.press("Enter")
    expect(page.locator("header .drop__who")).to_be_visible()


@pytest.fixture
def shared(context: BrowserContext, live_server: LiveServer) -> Tablet:
    """A tablet that two people share, in a plant where it signs off after ten minutes."""
    factories.plant()
    factories.person(name="Tomas Breuer", pin="2468", badge="4711")
    factories.person(name="Ada Okafor", pin="7531", badge="4712")
    factories.counted_mold(number="M-2044")
    connection.close()
    found = tablet(context, live_server)
    found.page.clock.install(time=timezone.now())
    return found


def test_an_idle_tablet_warns_signs_off_and_gives_the_draft_to_its_owner_only(
    shared: Tablet,
) -> None:
    page = shared.page
    path = "/molds/M-2044/interruption"
    shared.go(f"/sign-in/badge?next={path}")
    sign_on(page, badge="4711", pin="2468")
    warning = page.locator("#idle")
    finding = page.get_by_label("What was found")

    # whoever is there stays there
    finding.fill("burn at cavity 3")
    page.locator("label", has_text="short shot").click()
    page.clock.run_for(9 * 60_000 + 5_000)
    expect(warning).to_be_visible()
    assert broken_rules(page) == []
    page.get_by_role("button", name="I am here").click()
    expect(warning).to_be_hidden()
    page.clock.run_for(9 * 60_000)
    expect(warning).to_be_visible()

    # whoever is not is signed off
    page.clock.run_for(70_000)
    expect(page.get_by_text("so the last person was signed off")).to_be_visible()
    page.go_back()
    expect(page.get_by_role("button", name="Sign in")).to_be_visible()
    expect(page.locator("body")).not_to_contain_text("burn at cavity 3")

    # another person gets the page, and not the words
    shared.go(f"/sign-in/badge?next={path}")
    sign_on(page, badge="4712", pin="7531")
    expect(page.locator("header .drop__who")).to_have_text("Ada Okafor")
    expect(finding).to_have_value("")
    page.locator("header .drop__who").click()
    page.get_by_role("button", name="Sign off").click()
    expect(page.get_by_role("button", name="Sign in")).to_be_visible()

    shared.go(f"/sign-in/badge?next={path}")
    sign_on(page, badge="4711", pin="2468")
    expect(finding).to_have_value("burn at cavity 3")
    expect(page.get_by_label("short shot")).to_be_checked()
    expect(page.locator("#messages")).to_contain_text("It is not sent yet")
    # it came back once
    page.reload()
    expect(finding).to_have_value("")
    assert shared.wrong == []


def test_nothing_of_a_person_comes_back_after_signing_off(shared: Tablet) -> None:
    page = shared.page
    shared.go("/sign-in/badge")
    sign_on(page, badge="4711", pin="2468")
    shared.go("/molds/M-2044")
    shared.go("/orders")
    page.locator("header .drop__who").click()
    page.get_by_role("button", name="Sign off").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("moldcare")
    for _step in range(2):
        page.go_back()
        expect(page.locator("form input[name=csrfmiddlewaretoken]").first).to_be_attached()
        expect(page.locator("body")).not_to_contain_text("Tomas Breuer")
    page.go_forward()
    page.reload()
    expect(page.locator("body")).not_to_contain_text("Tomas Breuer")


@pytest.mark.django_db
def test_a_tablet_that_slept_is_signed_off_by_the_server() -> None:
    plant = factories.plant()
    plant.idle_minutes = 5
    plant.save()
    factories.person(pin="2468", badge="4711")
    client = Client()
    start = timezone.now()

    def at(minutes: float) -> time_machine.travel:
        return time_machine.travel(start + timedelta(minutes=minutes), tick=False)

    with at(0):
        client.post("/sign-in/badge", {"badge": "4711", "pin": "2468"})
    with at(4):
        assert client.get("/orders").status_code == 200
    with at(8):
        # what a page asks for by itself is not somebody at the tablet
        background = {"Sec-Fetch-Dest": "empty"}
        assert client.get("/orders", headers=background).status_code == 200
    with at(9.5):
        answer = client.get("/orders")
    assert answer.status_code == 302
    assert answer.headers["Location"] == "/sign-in/badge?next=%2Forders&idle=1"
    with at(9.6):
        assert client.get("/orders").status_code == 302


@pytest.mark.django_db
def test_a_page_that_is_typed_into_keeps_the_session_and_a_desk_has_no_such_end() -> None:
    factories.plant()
    person = factories.person(pin="2468", badge="4711")
    person.set_password("nine steel vents")
    person.save()
    start = timezone.now()
    tablet_client, desk = Client(), Client()
    with time_machine.travel(start, tick=False):
        tablet_client.post("/sign-in/badge", {"badge": "4711", "pin": "2468"})
        desk.post("/sign-in", {"username": person.username, "password": "nine steel vents"})
    for minutes in (8, 16, 24):
        with time_machine.travel(start + timedelta(minutes=minutes), tick=False):
            fetched = {"Sec-Fetch-Dest": "empty"}
            assert tablet_client.get("/sign-in/still-here", headers=fetched).status_code == 200
    with time_machine.travel(start + timedelta(minutes=33), tick=False):
        assert tablet_client.get("/orders").status_code == 200
        answer = desk.get("/orders")
    assert answer.status_code == 200
    assert b'id="idle"' not in answer.content
