"""Signing in: with name and password, with badge and PIN, at each size, by day and by night."""

from typing import Literal

import pytest
from django.db import connection
from playwright.sync_api import BrowserContext, Page, expect
from pytest_django.live_server_helper import LiveServer

from moldcare.plant.models import Person
from tests import factories
from tests.browser.tablet import Tablet, broken_rules, tablet, wider_than_the_screen


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
    page.get_by_label("Badge number").fill("4711")
    pad = page.get_by_role("group", name="Number pad")
    for key in "2468":
        pad.get_by_role("button", name=key, exact=True).click()
    stranger.tap(stranger.button("Sign in"))
    expect(page.locator("summary", has_text="Tomas Breuer")).to_be_visible()
    assert stranger.wrong == []


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
