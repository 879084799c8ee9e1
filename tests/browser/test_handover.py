"""Handing a shift over at one tablet: who goes and who comes, each with badge and PIN."""

import pytest
from django.db import connection
from django.utils import timezone
from playwright.sync_api import BrowserContext, expect
from pytest_django.live_server_helper import LiveServer

from moldcare.acts.doing import Doing
from moldcare.acts.floor import set_mold
from moldcare.work.models import Handover
from tests import factories
from tests.browser.tablet import SIZES, Tablet, broken_rules, tablet, wider_than_the_screen


@pytest.fixture
def shared(context: BrowserContext, live_server: LiveServer) -> Tablet:
    factories.plant()
    tomas = factories.person(name="Tomas Breuer", role="technician", pin="2468", badge="4711")
    factories.person(name="Ada Okafor", role="technician", pin="7531", badge="4712")
    lead = Doing(person=factories.person(role="lead"), now=timezone.now())
    mold = factories.counted_mold(number="M-2044")
    set_mold(lead, mold=mold, press=factories.spot(number="7"), at=lead.now)
    connection.close()
    return tablet(context, live_server, person=tomas)


def keeps_the_rules(shared: Tablet) -> None:
    for size in SIZES:
        for scheme in ("light", "dark"):
            shared.hold(size, scheme=scheme)  # type: ignore[arg-type]
            assert broken_rules(shared.page) == []
            assert not wider_than_the_screen(shared.page)


def test_who_goes_and_who_comes_sign_at_one_tablet(shared: Tablet) -> None:
    page = shared.page
    shared.go("/handover")
    expect(page.locator(".ledger").first).to_contain_text("M-2044")
    keeps_the_rules(shared)
    page.get_by_label("What else the next shift must know").fill("Press 7 drips.")
    page.get_by_label("PIN").fill("2468")
    page.keyboard.press("Enter")
    expect(page.locator("#messages")).to_contain_text("The shift is handed over.")
    keeps_the_rules(shared)

    # the reader types the badge of who comes, and never sends the form half filled
    badge, pin = page.get_by_label("Badge number"), page.get_by_label("PIN")
    badge.focus()
    page.keyboard.type("*4712*")
    page.keyboard.press("Enter")
    expect(pin).to_be_focused()
    page.keyboard.press("Enter")
    pin.fill("0000")
    page.keyboard.press("Enter")
    expect(page.locator(".errors")).to_be_focused()
    expect(badge).to_have_value("4712")
    keeps_the_rules(shared)
    pin.fill("7531")
    page.keyboard.press("Enter")
    expect(page.locator(".lead")).to_contain_text("Taken by Ada Okafor")
    row = Handover.objects.get()
    assert (row.given_by.name, row.taken.person.name) == ("Tomas Breuer", "Ada Okafor")
    connection.close()
    assert shared.wrong == []
