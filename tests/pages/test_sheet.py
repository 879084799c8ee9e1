"""The task sheet as a page: what it shows, what it takes, and that nothing is written twice."""

import io
import re
from collections.abc import Callable
from datetime import datetime
from decimal import Decimal
from uuid import uuid4

import pytest
import time_machine
from django.contrib.auth.hashers import make_password
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client
from PIL import Image

from moldcare.acts.doing import Doing
from moldcare.acts.orders import hand_out, hold_up, strike_out, write_order
from moldcare.care.models import CareRule, Completion, Cover
from moldcare.files.models import File
from moldcare.logbook.models import Entry
from moldcare.plant.models import Person, Qualification
from moldcare.work.models import Order, OrderTask, StepValue
from moldcare.work.queries import sheet_of
from tests import factories
from tests.pages.test_markup import faults_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


@pytest.fixture
def rule(technician: Person) -> CareRule:
    """Vents in six steps of every kind."""
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
    return rule


@pytest.fixture
def order(doing: Doing, rule: CareRule) -> Order:
    written = write_order(doing, mold=rule.mold, rules=[rule])
    order = Order.objects.get(pk=written.pk)
    hand_out(doing, order=order)
    return order


@pytest.fixture
def client(technician: Person, client_of: Callable[[str], Client]) -> Client:
    return client_of("technician")


def picture() -> SimpleUploadedFile:
    """A photo as a tablet would hand it in."""
    content = io.BytesIO()
    Image.new("RGB", (60, 40), "gray").save(content, "JPEG")
    return SimpleUploadedFile("vents.jpg", content.getvalue(), content_type="image/jpeg")


def send(client: Client, order: Order, *, part: bool = False, **fields: object) -> HttpResponse:
    """Send a form of the sheet."""
    headers = {"HX-Request": "true"} if part else {}
    data = {"hand_in": str(uuid4()), **fields}
    return client.post(f"/orders/{order.number}/sheet", data, headers=headers)  # type: ignore[return-value, arg-type]


def task_of(order: Order) -> OrderTask:
    return order.tasks.get(covered_by=None)


def look(client: Client, order: Order, **fields: object) -> HttpResponse:
    return send(client, order, do="look", photo=picture(), **{"grade": "heavy", **fields})


def step(client: Client, order: Order, place: int, **fields: object) -> HttpResponse:
    return send(client, order, do="step", step=f"{task_of(order).pk}-{place}", **fields)


def do_all(client: Client, order: Order) -> None:
    """Work through the whole sheet up to the signature."""
    look(client, order)
    step(client, order, 1)
    step(client, order, 2, value="0,015")
    step(client, order, 3, value="sharp")
    step(client, order, 4, photo=picture())
    step(client, order, 5, value="cavity 3")
    step(client, order, 6)


def shown(client: Client, order: Order) -> str:
    answer = client.get(f"/orders/{order.number}/sheet")
    assert answer.status_code == 200
    html = answer.content.decode()
    assert faults_of(html) == []
    return html


def states(html: str) -> dict[str, str]:
    """Where each step of the sheet stands, the signature among them."""
    return dict(re.findall(r'data-step="([^"]+)"[^>]* data-state="([^"]+)"', html))


def test_the_look_comes_first_with_the_familys_own_words(client: Client, order: Order) -> None:
    html = shown(client, order)
    assert states(html)["look"] == "now"
    assert "vents closed, burns on the part" in html
    # all steps are there, so that the work goes on where no server answers
    assert list(states(html).values())[1:] == ["next", *["later"] * 6]
    # the usual cautions of the family, and whose rules come first
    assert "Lock-out and stored energy." in html
    assert "Hot surfaces and melt." in html
    assert "come before this page" in html


def test_one_tap_on_a_grade_writes_the_look_down(client: Client, order: Order) -> None:
    answer = look(client, order)
    assert (answer.status_code, answer.headers["Location"]) == (
        302,
        f"/orders/{order.number}/sheet#now",
    )
    assert task_of(order).grade == "heavy"
    value = StepValue.objects.get()
    assert value.photo == File.objects.get()
    html = shown(client, order)
    assert "Wash the vents" in html
    assert f"/files/{value.photo.sha256}" in html if value.photo else False


def test_without_a_photo_the_look_wants_a_reason(client: Client, order: Order) -> None:
    refused = send(client, order, do="look", grade="light")
    assert refused.status_code == 422
    assert "Take the photo, or say why there is none." in refused.content.decode()
    assert not StepValue.objects.exists()
    send(client, order, do="look", grade="light", without_photo="battery empty")
    assert StepValue.objects.get().value == "battery empty"


def test_a_look_without_a_grade_keeps_its_photo(client: Client, order: Order) -> None:
    refused = look(client, order, grade="")
    assert refused.status_code == 422
    kept = File.objects.get().sha256
    assert f'name="photo-kept" value="{kept}"' in refused.content.decode()
    again = {"do": "look", "grade": "clean", "photo-kept": kept}
    assert send(client, order, **again).status_code == 302
    assert StepValue.objects.get().photo == File.objects.get()


def test_other_rules_are_filled_in_from_the_first(
    client: Client, doing: Doing, rule: CareRule
) -> None:
    second = factories.care_rule(mold=rule.mold, name="Grease the slides")
    third = factories.care_rule(mold=rule.mold, name="Wipe the faces")
    Cover.objects.create(covering=rule, covered=third)
    written = write_order(doing, mold=rule.mold, rules=[rule, second])
    order = Order.objects.get(pk=written.pk)
    hand_out(doing, order=order)
    lines = {line.rule_id: line for line in order.tasks.all()}
    fields = {f"grade-{lines[second.pk].pk}": "failed", f"forward-{lines[second.pk].pk}": "on"}
    look(client, order, grade="light", **fields)
    found = {line.rule_id: line for line in order.tasks.all()}
    assert [found[each.pk].grade for each in (rule, second, third)] == ["light", "failed", "light"]
    assert [found[each.pk].is_brought_forward for each in (rule, second)] == [False, True]


def test_a_value_outside_its_limits_is_run_again_or_explained(client: Client, order: Order) -> None:
    look(client, order)
    step(client, order, 1)
    assert "0.012 to 0.02 mm" in shown(client, order)
    step(client, order, 2, value="0.031")
    html = shown(client, order)
    assert "Run it again, or say why it stays." in html
    assert step(client, order, 2, value="", reason="").status_code == 422
    assert StepValue.objects.filter(step=2).count() == 1
    step(client, order, 2, value="", reason="the vent was opened on purpose")
    newest = StepValue.objects.filter(step=2).last()
    assert newest is not None
    assert (newest.number, newest.reason) == (
        Decimal("0.031"),
        "the vent was opened on purpose",
    )
    assert "Vent land" in shown(client, order)


def test_a_number_that_is_none_is_said_beside_its_field(client: Client, order: Order) -> None:
    look(client, order)
    step(client, order, 1)
    refused = step(client, order, 2, value="a lot")
    assert refused.status_code == 422
    html = refused.content.decode()
    assert 'value="a lot"' in html
    assert "a lot is no number" in html


def test_a_double_tap_writes_once(client: Client, order: Order) -> None:
    look(client, order)
    fields = {"hand_in": str(uuid4()), "do": "step", "step": f"{task_of(order).pk}-1"}
    for _ in range(2):
        assert send(client, order, **fields).status_code == 302
    assert StepValue.objects.filter(step=1).count() == 1


def test_a_double_tap_on_the_look_writes_once(client: Client, order: Order) -> None:
    hand_in = str(uuid4())
    for _ in range(2):
        assert look(client, order, hand_in=hand_in).status_code == 302
    assert StepValue.objects.count() == 1
    assert File.objects.count() == 1


def test_a_part_is_answered_with_the_part_and_what_to_announce(
    client: Client, order: Order
) -> None:
    look(client, order)
    fields = {"do": "step", "step": f"{task_of(order).pk}-1"}
    html = send(client, order, part=True, **fields).content.decode()
    assert html.startswith('<div id="sheet"')
    assert 'hx-swap-oob="innerHTML"' in html
    assert "Written down: Wash the vents" in html
    assert "Depth at cavity 1" in html


def test_a_whole_sheet_is_signed_and_shows_its_entry(client: Client, order: Order) -> None:
    do_all(client, order)
    html = shown(client, order)
    assert "Sign: done" in html
    answer = send(client, order, do="sign", minutes="45")
    assert answer.headers["Location"] == f"/orders/{order.number}"
    entry = Entry.objects.get(kind="order")
    assert entry.meaning == "done"
    assert Completion.objects.get().grade == "heavy"
    html = shown(client, order)
    assert entry.sentence.split(":")[0] in html
    assert "Sign: done" not in html
    assert 'name="do"' not in html


def test_signing_twice_writes_one_entry(client: Client, order: Order) -> None:
    do_all(client, order)
    hand_in = str(uuid4())
    for _ in range(2):
        assert send(client, order, do="sign", minutes="45", hand_in=hand_in).status_code == 302
    assert Entry.objects.filter(kind="order").count() == 1


def test_another_person_signs_by_badge_and_pin(client: Client, order: Order) -> None:
    other = factories.person(name="Mara Lindgren", pin="2468")
    do_all(client, order)
    half = send(client, order, do="sign", minutes="45", badge=other.badge)
    assert half.status_code == 422
    wrong = send(client, order, do="sign", minutes="45", badge=other.badge, pin="1111")
    assert wrong.status_code == 422
    assert "1111" not in wrong.content.decode()
    nobody = send(client, order, do="sign", minutes="45", badge="no such", pin="2468")
    assert nobody.status_code == 422
    assert not Entry.objects.filter(kind="order").exists()
    send(client, order, do="sign", minutes="45", badge=other.badge, pin="2468")
    assert Entry.objects.get(kind="order").author == other


def test_whoever_is_signed_in_repeats_the_pin(order: Order) -> None:
    person = factories.person(name="Mara Lindgren", pin="2468")
    client = Client()
    client.force_login(person)
    do_all(client, order)
    assert 'id="sign_pin"' in shown(client, order)
    without = send(client, order, do="sign", minutes="45")
    assert without.status_code == 422
    assert "Type your PIN: with it you sign." in without.content.decode()
    assert 'value="45"' in without.content.decode()
    wrong = send(client, order, do="sign", minutes="an hour", pin="2468").content.decode()
    assert "“an hour” cannot be read as a whole number of minutes." in wrong
    assert send(client, order, do="sign", minutes="45", pin="1111").status_code == 422
    assert not Entry.objects.filter(kind="order").exists()
    assert send(client, order, do="sign", minutes="45", pin="2468").status_code == 302
    assert Entry.objects.get(kind="order").author == person


def test_whoever_has_no_pin_repeats_the_password(order: Order) -> None:
    person = factories.person(
        name="Mara Lindgren", username="mara", password=make_password("steel and water")
    )
    client = Client()
    client.force_login(person)
    do_all(client, order)
    without = send(client, order, do="sign", minutes="45")
    assert "Type your password: with it you sign." in without.content.decode()
    assert send(client, order, do="sign", minutes="45", pin="steel").status_code == 422
    assert not Entry.objects.filter(kind="order").exists()
    assert send(client, order, do="sign", minutes="45", pin="steel and water").status_code == 302
    assert Entry.objects.get(kind="order").author == person


def test_without_the_qualification_a_lead_says_why(
    client: Client, order: Order, rule: CareRule, lead: Person
) -> None:
    rule.qualification = "vents on hot runners"
    rule.save()
    factories.person(role="lead", badge="77", pin="1357", name="Rosa Feldmann")
    do_all(client, order)
    assert "You have no valid qualification" in shown(client, order)
    refused = send(client, order, do="sign", minutes="45")
    assert refused.status_code == 422
    assert "vents on hot runners" in refused.content.decode()
    send(
        client,
        order,
        do="sign",
        minutes="45",
        override_reason="trained beside me",
        override_badge="77",
        override_pin="1357",
    )
    assert "trained beside me" in Entry.objects.get(kind="order").facts
    assert not Qualification.objects.exists()


def test_a_task_is_left_with_a_reason_and_taken_up_again(client: Client, order: Order) -> None:
    look(client, order)
    task = task_of(order)
    refused = send(client, order, do="leave", task=task.pk, reason="")
    assert refused.status_code == 422
    send(client, order, do="leave", task=task.pk, reason="no brush left")
    assert "no brush left" in shown(client, order)
    assert "Sign: done" in shown(client, order)
    send(client, order, do="take_up", task=task.pk)
    assert "Wash the vents" in shown(client, order)
    send(client, order, do="not_needed", task=task.pk, reason="")
    assert task_of(order).outcome == "not_needed"


def test_a_step_is_opened_again_and_its_value_stays(client: Client, order: Order) -> None:
    look(client, order)
    step(client, order, 1)
    send(client, order, do="again", step=f"{task_of(order).pk}-1")
    assert [row.is_undone for row in StepValue.objects.filter(step=1)] == [False, True]
    assert not sheet_of(order).tasks[0].steps[0].is_done


def test_found_otherwise_is_said_later(client: Client, order: Order) -> None:
    look(client, order)
    send(client, order, do="found", grade="failed")
    assert task_of(order).grade == "failed"


def test_a_task_that_came_later_is_graded_before_the_signature(
    client: Client, doing: Doing, order: Order, rule: CareRule
) -> None:
    do_all(client, order)
    second = factories.care_rule(mold=rule.mold, name="Grease the slides")
    write_order(doing, mold=rule.mold, rules=[second])
    line = order.tasks.get(rule=second)
    send(client, order, do="step", step=f"{line.pk}-1")
    html = shown(client, order)
    assert "How was it found?" in html
    assert (states(html)["found"], states(html)["sign"]) == ("now", "later")
    send(client, order, do="found", grade="clean")
    assert states(shown(client, order))["sign"] == "now"
    assert [task.grade for task in order.tasks.order_by("place")] == ["heavy", "clean"]


@pytest.mark.parametrize("do", ["step", "again", "leave", "", "nonsense"])
def test_what_is_not_on_the_sheet_is_refused_with_a_sentence(
    client: Client, order: Order, do: str
) -> None:
    refused = send(client, order, do=do, step="999999-1", task="999999")
    assert refused.status_code == 422
    assert faults_of(refused.content.decode()) == []
    assert not StepValue.objects.exists()


def test_an_order_that_is_being_written_waits_for_a_lead(
    client: Client, client_of: Callable[[str], Client], doing: Doing, rule: CareRule
) -> None:
    order = Order.objects.get(pk=write_order(doing, mold=rule.mold, rules=[rule]).pk)
    assert "Still being written." in shown(client, order)
    assert look(client, order).status_code == 422
    assert look(client_of("lead"), order).status_code == 302
    order.refresh_from_db()
    assert order.begun_at is not None


def test_held_up_and_struck_out_are_said(client: Client, doing: Doing, order: Order) -> None:
    hold_up(doing, order=order, by="a gasket that is on its way")
    assert "a gasket that is on its way" in shown(client, order)
    strike_out(doing, order=order, reason="the mold is sold")
    html = shown(client, order)
    assert "the mold is sold" in html
    assert 'name="do"' not in html
    assert look(client, order).status_code == 422


def test_a_reader_looks_and_writes_nothing(
    client_of: Callable[[str], Client], order: Order
) -> None:
    reader = client_of("reader")
    assert 'name="do"' not in shown(reader, order)
    assert look(reader, order).status_code == 403


def test_minutes_since_the_sheet_was_begun_are_proposed(
    client: Client, order: Order, clock: time_machine.Traveller, now: datetime
) -> None:
    look(client, order)
    clock.move_to(now.replace(hour=now.hour + 1, minute=0))
    send(client, order, do="leave", task=task_of(order).pk, reason="no brush left")
    assert 'name="minutes" id="sign_minutes" value="48"' in shown(client, order)
    # a shift later nobody knows how long it took
    clock.move_to(now.replace(hour=now.hour + 9))
    assert 'name="minutes" id="sign_minutes" value=""' in shown(client, order)


def test_there_is_no_sheet_of_an_order_that_is_not_there(client: Client, rule: CareRule) -> None:
    for number in (999_999, 10**30):
        assert client.get(f"/orders/{number}/sheet").status_code == 404


def test_a_copy_for_a_tablet_holds_all_steps_and_names_nobody(
    client: Client, order: Order, technician: Person
) -> None:
    look(client, order)
    copy = client.get(f"/orders/{order.number}/sheet", headers={"X-Pack": "1"}).content.decode()
    assert technician.name not in copy
    assert list(states(copy).values()) == ["done", "now", "next", *["later"] * 5]
    # the tablet gives each form a number of its own, and its author's name is filled in there
    assert set(re.findall(r'name="hand_in" value="([^"]*)"', copy)) == {""}
    assert "data-author" in copy
    assert 'name="pin"' in copy
