"""A plant moves in at a desk: a register and a sheet, a wrong entry, a double tap, and back out."""

from collections.abc import Callable
from pathlib import Path
from typing import Literal

import pytest
from django.db import connection
from playwright.sync_api import BrowserContext, expect
from pytest_django.live_server_helper import LiveServer

from moldcare.care.models import CareRule, Completion
from moldcare.feeds.models import ImportBatch, ImportRow, ImportUndone
from moldcare.molds.models import Mold
from moldcare.molds.queries import owners_in_use
from moldcare.plant.models import Person
from tests import factories
from tests.browser.tablet import Tablet, broken_rules, tablet, wider_than_the_screen

REGISTER = (
    "Mold register of plant 2;;;;\n"
    "Mold no.;Description;Cavities;Mass A (kg);Kennwort\n"
    "0417;housing, 12 mm;4;412,5;Norda Medical\n"
    "0418;cap;8;95,5;Norda Medical\n"
    "0419;lid;many;90;Sund Optics\n"
)
SHEET = (
    "Mold;Task;Every (cycles);Last done\n"
    "0417;Clean vents;15000;2026-03-02\n"
    "WZ 418;Grease leader pins;20000;2026-02-12\n"
)


@pytest.fixture
def desk(context: BrowserContext, live_server: LiveServer, lead: Person) -> Tablet:
    """A lead's screen in a plant that has nothing yet."""
    factories.plant()
    connection.close()
    return tablet(context, live_server, person=lead)


@pytest.fixture
def file(tmp_path: Path) -> Callable[[str, str], Path]:
    """Return a function that writes a file."""

    def written(name: str, content: str) -> Path:
        path = tmp_path / name
        path.write_text(content, encoding="utf-8")
        return path

    return written


def upload(desk: Tablet, path: str, *, file: Path) -> None:
    """Choose a file and look at it."""
    desk.go(path)
    desk.page.get_by_label("File", exact=True).set_input_files(file)
    desk.tap(desk.button("Look at it"))


def twice(desk: Tablet, name: str) -> None:
    """Tap a button twice, as fast as hands are."""
    desk.button(name).evaluate("(button) => { button.click(); button.click(); }")


def test_a_register_is_matched_brought_in_mended_and_taken_back(
    desk: Tablet, file: Callable[[str, str], Path]
) -> None:
    page = desk.page
    upload(desk, "/import/molds", file=file("register.csv", REGISTER))
    expect(page.get_by_role("heading", level=1)).to_have_text("register.csv")
    # nobody knows that heading: the lead says what it means
    page.get_by_label("Kennwort").select_option(label="owner")
    desk.tap(desk.button("Look again"))
    expect(page.get_by_text("2 would be written down.")).to_be_visible()
    expect(page.get_by_text("Owner Norda Medical is made.").first).to_be_visible()
    assert not Mold.objects.exists()
    twice(desk, "Bring in what is good")
    expect(page.get_by_role("heading", name="What became of the rows")).to_be_visible()
    assert ImportBatch.objects.count() == 1
    assert Mold.objects.count() == 2
    # the row that was kept: a wrong entry first, and it is still there to be put right
    desk.tap(page.get_by_role("link", name="Mend row 5"))
    page.get_by_label("Cavities").fill("a few")
    desk.tap(desk.button("Bring the row in"))
    expect(page.get_by_role("heading", name="One thing to put right")).to_be_visible()
    expect(page.get_by_label("Cavities")).to_have_value("a few")
    page.get_by_label("Cavities").fill("2")
    twice(desk, "Bring the row in")
    expect(page.get_by_role("heading", name="What became of the rows")).to_be_visible()
    expect(page.get_by_role("link", name="Mend row 5")).to_have_count(0)
    assert Mold.objects.get(number="0419").cavity_count == 2
    # and back: it was the wrong list
    desk.tap(page.get_by_role("link", name="Take the import back"))
    desk.tap(desk.button("Take it back"))
    expect(page.get_by_role("heading", name="One thing to put right")).to_be_visible()
    page.get_by_label("Reason").fill("the list of another plant")
    twice(desk, "Take it back")
    expect(page.get_by_text("This import was taken back")).to_be_visible()
    assert ImportUndone.objects.filter(batch__kind="molds").count() == 2
    # what was mended of it goes along, with the owners that it made
    assert not Mold.objects.filter(withdrawn_at=None).exists()
    assert not owners_in_use().exists()
    assert desk.wrong == []


def test_a_sheet_is_assigned_and_brought_in_and_its_changes_are_chosen(
    desk: Tablet, file: Callable[[str, str], Path]
) -> None:
    page = desk.page
    upload(desk, "/import/molds", file=file("register.csv", REGISTER))
    desk.tap(desk.button("Bring in what is good"))
    upload(desk, "/import/rules", file=file("sheet.csv", SHEET))
    page.get_by_label("It is").fill("0418")
    desk.tap(desk.button("Look again"))
    expect(page.get_by_text("2 would be written down.")).to_be_visible()
    desk.tap(desk.button("Bring in what is good"))
    expect(page.get_by_role("heading", name="What became of the rows")).to_be_visible()
    assert CareRule.objects.count() == 2
    assert Completion.objects.count() == 2
    assert not ImportRow.objects.filter(batch__kind="rules").exists()
    # the next sheet has another interval: left as it is until somebody wants it
    upload(desk, "/import/rules", file=file("later.csv", SHEET.replace("15000", "12000")))
    one = page.get_by_role("group", name="Row 2, mold 0417: Clean vents")
    expect(one.get_by_label("Leave it as it is.")).to_be_checked()
    one.get_by_label("Take what the file says.").check()
    desk.tap(desk.button("Look again"))
    expect(page.get_by_text("1 would be written down.")).to_be_visible()
    page.get_by_label("Why intervals that are here change").fill("They foul sooner.")
    desk.tap(desk.button("Bring in what is good"))
    expect(page.get_by_role("heading", name="What became of the rows")).to_be_visible()
    assert CareRule.objects.get(name="Clean vents").count_base == 12_000
    assert desk.wrong == []


@pytest.mark.parametrize(
    ("size", "scheme"), [("desk", "light"), ("tablet", "dark"), ("phone", "light")]
)
def test_the_pages_hold_at_every_size(
    size: str,
    scheme: Literal["light", "dark"],
    desk: Tablet,
    file: Callable[[str, str], Path],
) -> None:
    desk.hold(size, scheme=scheme)
    page = desk.page

    def look() -> None:
        assert not wider_than_the_screen(page), page.url
        assert broken_rules(page) == [], page.url

    desk.go("/import/molds")
    look()
    upload(desk, "/import/molds", file=file("register.csv", REGISTER))
    look()
    desk.tap(desk.button("Bring in what is good"))
    look()
    desk.tap(page.get_by_role("link", name="Mend row 5"))
    look()
    page.go_back()
    upload(desk, "/import/molds", file=file("other.csv", REGISTER.replace("cap", "cap, red")))
    look()
    upload(desk, "/import/rules", file=file("sheet.csv", SHEET))
    look()
    desk.go(f"/imports/{ImportBatch.objects.get().pk}/undo")
    look()
    assert desk.wrong == []


def test_all_of_it_works_without_script(
    new_context: Callable[..., BrowserContext],
    live_server: LiveServer,
    lead: Person,
    file: Callable[[str, str], Path],
) -> None:
    factories.plant()
    connection.close()
    desk = tablet(new_context(java_script_enabled=False), live_server, person=lead)
    page = desk.page
    upload(desk, "/import/molds", file=file("register.csv", REGISTER))
    desk.tap(desk.button("Bring in what is good"))
    desk.tap(page.get_by_role("link", name="Mend row 5"))
    page.get_by_label("Cavities").fill("2")
    desk.tap(desk.button("Bring the row in"))
    desk.tap(page.get_by_role("link", name="Take the import back"))
    page.get_by_label("Reason").fill("the list of another plant")
    desk.tap(desk.button("Take it back"))
    expect(page.get_by_text("This import was taken back")).to_be_visible()
