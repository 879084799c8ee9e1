"""What waited on a tablet is taken in as its author's, once, and every answer says what to do."""

import json
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.core import signing
from django.test import Client
from django.utils import timezone

from moldcare.acts.doing import Doing
from moldcare.acts.orders import hand_out, strike_out, write_order
from moldcare.handin.models import HandIn, StuckEntry, Tablet
from moldcare.handin.passes import give_pass
from moldcare.pages.device import COOKIE
from moldcare.plant.models import Person
from moldcare.work.models import Order, StepValue
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def order(doing: Doing) -> Order:
    factories.plant()
    factories.three_shifts()
    rule = factories.care_rule(mold=factories.mold(number="M-2041"))
    factories.step(rule, place=1, text="Worst position", kind="position")
    order = Order.objects.get(pk=write_order(doing, mold=rule.mold, rules=[rule]).pk)
    hand_out(doing, order=order)
    return order


@pytest.fixture
def tablet() -> Client:
    """A tablet on which nobody is signed in; it has its name."""
    client = Client()
    client.cookies[COOKIE] = signed_name("one")
    return client


def signed_name(device: str) -> str:
    return signing.get_cookie_signer(salt=COOKIE).sign(device)


def hand_in(
    tablet: Client,
    order: Order,
    person: Person | None,
    *,
    value: str = "cavity 3",
    named: str = "",
    worked_at: datetime | None = None,
    offset: timedelta = timedelta(),
    then: timedelta | None = None,
    device: str = "one",
    **more: str,
) -> dict[str, Any]:
    """Hand in a step as the outbox does; return its answer."""
    name = named or str(uuid4())
    now = timezone.now()
    sent = {"hand_in": name, "do": "step", "step": f"{order.tasks.get().pk}-1", "value": value}
    headers = {
        "X-Outbox": name,
        "X-Outbox-Pass": give_pass(person, device=device) if person else "",
        "X-Outbox-Worked-At": (worked_at or now - offset).isoformat(),
        "X-Outbox-Sent-At": (now - offset).isoformat(),
        "X-Outbox-Offset": str(int(offset.total_seconds() * 1000)),
    }
    if then is not None:
        headers["X-Outbox-Offset-Then"] = str(int(then.total_seconds() * 1000))
    address = f"/orders/{order.number}/sheet"
    answer = tablet.post(address, {**sent, **more}, headers=headers)
    assert answer.status_code == 200
    found: dict[str, Any] = answer.json()
    assert found["hand_in"] == name
    return found


def test_it_is_written_as_its_authors_whoever_is_signed_in(
    tablet: Client, order: Order, technician: Person, lead: Person
) -> None:
    tablet.force_login(lead)
    assert hand_in(tablet, order, technician)["state"] == "taken"
    assert StepValue.objects.get().person == technician
    # and the lead is told nothing of it on the next page
    assert "Written down" not in tablet.get("/tablet").content.decode()


def test_the_same_again_gets_the_same_answer_also_when_it_could_not_be_written_any_more(
    tablet: Client, order: Order, technician: Person, doing: Doing
) -> None:
    name = str(uuid4())
    assert hand_in(tablet, order, technician, named=name)["state"] == "taken"
    assert hand_in(tablet, order, technician, named=name)["state"] == "taken"
    strike_out(doing, order=order, reason="not needed")
    assert hand_in(tablet, order, technician, named=name)["state"] == "taken"
    assert hand_in(tablet, order, technician, named=name, value="other")["state"] == "refused"
    technician.is_active = False
    technician.save()
    assert hand_in(tablet, order, technician, named=name)["state"] == "taken"
    assert StepValue.objects.count() == 1


def test_conflicts_come_back_as_sentences(
    tablet: Client, order: Order, technician: Person, lead: Person, doing: Doing
) -> None:
    assert hand_in(tablet, order, lead, value="by the lead", seen="0")["state"] == "taken"
    found = hand_in(tablet, order, technician, value="mine", seen="0")
    assert found["state"] == "refused"
    assert lead.name in found["said"]
    strike_out(doing, order=order, reason="not needed")
    found = hand_in(tablet, order, technician)
    assert found["state"] == "refused"
    assert found["said"]
    assert StepValue.objects.count() == 1


def test_rights_that_ended_are_said(tablet: Client, order: Order, technician: Person) -> None:
    technician.role = Person.Role.READER
    technician.save()
    found = hand_in(tablet, order, technician)
    assert (found["state"], found["why"]) == ("refused", "rights")
    assert technician.name in found["said"]
    assert not StepValue.objects.exists()


def test_it_waits_for_its_author_without_a_good_pass(
    tablet: Client, order: Order, technician: Person
) -> None:
    for found in (
        hand_in(tablet, order, None),
        hand_in(tablet, order, technician, device="two"),
    ):
        assert (found["state"], found["why"]) == ("waits", "author")
    assert not StepValue.objects.exists()


def test_the_instant_is_put_right_and_the_raw_one_kept(
    tablet: Client, order: Order, technician: Person
) -> None:
    ahead = timedelta(hours=-5)
    shown = timezone.now() - ahead - timedelta(hours=1)
    found = hand_in(tablet, order, technician, offset=ahead, then=ahead, worked_at=shown)
    assert found["state"] == "taken"
    value, kept = StepValue.objects.get(), HandIn.objects.get()
    assert abs(value.at - (timezone.now() - timedelta(hours=1))) < timedelta(seconds=30)
    assert abs(value.written_at - timezone.now()) < timedelta(seconds=30)
    assert (kept.worked_at, kept.offset_ms, kept.device) == (shown, -18_000_000, "one")


def test_a_clock_that_was_set_in_between_asks_a_person(
    tablet: Client, order: Order, technician: Person
) -> None:
    found = hand_in(tablet, order, technician, then=timedelta(hours=5))
    assert (found["state"], found["why"]) == ("waits", "clock")
    assert found["times"]
    assert not StepValue.objects.exists()


def test_an_offset_that_does_not_hold_is_measured_again(
    tablet: Client, order: Order, technician: Person
) -> None:
    name = str(uuid4())
    headers = {
        "X-Outbox": name,
        "X-Outbox-Pass": give_pass(technician, device="one"),
        "X-Outbox-Worked-At": "2026-11-25T08:00:00Z",
        "X-Outbox-Sent-At": "2020-01-01T00:00:00Z",
        "X-Outbox-Offset": "0",
    }
    answer = tablet.post(f"/orders/{order.number}/sheet", {"hand_in": name}, headers=headers)
    assert (answer.json()["state"], answer.json()["why"]) == ("waits", "measure")


@pytest.mark.parametrize("junk", ["", "nonsense", "1e9", "-", "9" * 40, "2026-13-45", "\x00"])
def test_nonsense_is_answered_and_never_breaks(
    tablet: Client, order: Order, technician: Person, junk: str
) -> None:
    name = str(uuid4())
    names = ("X-Outbox-Pass", "X-Outbox-Worked-At", "X-Outbox-Sent-At", "X-Outbox-Offset")
    for broken in (*names, "X-Outbox"):
        good = dict.fromkeys(names, "0") | {"X-Outbox": name}
        good["X-Outbox-Pass"] = give_pass(technician, device="one")
        answer = tablet.post(
            f"/orders/{order.number}/sheet",
            {"hand_in": name, "pin-seal": junk},
            headers={**good, broken: junk},
        )
        assert answer.status_code == 200
        assert answer.json()["state"] in {"waits", "refused"}
    assert not HandIn.objects.exists()


def contact(client: Client, **sent: Any) -> dict[str, Any]:
    """Let a tablet meet the server."""
    said = {"sent_at": timezone.now().isoformat(), "waiting": 0, **sent}
    answer = client.post(
        "/tablet/contact",
        json.dumps(said),
        content_type="application/json",
        headers={"X-Outbox": "contact"},
    )
    assert answer.status_code == 200
    found: dict[str, Any] = answer.json()
    return found


def test_a_contact_gives_a_pass_to_who_is_signed_in_only(
    tablet: Client, technician: Person
) -> None:
    assert contact(tablet)["person"] is None
    tablet.force_login(technician)
    found = contact(tablet)["person"]
    assert found["name"] == technician.name
    assert found["pass"]
    assert contact(tablet, sign_off=True)["person"] is None
    assert tablet.get("/").status_code == 302


def test_a_contact_wants_its_header_and_bears_nonsense(tablet: Client) -> None:
    assert tablet.post("/tablet/contact", "{}", content_type="text/plain").status_code == 403
    for body in ("", "[]", "{", '{"waiting": "x", "oldest": 7, "sign_ons": [1, {"id": "x"}]}'):
        answer = tablet.post(
            "/tablet/contact",
            body,
            content_type="application/json",
            headers={"X-Outbox": "contact"},
        )
        assert answer.status_code == 200


def test_a_silent_tablet_with_entries_waiting_needs_a_hand(
    tablet: Client, technician: Person, lead: Person
) -> None:
    factories.plant()
    tablet.force_login(technician)
    since = timezone.now() - timedelta(hours=2)
    contact(tablet, waiting=3, oldest=since.isoformat())
    tablet.force_login(lead)
    assert "entries wait on it" not in tablet.get("/").content.decode()
    Tablet.objects.update(last_contact_at=timezone.now() - timedelta(hours=1))
    page = tablet.get("/").content.decode()
    assert f"last used by {technician.name}" in page
    assert "3 entries wait on it" in page
    assert "3 entries wait on it" in tablet.get("/tablets").content.decode()


def test_a_store_that_was_thrown_away_is_missed_by_the_server_alone(
    tablet: Client, lead: Person
) -> None:
    factories.plant()
    tablet.force_login(lead)
    contact(tablet, store="first", waiting=3)
    contact(tablet, store="second", waiting=0)
    contact(tablet, store="second", waiting=0)
    row = Tablet.objects.get()
    assert row.lost == 3
    assert "threw 3 entries away" in tablet.get("/").content.decode()
    answer = tablet.post("/tablets", {"tablet": row.pk, "hand_in": str(uuid4())})
    assert answer.status_code == 302
    assert Tablet.objects.get().lost == 0


def test_a_clock_that_is_off_is_said_to_leads(tablet: Client, lead: Person) -> None:
    factories.plant()
    tablet.force_login(lead)
    contact(tablet, sent_at=(timezone.now() + timedelta(hours=5)).isoformat())
    assert "Its clock is 5 h ahead" in tablet.get("/").content.decode()


def test_a_lead_sees_what_is_stuck_and_says_what_became_of_it(tablet: Client, lead: Person) -> None:
    factories.plant()
    tablet.force_login(lead)
    Tablet.objects.create(device="bench", last_contact_at=datetime(2026, 1, 1, tzinfo=UTC))
    row = StuckEntry.objects.create(
        id=uuid4(),
        person=lead,
        device="bench",
        author_said="Tomas Breuer",
        address="/orders/1001/sheet",
        said="Order 1001: worst position",
        why="The order was struck out.",
        fields=[["value", "cavity 3"]],
        photos=[],
        worked_at=datetime(2026, 11, 25, 8, tzinfo=UTC),
        written_at=datetime(2026, 11, 25, 9, tzinfo=UTC),
    )
    assert "1 entry of a tablet could not be handed in." in tablet.get("/").content.decode()
    page = tablet.get(f"/tablets/stuck/{row.pk}").content.decode()
    assert "cavity 3" in page
    assert "The order was struck out." in page
    address, sent = f"/tablets/stuck/{row.pk}", {"hand_in": str(uuid4())}
    assert tablet.post(address, {**sent, "note": ""}).status_code == 422
    assert tablet.post(address, {**sent, "note": "typed in by hand"}).status_code == 302
    assert "could not be handed in" not in tablet.get("/").content.decode()


def test_a_packed_page_names_nobody_and_carries_no_form_number(
    tablet: Client, order: Order, technician: Person
) -> None:
    technician.name = "Wilhelmina Aumüller"
    technician.save()
    tablet.force_login(technician)
    pack = tablet.get("/tablet/pack").json()
    assert f"/orders/{order.number}/sheet" in pack["pages"]
    for address in pack["pages"]:
        answer = tablet.get(address, headers={"X-Pack": "1"})
        text = answer.content.decode()
        assert answer.status_code == 200, address
        assert answer.headers["X-Pack"] == pack["version"]
        assert "Wilhelmina" not in text, address
        assert "data-person-name" not in text, address
