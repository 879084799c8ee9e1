"""The round of readings: one field and no tap a mold, doubts said at once, through a gap."""

from datetime import timedelta

import pytest
from django.db import connection
from django.utils import timezone
from playwright.sync_api import BrowserContext, Locator, expect
from pytest_django.live_server_helper import LiveServer

from moldcare.acts.doing import Doing
from moldcare.acts.readings import ReadingEntry, record_readings
from moldcare.counters.models import Reading
from moldcare.plant.models import Person
from tests import factories
from tests.browser.tablet import Tablet, broken_rules, tablet, wider_than_the_screen

MOLDS = 30
LAST = 482_010


@pytest.fixture
def floor(context: BrowserContext, live_server: LiveServer) -> Tablet:
    """Thirty running molds of 12 s a cycle, each read at 482,010 eight hours ago."""
    factories.plant()
    person = factories.person(role="technician", pin="2468", badge="4711")
    lead = factories.person(role="lead")
    counters = [_running(n, author=lead) for n in range(1, MOLDS + 1)]
    earlier = Doing(person=lead, now=timezone.now() - timedelta(hours=8))
    record_readings(
        earlier, [ReadingEntry(counter=each, at=earlier.now, value=LAST) for each in counters]
    )
    connection.close()
    return tablet(context, live_server, person=person)


def _running(number: int, *, author: Person) -> object:
    mold = factories.mold(number=f"M-{number:02}")
    factories.cycle_time(mold, author=author, standard_s="12.0")
    press = factories.spot(number=str(number))
    factories.set_in_press(mold, press=press, author=author)
    return factories.counter(on=mold, author=author, digits=6)


def written() -> list[int]:
    found = list(Reading.objects.exclude(value=LAST).order_by("id").values_list("value", flat=True))
    connection.close()
    return found


def field(floor: Tablet, number: int) -> Locator:
    return floor.page.get_by_label(f"Mold M-{number:02},")


def doubt(floor: Tablet, number: int) -> Locator:
    row = floor.page.locator("[data-round-row]", has_text=f"M-{number:02}")
    return row.locator("[data-round-doubt]")


def test_thirty_molds_are_read_without_a_tap_beyond_the_values(floor: Tablet) -> None:
    page = floor.page
    floor.go("/readings")
    expect(page.locator("html")).to_have_attribute("data-outbox", "on")
    field(floor, 1).focus()
    for number in range(1, MOLDS + 1):
        expect(field(floor, number)).to_be_focused()
        page.keyboard.type(f"{LAST + 1_000 + number}")
        page.keyboard.press("Enter")
    assert floor.taps == 0
    with page.expect_navigation():
        page.keyboard.press("Enter")
    expect(page.locator("#messages")).to_contain_text("30 readings are written down.")
    assert written() == [LAST + 1_000 + number for number in range(1, MOLDS + 1)]
    assert floor.wrong == []


def test_a_doubtful_value_is_said_at_once_and_nothing_changes_it_by_itself(floor: Tablet) -> None:
    page = floor.page
    floor.go("/readings")
    first = field(floor, 1)
    first.focus()
    for typed, said in (
        ("48201", "48,201 is less than the last one, 482,010."),
        ("582 010", "582,010 would be 100,000 cycles since the last one; at most"),
        ("1482010", "1,482,010 is more than this counter can show."),
        ("12 apples", "This is no count."),
    ):
        first.fill(typed)
        page.keyboard.press("Enter")
        expect(doubt(floor, 1)).to_contain_text(said)
        # somebody looks again before the next mold
        expect(first).to_be_focused()
    for size in ("phone", "desk", "tablet"):
        floor.hold(size, scheme="dark" if size == "phone" else "light")
        assert broken_rules(page) == []
        assert not wider_than_the_screen(page)
    first.fill("48201")
    page.keyboard.press("Enter")
    page.keyboard.press("Enter")
    expect(field(floor, 2)).to_be_focused()

    # digits grouped, a decimal of nothing, pasted blanks; wheel and arrows change nothing
    for number, typed in ((2, "483.110"), (3, "483110,0"), (4, "483 110"), (5, "ca. 483110")):
        field(floor, number).fill(typed)
        page.mouse.wheel(0, 240)
        page.keyboard.press("ArrowUp")
        page.keyboard.press("ArrowDown")
        expect(field(floor, number)).to_have_value(typed)
    page.keyboard.press("Enter")
    expect(doubt(floor, 5)).to_contain_text("483,110 will stand as an estimate.")
    with page.expect_navigation():
        floor.tap(floor.button("Write down").last)
    expect(page.locator("#messages")).to_contain_text("5 readings are written down.")
    expect(page.locator("#messages")).to_contain_text("1 of them is held")
    assert written() == [48_201, 483_110, 483_110, 483_110, 483_110]


def test_a_round_through_a_gap_goes_in_once(floor: Tablet) -> None:
    page = floor.page
    floor.go("/readings")
    expect(page.locator("html")).to_have_attribute("data-outbox", "on")
    subject = page.locator("#round").get_attribute("data-subject")
    page.route("**/tablet/contact", lambda route: route.abort())
    field(floor, 1).fill("483110")
    field(floor, 2).fill("483220")
    floor.tap(floor.button("Write down").last)
    expect(page.locator("#messages")).to_contain_text("The readings are kept on this tablet")
    expect(doubt(floor, 1)).to_have_text("483,110 is kept.")
    expect(field(floor, 1)).to_have_value("", timeout=15_000)
    assert written() == []
    # the next round waits for itself: a refused one would not hold it up
    expect(page.locator("#round")).not_to_have_attribute("data-subject", subject or "")
    # the last value is now the one that was kept
    field(floor, 1).fill("483000")
    page.keyboard.press("Enter")
    expect(doubt(floor, 1)).to_contain_text("483,000 is less than the last one, 483,110.")
    field(floor, 1).fill("")
    page.unroute("**/tablet/contact")
    page.evaluate("window.outbox.flush()")
    expect(page.locator("#messages")).to_contain_text("2 readings are written down.")
    assert written() == [483_110, 483_220]
