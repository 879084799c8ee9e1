"""An empty plant is set up from its first page to the first due task, without any file."""

import re
from datetime import timedelta
from typing import Literal

import pytest
from django.db import connection
from django.utils import timezone
from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect
from pytest_django.live_server_helper import LiveServer

from moldcare.acts.doing import Doing
from moldcare.acts.people import make_manager
from moldcare.acts.starting_sets import load_starting_sets
from moldcare.molds.models import Mold, Supply
from moldcare.plant.models import (
    CautionLine,
    Person,
    Plant,
    Qualification,
    ShiftException,
    ShiftPattern,
    Spot,
)
from tests import factories
from tests.browser.tablet import Tablet, broken_rules, tablet, wider_than_the_screen

PAGES = (
    "/setup",
    "/setup/begin",
    "/setup/plant",
    "/setup/shifts",
    "/setup/shifts/week",
    "/setup/shifts/day",
    "/setup/shifts/holidays",
    "/setup/spots",
    "/setup/spots/many",
    "/setup/counters",
    "/setup/people",
    "/setup/people/add",
    "/setup/owners",
    "/setup/supplies",
    "/setup/supplies/add",
    "/setup/auxiliaries",
    "/setup/cautions",
    "/setup/cautions/add",
    "/setup/rates",
    "/setup/rates/add",
)


@pytest.fixture
def manager(live_server: LiveServer) -> Person:
    """The one manager of an empty database."""
    row = make_manager(
        username="rosa", name="Rosa Feldmann", password="nine steel vents", now=timezone.now()
    )
    connection.close()
    return row


@pytest.fixture
def desk(context: BrowserContext, live_server: LiveServer, manager: Person) -> Tablet:
    """A desk at which the manager is signed in."""
    return tablet(context, live_server, person=manager)


def test_an_empty_plant_is_set_up_by_following_the_guide(desk: Tablet) -> None:
    page = desk.page
    desk.hold("desk")
    desk.go("/")
    page.get_by_role("link", name="What to enter first").click()

    next_step(page, "The plant").get_by_role("link", name="Enter the plant").click()
    page.get_by_label("Name", exact=True).fill("Plant 2")
    page.get_by_label("Time zone").fill("Europe/Berlin")
    page.get_by_label("Currency").fill("EUR")
    desk.tap(desk.button("Write it down"))

    next_step(page, "Shifts").get_by_role("link", name="Enter the week").click()
    row = page.get_by_role("group", name="Shift 1")
    row.get_by_label("Name").fill("early")
    row.get_by_label("From").fill("06:00")
    row.get_by_label("Until").fill("14:00")
    for day in ("Mon", "Tue", "Wed", "Thu", "Fri"):
        row.get_by_label(day).check()
    desk.tap(desk.button("Write the week"))
    expect(page.get_by_role("heading", name="The week now")).to_be_visible()
    expect(page.locator(".day__name", has_text="early").first).to_be_visible()

    desk.go("/setup/begin")
    spots = next_step(page, "Presses, benches, storage places")
    spots.get_by_role("link", name="Add many at once").click()
    page.get_by_label("a press").check()
    page.get_by_label("Numbers").fill("1 to 12")
    desk.tap(desk.button("Look at them"))
    expect(page.get_by_text("1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12")).to_be_visible()
    desk.tap(desk.button("Add these 12"))
    page.get_by_role("link", name=re.compile("Add one ?: Storage places")).click()
    page.locator("main").get_by_label("Number").fill("R1")
    desk.tap(desk.button("Add it"))

    desk.go("/setup/begin")
    next_step(page, "People").get_by_role("link", name="Add a person").click()
    page.get_by_label("Name", exact=True).fill("Ida Moll")
    page.get_by_label("Sign-in name").fill("ida")
    page.get_by_label("Badge number").fill("3001")
    page.get_by_label("technician: ").check()
    page.get_by_label("PIN", exact=False).last.fill("4711")
    desk.tap(desk.button("Add the person"))
    expect(page.get_by_role("heading", level=1)).to_have_text("Ida Moll")

    desk.go("/setup/begin")
    next_step(page, "Rule sets").get_by_role("button", name="Load the starting sets").click()
    next_step(page, "Molds").get_by_role("link", name="Add a mold").click()
    page.get_by_label("Number", exact=True).fill("0417")
    page.get_by_label("Name", exact=True).fill("Dripper cap")
    desk.tap(desk.button("Go on to its rules"))
    desk.tap(desk.button("Add the mold"))
    expect(page.get_by_role("heading", level=1)).to_contain_text("0417")

    desk.go("/setup/begin")
    expect(page.get_by_text("1 mold", exact=True)).to_be_visible()
    assert desk.wrong == []
    connection.close()
    assert Plant.objects.get().name == "Plant 2"
    assert ShiftPattern.objects.get().slots.count() == 5
    assert Spot.objects.filter(kind="press").count() == 12
    assert Person.objects.get(username="ida").role == "technician"
    assert Mold.objects.get().number == "0417"


def next_step(page: Page, title: str) -> Locator:
    """The step of the guide that is next."""
    step = page.locator(".entry--due")
    expect(step.get_by_role("heading")).to_have_text(title)
    return step


def furnish() -> None:
    """Something of everything, so that no page is empty."""
    factories.plant()
    factories.three_shifts()
    now = timezone.now()
    lead = factories.person(role="lead", badge="3002", pin="4711")
    load_starting_sets(Doing(person=lead, now=now))
    press = factories.spot(kind="press", number="7", clamp_kn=1500)
    factories.spot(kind="rack", number="R1-01", is_in_use=False)
    mold = factories.mold(number="0417")
    factories.set_in_press(mold, press=press, author=lead)
    factories.counter(on=mold, author=lead)
    factories.CounterFactory(label="spare")
    factories.owner()
    Supply.objects.create(number="G-1", name="grease", minimum=2)
    today = timezone.localdate()
    Qualification.objects.create(
        person=lead,
        subject="hot runner",
        evidence="course",
        valid_from=today,
        valid_to=today,
        written_at=now,
    )
    ShiftException.objects.create(
        on=today + timedelta(days=1), is_worked=False, reason="stocktaking", written_at=now
    )
    CautionLine.objects.create(text="The pit is covered first.", added_at=now)
    connection.close()


@pytest.mark.parametrize(
    ("size", "scheme"), [("desk", "light"), ("tablet", "dark"), ("phone", "light")]
)
def test_the_setup_keeps_the_rules_at_each_size(
    desk: Tablet, size: str, scheme: Literal["light", "dark"]
) -> None:
    furnish()
    desk.hold(size, scheme=scheme)
    for path in PAGES:
        desk.go(path)
        assert broken_rules(desk.page) == [], path
        assert not wider_than_the_screen(desk.page), path
    assert desk.wrong == []


def test_an_empty_setup_keeps_the_rules(desk: Tablet) -> None:
    desk.hold("phone")
    for path in PAGES:
        desk.go(path)
        assert broken_rules(desk.page) == [], path
        assert not wider_than_the_screen(desk.page), path


def test_a_week_is_entered_by_keyboard_alone(desk: Tablet) -> None:
    factories.plant()
    connection.close()
    page = desk.page
    desk.go("/setup/shifts/week")
    page.get_by_role("group", name="Shift 1").get_by_label("Name").focus()
    page.keyboard.type("early")
    page.keyboard.press("Tab")
    page.keyboard.type("0600AM")
    # the browser's own button beside a time takes a tab of its own
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    page.keyboard.type("0200PM")
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    for _ in range(5):
        page.keyboard.press("Space")
        page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="The week now")).to_be_visible()
    connection.close()
    slots = ShiftPattern.objects.get().slots.all()
    assert {f"{slot.starts:%H:%M}-{slot.ends:%H:%M}" for slot in slots} == {"06:00-14:00"}
    assert len(slots) == 5


def test_places_are_added_without_script(
    browser: Browser, live_server: LiveServer, manager: Person
) -> None:
    context = browser.new_context(java_script_enabled=False)
    plain = tablet(context, live_server, person=manager)
    plain.go("/setup/spots/many")
    plain.page.get_by_label("a storage place").check()
    plain.page.get_by_label("Numbers").fill("R1-01 to R1-04, yard")
    plain.tap(plain.button("Look at them"))
    plain.tap(plain.button("Add these 5"))
    expect(plain.page.get_by_text("5 places are added.")).to_be_visible()
    context.close()
    connection.close()
    assert Spot.objects.filter(kind="rack").count() == 5
