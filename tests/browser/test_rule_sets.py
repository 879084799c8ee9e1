"""A rule set in a browser: taken after a look, changed, offered; at each size and by keyboard."""

from typing import Literal

import pytest
from django.db import connection
from django.utils import timezone
from playwright.sync_api import Browser, BrowserContext, expect
from pytest_django.live_server_helper import LiveServer

from moldcare.acts.doing import Doing
from moldcare.acts.rules import apply_rule_set, change_rule, change_set_rule
from moldcare.acts.starting_sets import load_starting_sets
from moldcare.care.models import CareRule, RuleSet, SetRule
from moldcare.molds.models import Mold
from moldcare.plant.models import Person
from tests import factories
from tests.browser.tablet import Tablet, broken_rules, tablet, wider_than_the_screen


@pytest.fixture
def rule_set(live_server: LiveServer, lead: Person) -> RuleSet:
    """The starting set for every mold, and three molds that run different resins."""
    factories.plant()
    factories.three_shifts()
    load_starting_sets(Doing(person=lead, now=timezone.now()))
    factories.mold(number="M-2041", mold_class="101", resin_group="mild", resin="PP")
    factories.mold(number="M-2042", mold_class="102", resin_group="gassy", resin="POM")
    factories.mold(number="M-2043", mold_class="102", resin_group="corrosive", resin="PVC")
    row = RuleSet.objects.get(name="every mold")
    connection.close()
    return row


@pytest.fixture
def desk(
    context: BrowserContext, live_server: LiveServer, rule_set: RuleSet, lead: Person
) -> Tablet:
    """A lead's screen."""
    return tablet(context, live_server, person=lead)


def taken_and_changed(rule_set: RuleSet, *, lead: Person) -> SetRule:
    """Two molds took the set, one adjusted a rule, and then the set changed."""
    doing = Doing(person=lead, now=timezone.now())
    molds = list(Mold.objects.filter(number__in=["M-2042", "M-2043"]).order_by("number"))
    apply_rule_set(doing, rule_set=rule_set, molds=[mold.pk for mold in molds])
    own = CareRule.objects.get(mold=molds[1], name="Wipe the vents")
    change_rule(doing, rule=own, changes={"count_base": 8_000}, reason="our own findings")
    row = SetRule.objects.get(rule_set=rule_set, name="Wipe the vents")
    change_set_rule(doing, row=row, changes={"count_base": 6_000}, reason="found heavy twice")
    connection.close()
    return row


def test_a_set_is_taken_after_a_look_at_what_it_changes(desk: Tablet, rule_set: RuleSet) -> None:
    page = desk.page
    desk.go(f"/rule-sets/{rule_set.pk}")
    desk.tap(page.get_by_role("link", name="Take it for molds"))
    page.get_by_label("Class").select_option("102")
    desk.tap(page.get_by_role("button", name="Show", exact=True))
    expect(page.get_by_text("M-2041")).to_have_count(0)
    page.get_by_role("checkbox", name="Mold M-2042").check()
    desk.tap(desk.button("Look at the ticked ones"))
    expect(page.locator(".lead")).to_contain_text("Nothing is written yet.")
    page.locator("summary", has_text="new rules").click()
    # 10,000 x 0.6: the factor of a gassy resin, from memory of the trade
    expect(page.locator(".pick__more")).to_contain_text("10,000 × 0.6 (POM, gassy) = 6,000 shots")
    assert not CareRule.objects.exists()
    connection.close()
    desk.tap(desk.button("Apply to the ticked ones"))
    expect(page.locator("#messages")).to_contain_text("Taken for 1 mold: 14 rules written")
    assert set(CareRule.objects.values_list("mold__number", flat=True)) == {"M-2042"}
    assert desk.wrong == []


def test_a_change_of_a_set_is_offered_and_leaves_what_a_mold_adjusted(
    desk: Tablet, rule_set: RuleSet, lead: Person
) -> None:
    taken_and_changed(rule_set, lead=lead)
    page = desk.page
    desk.go(f"/rule-sets/{rule_set.pk}")
    expect(page.locator(".note--due_soon")).to_contain_text(
        "Changed since it was taken by 2 molds."
    )
    desk.tap(page.get_by_role("link", name="See what would change"))
    desk.tap(desk.button("Look at the ticked ones"))
    expect(page.locator("del")).to_contain_text("every 6,000 shots")
    expect(page.locator("ins")).to_contain_text("every 3,600 shots")
    expect(page.get_by_text("Adjusted on this mold, so it stays.")).to_be_visible()
    page.get_by_label("Why the molds take this over").fill("agreed on Monday")
    desk.tap(desk.button("Apply to the ticked ones"))
    expect(page.locator("#messages")).to_contain_text("1 brought up to date")
    found = CareRule.objects.filter(name="Wipe the vents").order_by("mold__number")
    assert [rule.count_base for rule in found] == [6_000, 8_000]
    assert desk.wrong == []


def test_a_set_is_taken_by_keyboard_alone_and_without_script(
    browser: Browser, live_server: LiveServer, rule_set: RuleSet, lead: Person
) -> None:
    context = browser.new_context(java_script_enabled=False)
    desk = tablet(context, live_server, person=lead)
    page = desk.page
    desk.go(f"/rule-sets/{rule_set.pk}/apply")
    page.get_by_role("checkbox", name="Mold M-2041").focus()
    page.keyboard.press("Space")
    desk.button("Look at the ticked ones").focus()
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_have_text("What “every mold” would change")
    desk.button("Apply to the ticked ones").focus()
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_have_text("every mold")
    assert CareRule.objects.filter(mold__number="M-2041").count() == 14
    context.close()


@pytest.mark.parametrize(
    ("size", "scheme"), [("desk", "light"), ("tablet", "dark"), ("phone", "light")]
)
def test_the_pages_of_sets_keep_the_rules_at_each_size(
    desk: Tablet,
    rule_set: RuleSet,
    lead: Person,
    size: str,
    scheme: Literal["light", "dark"],
) -> None:
    row = taken_and_changed(rule_set, lead=lead)
    rule = CareRule.objects.filter(name="Wipe the vents")[0]
    connection.close()
    desk.hold(size, scheme=scheme)
    found = {}
    for path in (
        "/rule-sets",
        "/rule-sets/add",
        f"/rule-sets/{rule_set.pk}",
        f"/rule-sets/{rule_set.pk}/edit",
        f"/rule-sets/{rule_set.pk}/copy",
        f"/rule-sets/{rule_set.pk}/apply?took=all",
        f"/rule-sets/{rule_set.pk}/rules/add",
        f"/set-rules/{row.pk}/edit",
        f"/set-rules/{row.pk}/withdraw",
        "/molds/M-2042/rules",
        f"/molds/M-2042/rules?set={rule_set.pk}",
        f"/rules/{rule.pk}",
    ):
        desk.go(path)
        faults = broken_rules(desk.page)
        if wider_than_the_screen(desk.page):
            faults.append("wider than the screen")
        if faults:
            found[path] = faults
    desk.go(f"/rule-sets/{rule_set.pk}/apply?took=all")
    desk.tap(desk.button("Look at all 3 shown"))
    faults = broken_rules(desk.page)
    if faults or wider_than_the_screen(desk.page):
        found["look"] = faults
    assert found == {}
    assert desk.wrong == []
