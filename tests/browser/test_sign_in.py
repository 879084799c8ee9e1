"""Signing in: with name and password, with badge and PIN, at each size, by day and by night."""

from datetime import timedelta
from typing import Literal

import pytest
from django.contrib.sessions.backends.db import SessionStore
from django.contrib.sessions.models import Session
from django.db import connection
from django.test import RequestFactory
from django.utils import timezone
from playwright.sync_api import BrowserContext, Page, expect
from pytest_django.live_server_helper import LiveServer

from moldcare.acts.sign_in import STOPPED_AT, key_of
from moldcare.pages.device import device_of
from moldcare.plant.models import Person
from tests import factories
from tests.browser.tablet import Tablet, broken_rules, tablet, wider_than_the_screen


def sign_on(page: Page, home: str, *, badge: str, pin: str) -> None:
    """Sign on with badge and PIN."""
    page.goto(f"{home}/sign-in/badge")
    page.get_by_label("Badge number").fill(badge)
    page.get_by_label("PIN").fill(pin)
    page.keyboard.press("Enter")
    expect(page.locator("header .drop__who")).to_be_visible()


@pytest.fixture
def person(live_server: LiveServer) -> Person:
    """A technician with a password and a PIN."""
    factories.plant()
    row = factories.person(username="breuer", pin="2468", badge="4711")
    row.set_password("nine steel vents")
    row.save()
    connection.close()
    return row


@pytest.fixture
def stranger(context: BrowserContext, live_server: LiveServer, person: Person) -> Tablet:
    """A tablet on which nobody is signed in."""
    return tablet(context, live_server)


def test_a_name_and_a_password_lead_to_the_page_that_was_asked_for(stranger: Tablet) -> None:
    page = stranger.page
    stranger.go("/orders")
    expect(page).to_have_url(f"{stranger.home}/sign-in?next=/orders")
    page.get_by_label("Sign-in name").fill("breuer")
    page.get_by_label("Password").fill("nine steel vents")
    stranger.tap(stranger.button("Sign in"))
    expect(page.get_by_role("heading", level=1)).to_have_text("Orders")
    assert stranger.wrong == []


def test_a_wrong_password_is_said_and_nothing_but_it_is_lost(stranger: Tablet) -> None:
    page = stranger.page
    stranger.go("/sign-in")
    page.get_by_label("Sign-in name").fill("breuer")
    page.get_by_label("Password").fill("nine steel pins")
    page.keyboard.press("Enter")
    errors = page.locator(".errors")
    expect(errors).to_be_focused()
    expect(errors).to_contain_text("do not belong together")
    expect(page.get_by_label("Sign-in name")).to_have_value("breuer")
    expect(page.get_by_label("Password")).to_have_value("")


def test_badge_and_pin_are_typed_on_the_pad(stranger: Tablet) -> None:
    page = stranger.page
    stranger.go("/sign-in")
    page.get_by_role("link", name="Badge and PIN").click()
    pad = page.get_by_role("group", name="Number pad")
    page.get_by_label("Badge number").focus()
    for key in ("4", "7", "1", "1", "Next field", "2", "4", "6", "8"):
        pad.get_by_role("button", name=key, exact=True).click()
    stranger.tap(stranger.button("Sign in"))
    expect(page.locator("summary", has_text="Tomas Breuer")).to_be_visible()
    assert stranger.wrong == []


# how readers end a code: Enter, Enter and line feed, Tab; marks of Code 39 and of ISO/IEC 15424
@pytest.mark.parametrize(
    "keys", ["4711|Enter", "*4711*|Enter|Enter", "]C14711|Tab", "4711|Enter|Control+j"]
)
def test_a_reader_types_the_badge_and_never_sends_half_a_form(stranger: Tablet, keys: str) -> None:
    page = stranger.page
    stranger.go("/sign-in/badge")
    badge, pin = page.get_by_label("Badge number"), page.get_by_label("PIN")
    badge.focus()
    code, *ends = keys.split("|")
    page.keyboard.type(code)
    for end in ends:
        page.keyboard.press(end)
    expect(badge).to_have_value("4711")
    expect(pin).to_be_focused()
    # a PIN takes every key, marks as well
    page.keyboard.type("*]2468")
    expect(pin).to_have_value("*]2468")
    pin.fill("2468")
    page.keyboard.press("Enter")
    expect(page.locator("summary", has_text="Tomas Breuer")).to_be_visible()


def test_a_reader_without_enter_and_one_of_another_keyboard(stranger: Tablet) -> None:
    page = stranger.page
    stranger.go("/sign-in/badge")
    badge, pin = page.get_by_label("Badge number"), page.get_by_label("PIN")
    badge.focus()
    page.keyboard.type("4711")
    # a short pause ends the code
    expect(pin).to_be_focused()
    # 4711 through the digit keys of an AZERTY keyboard
    badge.fill("'è&&")
    pin.fill("2468")
    page.keyboard.press("Enter")
    expect(page.locator(".errors")).to_contain_text("another keyboard than this tablet (French?)")
    expect(page.locator(".errors")).to_contain_text("Nobody was signed in")


def test_a_lead_lets_somebody_try_again_at_the_tablet(
    stranger: Tablet, live_server: LiveServer
) -> None:
    lead = factories.person(
        username="okafor", name="Ada Okafor", role="lead", pin="7531", badge="8"
    )
    breuer = Person.objects.get(username="breuer")
    connection.close()
    page = stranger.page
    sign_on(page, stranger.home, badge="8", pin="7531")
    request = RequestFactory().get("/")
    request.COOKIES = {
        str(each["name"]): str(each["value"]).strip('"') for each in page.context.cookies()
    }
    name = device_of(request)
    assert name
    key = key_of(breuer, device=name)
    at = timezone.now()
    Session.objects.create(
        session_key=key,
        session_data=SessionStore().encode({"wrong": STOPPED_AT, "last_at": at.isoformat()}),
        expire_date=at + timedelta(days=30),
    )
    connection.close()
    stranger.go("/sign-in/people")
    expect(page.locator(".ledger")).to_contain_text("Stopped on this tablet.")
    for scheme in ("light", "dark"):
        stranger.hold("phone", scheme=scheme)
        assert broken_rules(page) == []
        assert not wider_than_the_screen(page)
    stranger.tap(stranger.button("Let try again"))
    expect(page.locator("#messages")).to_contain_text("Tomas Breuer may try again on this tablet.")
    page.context.clear_cookies(name="sessionid")
    sign_on(page, stranger.home, badge="4711", pin="2468")
    assert lead.name not in page.locator("body").inner_text()


def test_who_signed_off_is_asked_to_sign_in_again(stranger: Tablet) -> None:
    page = stranger.page
    stranger.go("/sign-in")
    page.get_by_label("Sign-in name").fill("breuer")
    page.get_by_label("Password").fill("nine steel vents")
    page.keyboard.press("Enter")
    page.locator("summary", has_text="Tomas Breuer").click()
    stranger.tap(stranger.button("Sign off"))
    expect(page).to_have_url(f"{stranger.home}/sign-in")
    stranger.go("/orders")
    expect(page).to_have_url(f"{stranger.home}/sign-in?next=/orders")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", ["desk", "tablet", "phone"])
def test_both_ways_keep_the_rules_at_each_size(
    stranger: Tablet, size: str, scheme: Literal["light", "dark"]
) -> None:
    stranger.hold(size, scheme=scheme)
    for path in ("/sign-in", "/sign-in/badge"):
        stranger.go(path)
        assert broken_rules(stranger.page) == []
        assert not wider_than_the_screen(stranger.page)
    assert stranger.wrong == []


def test_a_broken_rule_and_a_page_too_wide_are_seen(page: Page) -> None:
    page.set_content("<html><body><img src='x'><div style='width:5000px'>a</div></body></html>")
    assert any(each.startswith("image-alt") for each in broken_rules(page))
    assert wider_than_the_screen(page)


def test_what_the_policy_forbids_is_noticed(stranger: Tablet) -> None:
    stranger.go("/sign-in")
    stranger.page.evaluate(
        "() => { const it = document.createElement('script'); it.textContent = 'let a = 1';"
        " document.body.append(it); }"
    )
    assert any("script-src" in each or "Content Security" in each for each in stranger.wrong)
