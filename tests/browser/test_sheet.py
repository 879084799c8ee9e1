"""A technician works through a sheet: by taps, by keyboard, through a wifi gap, without script."""

from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Literal

import pytest
from django.db import connection
from PIL import Image
from playwright.sync_api import BrowserContext, expect
from pytest_django.live_server_helper import LiveServer

from moldcare.acts.doing import Doing
from moldcare.acts.orders import hand_out, write_order
from moldcare.care.models import Completion
from moldcare.logbook.models import Entry
from moldcare.plant.models import Person
from moldcare.work.models import Order, StepValue
from tests import factories
from tests.browser.tablet import (
    Tablet,
    broken_rules,
    tablet,
    wider_than_the_screen,
    without_net,
)

NewContext = Callable[..., BrowserContext]


@pytest.fixture
def picture(tmp_path: Path) -> Path:
    """A photo of vents."""
    path = tmp_path / "vents.jpg"
    Image.new("RGB", (640, 480), "gray").save(path)
    return path


@pytest.fixture
def order(live_server: LiveServer, doing: Doing) -> Order:
    """Vents in six steps of every kind, handed out."""
    factories.plant()
    factories.three_shifts()
    rule = factories.care_rule(mold=factories.mold(number="M-2041"), name="Clean the vents")
    factories.step(rule, place=1, text="Wash the vents")
    factories.step(
        rule,
        place=2,
        text="Depth at cavity 1",
        kind="value",
        unit="mm",
        low=Decimal("0.012"),
        high=Decimal("0.020"),
    )
    factories.step(rule, place=3, text="Vent land", kind="choice", choices=["sharp", "rounded"])
    factories.step(rule, place=4, text="Photograph the vents", kind="photo")
    factories.step(rule, place=5, text="Worst position", kind="position")
    factories.step(rule, place=6, text="Blow out the dumps")
    order = Order.objects.get(pk=write_order(doing, mold=rule.mold, rules=[rule]).pk)
    hand_out(doing, order=order)
    connection.close()
    return order


@pytest.fixture
def bench(
    context: BrowserContext, live_server: LiveServer, order: Order, technician: Person
) -> Tablet:
    """The sheet on a tablet on the bench."""
    found = tablet(context, live_server, person=technician)
    found.go(f"/orders/{order.number}/sheet")
    return found


def now_is(bench: Tablet, title: str) -> None:
    """Wait until this is the present step, and see that it has the keyboard's focus near it."""
    expect(bench.page.locator("#now .step__title")).to_have_text(title)


def look(bench: Tablet, picture: Path) -> None:
    bench.photograph(bench.page.get_by_label("Photo before cleaning"), picture=picture)
    bench.tap(bench.button("heavy"))
    now_is(bench, "Wash the vents")


def test_six_steps_in_at_most_nine_taps_beside_what_is_typed(bench: Tablet, picture: Path) -> None:
    look(bench, picture)
    bench.tap(bench.button("Done"))
    now_is(bench, "Depth at cavity 1")
    bench.type_in("0.015")
    now_is(bench, "Vent land")
    bench.tap(bench.button("sharp"))
    now_is(bench, "Photograph the vents")
    bench.photograph(bench.page.get_by_label("Photo", exact=True), picture=picture)
    now_is(bench, "Worst position")
    bench.type_in("cavity 3")
    now_is(bench, "Blow out the dumps")
    bench.tap(bench.button("Done"))
    now_is(bench, "Tomas Breuer signs")
    bench.tap(bench.button("Sign: done"))
    expect(bench.page.get_by_role("heading", name="Signed")).to_be_visible()
    assert bench.taps <= 9
    assert bench.wrong == []
    assert Entry.objects.get(kind="order").author.name == "Tomas Breuer"
    assert Completion.objects.get().grade == "heavy"


def test_six_ticks_in_at_most_nine_taps(bench: Tablet, order: Order, picture: Path) -> None:
    rule = order.tasks.get().rule
    rule.steps.all().delete()
    for place in range(1, 7):
        factories.step(rule, place=place, text=f"Step {place}")
    bench.page.reload()
    bench.photograph(bench.page.get_by_label("Photo before cleaning"), picture=picture)
    bench.tap(bench.button("light"))
    for place in range(1, 7):
        now_is(bench, f"Step {place}")
        bench.tap(bench.button("Done"))
    now_is(bench, "Tomas Breuer signs")
    bench.tap(bench.button("Sign: done"))
    expect(bench.page.get_by_role("heading", name="Signed")).to_be_visible()
    assert bench.taps <= 9


def test_a_wrong_value_is_said_and_run_again(bench: Tablet, picture: Path) -> None:
    look(bench, picture)
    bench.tap(bench.button("Done"))
    now_is(bench, "Depth at cavity 1")
    field = bench.page.get_by_label("Measured")
    field.fill("a lot")
    bench.tap(bench.button("Write it down"))
    errors = bench.page.locator(".errors")
    expect(errors).to_be_focused()
    expect(errors).to_contain_text("a lot is no number")
    # what was typed is still there
    expect(field).to_have_value("a lot")
    field.fill("0.031")
    bench.tap(bench.button("Write it down"))
    expect(bench.page.locator(".step__outside")).to_contain_text("0.031 mm")
    bench.page.reload()
    expect(bench.page.locator(".step__outside")).to_contain_text("0.031 mm")
    bench.page.get_by_label("Measured again").fill("0.017")
    bench.tap(bench.button("Write it down"))
    now_is(bench, "Vent land")
    expect(bench.page.locator(".step--done", has_text="Depth at cavity 1")).to_contain_text(
        "0.017 mm after 0.031"
    )
    assert bench.wrong == []


def test_the_number_pad_types_and_the_value_is_written(bench: Tablet, picture: Path) -> None:
    look(bench, picture)
    bench.tap(bench.button("Done"))
    now_is(bench, "Depth at cavity 1")
    pad = bench.page.get_by_role("group", name="Number pad")
    for key in ("0", "Decimal sign", "0", "1", "8"):
        pad.get_by_role("button", name=key, exact=True).click()
    expect(bench.page.get_by_label("Measured")).to_have_value("0.018")
    bench.tap(bench.button("Write it down"))
    now_is(bench, "Vent land")
    assert StepValue.objects.get(step=2).number == Decimal("0.018")


def test_a_double_tap_writes_once(bench: Tablet, picture: Path) -> None:
    look(bench, picture)
    bench.button("Done").dblclick()
    now_is(bench, "Depth at cavity 1")
    assert StepValue.objects.filter(step=1).count() == 1
    assert not StepValue.objects.filter(step=2).exists()


def test_what_was_typed_waits_through_a_wifi_gap(
    bench: Tablet, context: BrowserContext, picture: Path
) -> None:
    look(bench, picture)
    bench.tap(bench.button("Done"))
    now_is(bench, "Depth at cavity 1")
    field = bench.page.get_by_label("Measured")
    field.fill("0.016")
    with without_net(context):
        bench.tap(bench.button("Write it down"))
        expect(bench.page.get_by_role("status")).to_contain_text("the server cannot be reached")
        expect(field).to_have_value("0.016")
    bench.tap(bench.button("Write it down"))
    now_is(bench, "Vent land")
    assert StepValue.objects.filter(step=2).count() == 1


def test_an_answer_that_was_lost_on_its_way_is_not_written_twice(
    bench: Tablet, picture: Path
) -> None:
    look(bench, picture)
    lost = []

    def swallow(route, request) -> None:  # type: ignore[no-untyped-def]
        if request.method == "POST" and not lost:
            # the server takes it, and its answer never comes back
            lost.append(route.fetch().status)
            route.abort("connectionreset")
        else:
            route.continue_()

    bench.page.route("**/sheet", swallow)
    bench.tap(bench.button("Done"))
    expect(bench.page.get_by_role("status")).to_contain_text("the server cannot be reached")
    bench.tap(bench.button("Done"))
    now_is(bench, "Depth at cavity 1")
    assert lost == [200]
    assert StepValue.objects.filter(step=1).count() == 1


def test_who_was_signed_off_meanwhile_is_told_so(
    bench: Tablet, context: BrowserContext, picture: Path
) -> None:
    look(bench, picture)
    bench.tap(bench.button("Done"))
    now_is(bench, "Depth at cavity 1")
    bench.page.get_by_label("Measured").fill("0.016")
    context.clear_cookies(name="sessionid")
    bench.tap(bench.button("Write it down"))
    expect(bench.page.get_by_role("status")).to_contain_text("You were signed off meanwhile")
    expect(bench.page.get_by_label("Measured")).to_have_value("0.016")
    assert not StepValue.objects.filter(step=2).exists()


def test_the_whole_sheet_by_keyboard_alone(bench: Tablet, order: Order) -> None:
    page = bench.page
    keys = page.keyboard

    def walk_to(name: str, *, role: str = "BUTTON") -> None:
        """Press Tab until the focus is on what has this name."""
        for _ in range(60):
            focused = page.evaluate(
                "[document.activeElement.tagName, document.activeElement.innerText || "
                "document.activeElement.getAttribute('aria-label') || "
                "document.activeElement.labels?.[0]?.innerText || '']"
            )
            if focused[0] == role and focused[1].strip().startswith(name):
                return
            keys.press("Tab")
        raise AssertionError(f"{name} is not reached by the keyboard")

    walk_to("No photo: the camera fails", role="SUMMARY")
    keys.press("Enter")
    walk_to("The camera fails: why", role="INPUT")
    keys.type("battery empty")
    # Enter in a field does not choose a grade
    keys.press("Enter")
    expect(page.locator(".errors")).to_be_focused()
    walk_to("heavy")
    keys.press("Space")
    now_is(bench, "Wash the vents")
    walk_to("Done")
    keys.press("Enter")
    now_is(bench, "Depth at cavity 1")
    # the field of the next step has the focus by itself
    expect(page.get_by_label("Measured")).to_be_focused()
    keys.type("0.015")
    keys.press("Enter")
    now_is(bench, "Vent land")
    walk_to("rounded")
    keys.press("Enter")
    now_is(bench, "Photograph the vents")
    walk_to("Or why there is none", role="INPUT")
    keys.type("battery empty")
    keys.press("Enter")
    now_is(bench, "Worst position")
    keys.type("cavity 2")
    keys.press("Enter")
    now_is(bench, "Blow out the dumps")
    walk_to("Done")
    keys.press("Enter")
    now_is(bench, "Tomas Breuer signs")
    walk_to("Sign: done")
    keys.press("Enter")
    expect(page.get_by_role("heading", name="Signed")).to_be_visible()
    assert bench.wrong == []


def test_the_whole_sheet_without_script(
    new_context: NewContext,
    live_server: LiveServer,
    order: Order,
    technician: Person,
    picture: Path,
) -> None:
    bench = tablet(new_context(java_script_enabled=False), live_server, person=technician)
    page = bench.page
    bench.go(f"/orders/{order.number}/sheet")
    page.get_by_label("Photo before cleaning").set_input_files(picture)
    bench.tap(bench.button("light"))
    bench.tap(bench.button("Done"))
    page.get_by_label("Measured").fill("0.03")
    bench.tap(bench.button("Write it down"))
    page.get_by_label("Or why it stays as it is").fill("opened on purpose")
    bench.tap(bench.button("Write it down"))
    bench.tap(bench.button("sharp"))
    page.get_by_label("Photo", exact=True).set_input_files(picture)
    bench.tap(bench.button("Write it down"))
    page.get_by_label("Where").fill("cavity 1")
    bench.tap(bench.button("Write it down"))
    bench.tap(bench.button("Done"))
    bench.tap(bench.button("Sign: done"))
    expect(page.get_by_role("heading", name="Signed")).to_be_visible()
    assert "opened on purpose" in Entry.objects.get(kind="order").facts


def test_somebody_else_signs_on_the_shared_tablet(
    bench: Tablet, order: Order, picture: Path
) -> None:
    other = factories.person(name="Mara Lindgren", pin="2468")
    connection.close()
    look(bench, picture)
    page = bench.page
    page.locator("summary", has_text="Left, not needed").click()
    page.get_by_label("Why").fill("no brush left")
    bench.tap(bench.button("Left, because of this"))
    now_is(bench, "Tomas Breuer signs")
    page.locator("summary", has_text="Somebody else signs").click()
    page.locator("#sign_badge").fill(other.badge or "")
    page.locator("#sign_pin").fill("1111")
    bench.tap(bench.button("Sign: done"))
    expect(page.locator(".errors")).to_contain_text("do not belong together")
    expect(page.locator("#sign_badge")).to_have_value(other.badge or "")
    page.locator("#sign_pin").fill("2468")
    bench.tap(bench.button("Sign: done"))
    expect(page.get_by_role("heading", name="Signed")).to_be_visible()
    assert Entry.objects.get(kind="order").author.name == "Mara Lindgren"


@pytest.mark.parametrize(
    ("size", "scheme"), [("desk", "light"), ("tablet", "dark"), ("phone", "light")]
)
def test_every_state_of_the_sheet_keeps_the_rules_at_each_size(
    bench: Tablet, order: Order, picture: Path, size: str, scheme: Literal["light", "dark"]
) -> None:
    bench.hold(size, scheme=scheme)
    found: dict[str, list[str]] = {}

    def judge(state: str) -> None:
        found[state] = broken_rules(bench.page)
        if wider_than_the_screen(bench.page):
            found[state].append("wider than the screen")

    judge("look")
    look(bench, picture)
    judge("tick")
    bench.tap(bench.button("Done"))
    now_is(bench, "Depth at cavity 1")
    judge("value")
    bench.page.get_by_label("Measured").fill("0.05")
    bench.tap(bench.button("Write it down"))
    expect(bench.page.locator(".step__outside")).to_be_visible()
    judge("outside its limits")
    bench.tap(bench.button("Write it down"))
    expect(bench.page.locator(".errors")).to_be_visible()
    judge("refused")
    bench.page.locator("summary", has_text="Left, not needed").click()
    bench.page.get_by_label("Why", exact=True).fill("no brush left")
    bench.tap(bench.button("Left, because of this"))
    now_is(bench, "Tomas Breuer signs")
    judge("signature")
    bench.tap(bench.button("Sign: done"))
    expect(bench.page.get_by_role("heading", name="Signed")).to_be_visible()
    judge("signed")
    assert {state: faults for state, faults in found.items() if faults} == {}
    assert bench.wrong == []
