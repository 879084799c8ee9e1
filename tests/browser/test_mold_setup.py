"""A new mold from Setup to its printed label, and a copy: fields and taps are counted."""

from pathlib import Path
from typing import Literal

import pytest
from django.db import connection
from django.utils import timezone
from playwright.sync_api import BrowserContext, expect
from pytest_django.live_server_helper import LiveServer

from moldcare.acts.doing import Doing
from moldcare.acts.molds import (
    NewItem,
    add_circuit,
    add_configuration,
    add_mold,
    add_position,
    set_circuit_items,
)
from moldcare.acts.starting_sets import load_starting_sets
from moldcare.molds.models import Circuit, Mold
from moldcare.plant.models import Person
from tests import factories
from tests.browser.tablet import Tablet, broken_rules, tablet, wider_than_the_screen

MOST_FIELDS, MOST_TAPS = 12, 8
MOST_FIELDS_OF_A_COPY = 4


@pytest.fixture
def lead(live_server: LiveServer) -> Person:
    """A lead in a plant with the starting sets, a rack, and one mold with water."""
    factories.plant()
    person = factories.person(role="lead")
    doing = Doing(person=person, now=timezone.now())
    load_starting_sets(doing)
    factories.spot(kind="rack", number="B4")
    mold = Mold.objects.get(
        pk=add_mold(doing, number="0417", name="dripper cap", cavity_count=4).row_id
    )
    add_position(doing, mold=mold, ident="C1")
    add_configuration(doing, mold=mold, name="left hand")
    for ident, looped in (("A1", "A2"), ("A2", "")):
        add_circuit(doing, mold=mold, ident=ident, half="A", looped_with=looped)
    items = [
        NewItem(kind="bubbler", number="1", at="C1"),
        NewItem(kind="spiral_baffle", number="2"),
    ]
    set_circuit_items(doing, circuit=Circuit.objects.get(ident="A1"), items=items)
    connection.close()
    return person


@pytest.fixture
def desk(context: BrowserContext, live_server: LiveServer, lead: Person) -> Tablet:
    """The lead's desk."""
    return tablet(context, live_server, person=lead)


# what a person could fill in, a group of boxes or radios once
FIELDS = """() => new Set([...document.querySelectorAll("form.form :is(input, select, textarea)")]
  .filter((field) => field.type !== "hidden").map((field) => field.name)).size"""


class Filling:
    """Fills fields, and counts them."""

    def __init__(self, desk: Tablet) -> None:
        self.desk, self.fields = desk, 0

    def tick(self, label: str) -> None:
        """Choose a box or a radio."""
        self.desk.page.locator("main").get_by_label(label).check()
        self.fields += 1

    @property
    def there(self) -> int:
        """How many fields the page has, counted by what is in it."""
        found: int = self.desk.page.evaluate(FIELDS)
        return found

    def type(self, label: str, text: str) -> None:
        """Type into a field."""
        self.desk.page.locator("main").get_by_label(label).first.fill(text)
        self.fields += 1

    def choose(self, label: str, option: str) -> None:
        """Choose from a list."""
        self.desk.page.locator("main").get_by_label(label).first.select_option(label=option)
        self.fields += 1


@pytest.mark.parametrize("size", ["desk", "phone"])
def test_a_new_mold_with_rules_and_its_printed_label(
    desk: Tablet, size: str, tmp_path: Path
) -> None:
    """From the Shift page on, with every field there is filled in."""
    desk.hold(size)
    page, filling = desk.page, Filling(desk)
    desk.go("/")
    if size == "phone":
        desk.tap(page.locator("summary", has_text="Pages"))
    desk.tap(page.get_by_role("link", name="Setup").locator("visible=true").first)
    desk.tap(page.get_by_role("link", name="Add a mold").first)
    filling.type("Number", "0418")
    filling.type("Name", "pump body")
    filling.choose("Class", "102")
    filling.type("Cavities", "8")
    filling.type("Property of", "Aquaforma")
    filling.choose("Resin", "ABS, PC, PA with glass or mineral")
    filling.type("Finish", "SPI A-2")
    filling.type("Standard cycle time", "18,5")
    filling.type("Life count today", "120000")
    filling.choose("Its own counter", "6 digits")
    filling.type("That counter shows", "500")
    filling.tick("rack B4")
    assert filling.fields == filling.there
    desk.tap(desk.button("Go on to its rules"))
    ticked = page.locator('input[name="rule_sets"]:checked')
    assert ticked.count() >= 1
    desk.tap(desk.button("Add the mold"))
    expect(page.get_by_role("heading", level=1)).to_have_text("Mold 0418 is added")
    desk.tap(page.get_by_role("link", name="Print its label"))
    with page.expect_download() as download:
        desk.tap(desk.button("Print the labels"))
    kept = tmp_path / "label.pdf"
    download.value.save_as(kept)
    assert kept.read_bytes().startswith(b"%PDF-")
    assert filling.fields <= MOST_FIELDS
    assert desk.taps <= MOST_TAPS
    assert desk.wrong == []
    added = Mold.objects.get(number="0418")
    assert added.care_rules.exists()
    assert added.mold_class == "102"
    connection.close()


def test_a_copy_takes_four_fields(desk: Tablet) -> None:
    page, filling = desk.page, Filling(desk)
    desk.go("/molds/0417")
    page.get_by_text("More", exact=True).click()
    desk.tap(page.get_by_role("link", name="Add one built like it"))
    filling.type("Number", "0419")
    filling.type("Name", "dripper cap, second")
    filling.tick("rack B4")
    filling.type("Life count today", "0")
    assert filling.fields == filling.there
    desk.tap(desk.button("Add the copy"))
    expect(page.get_by_role("heading", level=1)).to_have_text("Mold 0419 is added")
    assert filling.fields <= MOST_FIELDS_OF_A_COPY
    assert Mold.objects.get(number="0419").circuits.count() == 2
    connection.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", ["desk", "tablet", "phone"])
def test_the_pages_can_be_read_at_every_size(
    desk: Tablet, size: str, scheme: Literal["light", "dark"]
) -> None:
    desk.hold(size, scheme=scheme)
    circuit = Circuit.objects.get(ident="A1", mold__number="0417").pk
    connection.close()
    for path in (
        "/setup/molds/add",
        "/molds/0417/added",
        "/molds/0417/copy",
        "/molds/0417/parts",
        "/molds/0417/cavities",
        f"/molds/0417/circuits/{circuit}",
        f"/molds/0417/circuits/{circuit}/items",
        "/molds/0417/marking",
        "/molds/0417",
    ):
        desk.go(path)
        assert broken_rules(desk.page) == [], path
        assert not wider_than_the_screen(desk.page), path
    assert desk.wrong == []
