"""What is filled in on a tablet is handed in once, whatever network, browser and people do."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
from django.db import connection
from playwright.sync_api import BrowserContext, expect

from moldcare.acts.doing import Doing
from moldcare.acts.orders import strike_out, write_order
from moldcare.handin.models import HandIn, StuckEntry, Tablet
from moldcare.plant.models import Person
from moldcare.work.models import Order, StepValue
from tests import factories
from tests.browser.outbox.faulty_proxy import FaultyProxy, Net
from tests.browser.outbox.waiting import (
    OutboxTablet,
    bar_says,
    outbox_tablet,
    position,
    sign_in,
    small_picture,
    wait_until,
    words,
    written,
)
from tests.browser.tablet import broken_rules

pytestmark = pytest.mark.slow


def test_it_waits_while_the_net_fails_and_goes_in_once(
    bench: OutboxTablet, net: FaultyProxy, order: Order
) -> None:
    """Refused, reset, swallowed, a stranger's page for an answer, a reply that is cut."""
    faults = [Net.REFUSED, Net.RESET, Net.HOLE, Net.FOREIGN, Net.CUT]
    for number, fault in enumerate(faults):
        net.net = fault
        assert words(bench, order, f"cavity {number}")
        bar_says(bench, "Not yet sent: 1.")
        if fault is Net.CUT:
            wait_until(lambda: len(written(order)) == len(faults))
            bench.wait_for(1)
        assert len(written(order)) == number + (fault is Net.CUT)
        # what was swallowed is given up at last; the test does not wait for it
        net.net = Net.RESET
        net.net = Net.GOOD
        bench.send_now()
        bench.wait_for(0)
    assert net.cuts
    assert written(order) == [f"cavity {number}" for number in range(5)]
    expect(bench.page.locator("#outbox")).to_be_hidden()
    assert bench.wrong == []


def test_words_and_sending_follow_what_was_tried_and_not_the_browsers_flag(
    bench: OutboxTablet, net: FaultyProxy, order: Order
) -> None:
    bench.page.evaluate(
        "Object.defineProperty(navigator, 'onLine', {value: false, configurable: true})"
    )
    assert words(bench, order, "flag says off line")
    bench.wait_for(0)
    assert written(order) == ["flag says off line"]
    bench.page.clock.install()
    bench.page.reload()
    bench.ready()
    bench.page.evaluate("Object.defineProperty(navigator, 'onLine', {value: true})")
    net.net = Net.HOLE
    assert words(bench, order, "flag says on line")
    bar_says(bench, "Not yet sent: 1.")
    # the contact is given up after its time limit, by the page's own clock
    bench.page.clock.run_for(9_000)
    net.net = Net.GOOD
    bench.page.clock.run_for(16_000)
    bench.wait_for(0)
    assert written(order) == ["flag says off line", "flag says on line"]


def test_a_slow_net_takes_its_time_and_writes_once(
    bench: OutboxTablet, net: FaultyProxy, order: Order
) -> None:
    """An answer that comes after the time limit is no answer, and what it wrote is written once."""
    bench.page.clock.install()
    assert words(bench, order, "first")
    bench.wait_for(0)
    net.lag_s, net.net = 0.4, Net.SLOW
    assert words(bench, order, "slow")
    bench.wait_for(1)
    bench.until("async () => (await store.entries())[0].offset !== undefined")
    bench.page.clock.run_for(41_000)
    net.net = Net.GOOD
    bench.page.clock.run_for(16_000)
    bench.send_now()
    bench.wait_for(0)
    assert written(order) == ["first", "slow"]


def test_it_goes_in_as_its_authors_when_somebody_else_is_signed_in(
    bench: OutboxTablet, net: FaultyProxy, order: Order, tomas: Person, lead: Person
) -> None:
    net.net = Net.REFUSED
    assert words(bench, order, "by Tomas")
    assert words(bench, order, "by Tomas, too")
    bench.context.clear_cookies(name="sessionid")
    net.net = Net.GOOD
    sign_in(bench.context, bench.home, lead)
    bench.page.reload()
    bench.wait_for(0)
    assert words(bench, order, "by the lead")
    bench.wait_for(0)
    found = StepValue.objects.filter(kind="position").order_by("id")
    assert list(found.values_list("value", "person__name")) == [
        ("by Tomas", "Tomas Breuer"),
        ("by Tomas, too", "Tomas Breuer"),
        ("by the lead", lead.name),
    ]
    assert set(HandIn.objects.filter(act="record_steps").values_list("device")) == {("one",)}
    connection.close()


def test_one_entry_that_is_never_taken_holds_up_its_own_subject_only(
    bench: OutboxTablet, net: FaultyProxy, order: Order, doing: Doing
) -> None:
    net.net = Net.REFUSED
    for number in range(1, 6):
        subject = f"order-{number}"
        assert words(bench, order, f"entry {number}", subject=subject)
    ids = [each["handIn"] for each in bench.entries()]
    rule = factories.care_rule(mold=factories.mold())
    gone = write_order(doing, mold=rule.mold, rules=[rule])
    strike_out(doing, order=Order.objects.get(pk=gone.pk), reason="not needed any more")
    connection.close()
    bench.page.evaluate(
        "async (number) => { const [one] = await store.entries(); "
        "await store.put({...one, action: `/orders/${number}/sheet`}); }",
        Order.objects.get(pk=gone.pk).number,
    )
    net.busy[ids[2]] = 2
    net.net = Net.GOOD
    bench.send_now()
    bench.wait_for(2)
    assert written(order) == ["entry 2", "entry 4", "entry 5"]
    first, third = bench.entries()
    assert first["state"] == "refused"
    assert first["answer"]
    assert (third["tries"], third["state"]) == (1, "waits")
    assert third["nextAt"] > bench.page.evaluate("Date.now()")
    bar_says(bench, "Not yet sent: 2. Needs you: 1.")
    bench.send_now()
    bench.until("async () => (await store.entries())[1]?.tries === 2")
    bench.send_now()
    bench.wait_for(1)
    assert written(order)[-1] == "entry 3"
    # and what can be done with the one that is left
    bench.page.get_by_role("button", name="Hand it to a lead").click()
    bench.wait_for(0)
    stuck = StuckEntry.objects.get()
    assert (str(stuck.pk), stuck.author_said) == (ids[0], "Tomas Breuer")
    assert ["value", "entry 1"] in stuck.fields
    connection.close()


def test_what_is_discarded_is_asked_for_twice_and_kept_with_its_reason(
    bench: OutboxTablet, net: FaultyProxy, order: Order
) -> None:
    fields = {"do": "step", "step": "0-7", "value": "nowhere", "said": "Order: nowhere"}
    assert bench.fill(fields, action=f"/orders/{order.number}/sheet")
    bench.wait_for(1, state="refused")
    assert broken_rules(bench.page) == []
    bench.page.get_by_role("button", name="Discard", exact=True).click()
    bench.page.emulate_media(color_scheme="dark")
    assert broken_rules(bench.page) == []
    bench.page.get_by_label("Why it is not needed").fill("typed on the wrong sheet")
    bench.page.get_by_role("button", name="Discard it").click()
    assert len(bench.entries()) == 1
    bench.page.get_by_role("button", name="Yes, discard it for good").click()
    bench.wait_for(0)
    expect(bench.page.get_by_text("Nothing waits here.").first).to_be_visible()
    assert StuckEntry.objects.get().settled.note == "typed on the wrong sheet"
    connection.close()


def test_a_handle_that_died_and_a_page_that_is_in_the_way(
    bench: OutboxTablet, net: FaultyProxy, order: Order
) -> None:
    bench.page.add_init_script(
        "const open = IDBFactory.prototype.open; window.handles = [];"
        "IDBFactory.prototype.open = function (...given) { const asked = open.apply(this, given);"
        "asked.addEventListener('success', () => handles.push(asked.result)); return asked; }"
    )
    bench.page.reload()
    bench.ready()
    bench.page.evaluate("for (const each of handles) each.close()")
    assert words(bench, order, "after the sleep")
    bench.wait_for(0)
    assert written(order) == ["after the sleep"]
    # a newer version in another tab: this one lets go at once
    other = bench.context.new_page()
    other.goto(f"{bench.home}/static/css/base.css")
    raised = (
        "new Promise((give) => { const asked = indexedDB.open('moldcare', 2);"
        "asked.onsuccess = () => { asked.result.close(); give('raised'); };"
        "asked.onblocked = () => give('blocked'); asked.onerror = () => give('error'); })"
    )
    assert other.evaluate(raised) == "raised"
    other.evaluate(
        "new Promise((give) => { const asked = indexedDB.deleteDatabase('moldcare');"
        "asked.onsuccess = give; })"
    )
    # a page that does not let go: said within two seconds, and nothing is lost from the form
    other.evaluate(
        "new Promise((give) => { const asked = indexedDB.open('moldcare', 1);"
        "asked.onsuccess = () => { window.held = asked.result; give(); }; })"
    )
    other.evaluate("void indexedDB.open('moldcare', 3)")
    net.net = Net.REFUSED
    assert not words(bench, order, "in the way")
    expect(bench.page.locator("#messages")).to_contain_text("Close the other pages")


def test_a_second_tap_is_no_second_entry(
    bench: OutboxTablet, net: FaultyProxy, order: Order
) -> None:
    net.lag_s, net.net = 0.5, Net.SLOW
    fields = {"hand_in": "", "do": "step", "step": position(order), "value": "twice"}
    assert bench.fill(fields, action=f"/orders/{order.number}/sheet", taps=2)
    bench.wait_for(1)
    bench.page.reload()
    net.net = Net.GOOD
    bench.wait_for(0)
    assert written(order) == ["twice"]


def test_a_form_that_is_sent_again_with_other_content_is_another_entry(
    bench: OutboxTablet, net: FaultyProxy, order: Order
) -> None:
    net.net = Net.REFUSED
    fields = {"hand_in": str(uuid4()), "do": "step", "step": position(order), "value": "first"}
    for value in ("first", "first", "second"):
        assert bench.fill({**fields, "value": value}, action=f"/orders/{order.number}/sheet")
    net.net = Net.GOOD
    bench.send_now()
    bench.wait_for(0)
    assert written(order) == ["first", "second"]


def test_a_full_store_is_said_before_the_sheet_is_left(
    bench: OutboxTablet, net: FaultyProxy, order: Order
) -> None:
    net.net = Net.REFUSED
    assert words(bench, order, "fits")
    # as a browser does whose disk is full; Chromium heeds no quota that is set from outside
    bench.page.evaluate(
        "window.add = IDBObjectStore.prototype.add; IDBObjectStore.prototype.add = () => "
        "{ throw new DOMException('full', 'QuotaExceededError'); }; 0"
    )
    assert not words(bench, order, "does not fit", photo=small_picture())
    expect(bench.page.locator("#messages")).to_contain_text("cannot store anything more")
    bench.page.evaluate("IDBObjectStore.prototype.add = window.add; 0")
    net.net = Net.GOOD
    bench.send_now()
    bench.wait_for(0)
    assert written(order) == ["fits"]


def test_entries_that_the_browser_threw_away_are_missed(
    bench: OutboxTablet, net: FaultyProxy, order: Order, lead: Person
) -> None:
    net.net = Net.REFUSED
    for number in range(3):
        assert words(bench, order, f"lost {number}")
    bench.page.goto("about:blank")
    net.net = Net.GOOD
    bench.page.goto(f"{bench.home}/static/css/base.css")
    bench.page.evaluate(
        "new Promise((give) => { const asked = indexedDB.deleteDatabase('moldcare');"
        "asked.onsuccess = give; asked.onblocked = give; })"
    )
    bench.go("/tablet")
    bar_says(bench, "Gone from this tablet: 3.")
    bench.until("async () => Boolean(await store.about('isLostSaid'))")
    assert Tablet.objects.get(device="one").lost == 3
    connection.close()
    sign_in(bench.context, bench.home, lead, device="one")
    bench.go("/")
    expect(bench.page.get_by_text("threw 3 entries away")).to_be_visible()


def test_a_tablet_five_hours_ahead(
    context: BrowserContext, net: FaultyProxy, order: Order, tomas: Person
) -> None:
    true_now = datetime.now(UTC)
    bench = outbox_tablet(context, net.url, person=tomas)
    bench.page.clock.install(time=true_now + timedelta(hours=5))
    bench.go("/tablet")
    bench.ready()
    expect(bench.page.get_by_text("This tablet's clock is 300 min ahead.")).to_be_visible()
    net.net = Net.REFUSED
    assert words(bench, order, "ahead", subject="one")
    net.net = Net.GOOD
    bench.send_now()
    bench.wait_for(0)
    value = StepValue.objects.get(value="ahead")
    assert abs(value.at - true_now) < timedelta(minutes=2)
    raw = HandIn.objects.get(act="record_steps")
    assert raw.worked_at is not None
    assert raw.worked_at - value.at > timedelta(hours=4, minutes=59)
    connection.close()
    # filled in with the clock ahead, handed in after it was put right: only a person knows
    net.net = Net.REFUSED
    assert words(bench, order, "changed", subject="two")
    bench.page.goto("about:blank")
    bench.page.close()
    net.net = Net.GOOD
    bench.again()
    bench.page.clock.install(time=datetime.now(UTC))
    bench.go("/tablet")
    bench.wait_for(1, why="clock")
    assert not StepValue.objects.filter(value="changed").exists()
    bench.page.locator("[data-part='times'] button").first.click()
    bench.wait_for(0)
    assert abs(StepValue.objects.get(value="changed").at - true_now) < timedelta(minutes=5)
    connection.close()


def test_two_tabs_and_a_reload_hand_in_once(
    bench: OutboxTablet, net: FaultyProxy, order: Order
) -> None:
    other = OutboxTablet(context=bench.context, home=bench.home, page=bench.context.new_page())
    other.go("/tablet")
    other.ready()
    net.net = Net.REFUSED
    expected = []
    for number in range(6):
        for name, tab in (("one", bench), ("two", other)):
            assert words(tab, order, f"{name} {number}")
            expected.append(f"{name} {number}")
    net.net = Net.GOOD
    bench.send_now()
    other.send_now()
    other.page.reload()
    bench.wait_for(0)
    assert written(order) == expected


def test_two_tablets_with_one_order_never_write_over_each_other_unseen(
    bench: OutboxTablet,
    net: FaultyProxy,
    order: Order,
    lead: Person,
    new_context: Callable[..., BrowserContext],
) -> None:
    second = outbox_tablet(new_context(), net.url, person=lead, device="two")
    second.go("/tablet")
    second.ready()
    # both have a copy of the sheet from before: nobody had written the step
    for tablet, name in ((bench, "first"), (second, "second")):
        net.net = Net.REFUSED
        fields = {"do": "step", "step": position(order), "seen": "0", "value": f"by the {name}"}
        assert tablet.fill(fields, action=f"/orders/{order.number}/sheet")
        net.net = Net.GOOD
        tablet.send_now()
        if tablet is bench:
            tablet.wait_for(0)
    second.wait_for(1, state="refused")
    assert written(order) == ["by the first"]
    assert "Tomas Breuer" in second.entries()[0]["answer"]
    bar_says(second, "Needs you: 1.")


def test_a_hundred_entries_with_photos_survive_a_reload_and_go_in_by_their_order(
    bench: OutboxTablet, net: FaultyProxy, order: Order
) -> None:
    bench.packed("/tablet")
    net.net = Net.REFUSED
    photo = f"{order.tasks.get().pk}-2"
    for number in range(100):
        fields = {"do": "step", "step": photo, "said": f"Photo {number}"}
        picture = small_picture(number)
        assert bench.fill(fields, action=f"/orders/{order.number}/sheet", photo=picture)
    # from the pack: there is no net
    bench.page.reload()
    bar_says(bench, "Not yet sent: 100.")
    net.net = Net.GOOD
    bench.send_now()
    bench.until("async () => (await store.entries()).length === 0", tries=6000)
    found = list(
        StepValue.objects.filter(kind="photo")
        .order_by("id")
        .values_list("photo__sha256", flat=True)
    )
    assert len(found) == len(set(found)) == 100
    connection.close()
