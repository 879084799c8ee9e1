"""The Shift page's words: instants that name their day, and what its totals reach to."""

from collections.abc import Callable
from datetime import datetime, timedelta
from html import unescape
from re import sub

import pytest
from django.test import Client
from django.urls import reverse

from moldcare.acts.counters import remove_counter
from moldcare.acts.doing import Doing
from moldcare.acts.half_done import PartLying, pass_on, take_in
from moldcare.acts.orders import write_order
from moldcare.acts.readings import ReadingEntry, record_readings
from moldcare.acts.refresh import refresh_care
from moldcare.counters.models import Reading
from moldcare.work.models import Order
from tests import factories

pytestmark = pytest.mark.usefixtures("clock")


def words(client: Client, path: str) -> str:
    """The text of a page, with one blank between words."""
    response = client.get(path)
    assert response.status_code == 200
    return sub(r"\s+", " ", unescape(sub(r"<[^>]+>", " ", response.getvalue().decode()))).strip()


@pytest.fixture
def held_since_yesterday(doing: Doing, now: datetime) -> Reading:
    """A mold's counter whose newest reading, a day old, goes backwards."""
    factories.plant()
    mold = factories.mold(number="M-2041")
    factories.set_in_press(mold, press=factories.spot(), author=doing.person)
    counter = factories.counter(on=mold, author=doing.person)
    factories.care_rule(mold=mold)
    for value, hours in ((5000, 26), (500, 25)):
        at = now - timedelta(hours=hours)
        record_readings(
            Doing(person=doing.person, now=at),
            entries=[ReadingEntry(counter=counter, at=at, value=value, source="typed")],
        )
    return Reading.objects.latest("pk")


def test_a_reading_that_was_held_yesterday_names_its_day(
    held_since_yesterday: Reading, client_of: Callable[[str], Client]
) -> None:
    day = held_since_yesterday.at.strftime("%a")
    assert f"read {day} " in words(client_of("lead"), reverse("shift"))


@pytest.mark.parametrize(("is_removed", "place"), [(False, "press 7"), (True, "on nothing now")])
def test_a_held_reading_of_a_counter_on_no_mold_says_where_the_counter_sits(
    doing: Doing,
    now: datetime,
    client_of: Callable[[str], Client],
    *,
    is_removed: bool,
    place: str,
) -> None:
    factories.plant()
    counter = factories.counter(on=factories.spot(number="7"), author=doing.person, label="P7")
    for value, hours in ((5000, 26), (500, 25)):
        at = now - timedelta(hours=hours)
        record_readings(
            Doing(person=doing.person, now=at),
            entries=[ReadingEntry(counter=counter, at=at, value=value, source="typed")],
        )
    if is_removed:
        remove_counter(doing, counter=counter, at=now, reason="worn", last_value=None)
    for page in ("shift", "wall", "held-readings"):
        said = words(client_of("lead"), reverse(page))
        assert f"{place} Reading 500 goes backwards." in said or f"{place} 500 goes" in said


@pytest.mark.usefixtures("held_since_yesterday")
def test_a_mold_whose_reading_is_held_is_not_sent_to_be_read(
    client_of: Callable[[str], Client],
) -> None:
    said = words(client_of("lead"), reverse("shift"))
    assert "unsure a reading is held" in said
    assert "read the counter" not in said


def test_a_mold_whose_parts_lie_outside_says_where(
    doing: Doing, client_of: Callable[[str], Client]
) -> None:
    factories.plant()
    mold = factories.mold(number="M-2041")
    rule = factories.care_rule(mold=mold)
    factories.move(mold, to=factories.spot(kind="bench"), author=doing.person)
    refresh_care(molds=[mold.pk])
    order = Order.objects.get(pk=write_order(doing, mold=rule.mold, rules=[rule]).pk)
    (part,) = pass_on(doing, order=order, parts=[PartLying(what="core 2", lies="box 3")])
    assert "Parts lie outside: core 2 (box 3)" in words(client_of("lead"), reverse("shift"))
    take_in(doing, part=part)
    assert "Parts lie outside" not in words(client_of("lead"), reverse("shift"))
