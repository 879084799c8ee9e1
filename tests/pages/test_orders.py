"""Orders as pages: the list, one order, what is done to it, paper, and further signatures."""

import io
from collections.abc import Callable
from datetime import datetime, timedelta
from uuid import uuid4

import pytest
import time_machine
from django.http import HttpResponse
from django.test import Client
from PIL import Image
from pypdf import PdfReader

from moldcare.acts.doing import Doing
from moldcare.acts.files import add_file
from moldcare.acts.half_done import PartLying, pass_on
from moldcare.acts.orders import hand_out, write_order
from moldcare.acts.refresh import refresh_counts
from moldcare.acts.sheet import not_needed, record_look, record_step
from moldcare.acts.signing import sign_order
from moldcare.care.models import CareRule, Completion, Cover
from moldcare.files.models import File
from moldcare.logbook.models import Entry
from moldcare.plant.models import Person
from moldcare.work.convert import AFTER_STEP
from moldcare.work.models import Order, OrderState, PartOut
from moldcare.work.queries import orders_in_state
from tests import factories
from tests.pages.test_markup import faults_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


@pytest.fixture
def rule(technician: Person, lead: Person) -> CareRule:
    """Vents that are due, on a mold with a count."""
    factories.plant()
    factories.three_shifts()
    mold = factories.mold(number="M-2041")
    rule = factories.care_rule(mold=mold, name="Clean the vents", minutes=40)
    counter = factories.counter(on=mold, author=lead)
    first = factories.ENTERED_AT + timedelta(days=1)
    rows = [(first, 1_000), (first + timedelta(days=200), 24_000)]
    factories.readings(counter, rows=rows, author=lead)
    refresh_counts(counters=[counter.pk], molds=[mold.pk])
    return rule


@pytest.fixture
def order(doing: Doing, rule: CareRule) -> Order:
    written = write_order(doing, mold=rule.mold, rules=[rule])
    return Order.objects.get(pk=written.pk)


@pytest.fixture
def client(lead: Person, client_of: Callable[[str], Client]) -> Client:
    return client_of("lead")


def text_of(content: bytes) -> str:
    """The text of a PDF, with its blanks as they fall."""
    return " ".join(
        " ".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages).split()
    )


def shown(client: Client, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200
    html = answer.content.decode()
    assert faults_of(html) == []
    return html


def post(client: Client, path: str, **fields: object) -> HttpResponse:
    return client.post(path, {"hand_in": str(uuid4()), **fields})  # type: ignore[return-value, arg-type]


def do(client: Client, order: Order, name: str, **fields: object) -> HttpResponse:
    return post(client, f"/orders/{order.number}", do=name, **fields)


def signed(doing: Doing, order: Order, *, is_needed: bool = True) -> Order:
    """The order worked through and signed by whoever is doing."""
    task = order.tasks.get(covered_by=None)
    if is_needed:
        record_look(doing, order=order, grades={task.pk: "light"}, without_photo="no camera")
        record_step(doing, order=order, task=task, step=1)
    else:
        record_look(doing, order=order, grades={}, without_photo="no camera")
        not_needed(doing, task=task, reason="steel is bare")
    sign_order(doing, order=order, signer=doing.person, minutes=30)
    order.refresh_from_db()
    return order


def test_an_order_is_written_from_a_molds_rules_with_their_standing(
    client: Client, rule: CareRule, technician: Person
) -> None:
    html = shown(client, "/molds/M-2041/order")
    assert "Clean the vents" in html
    # 24,000 of 20,000 shots: overdue, and so ticked to begin with
    assert f'name="task" value="{rule.pk}"' in html
    assert "checked" in html.split(f'value="{rule.pk}"')[1].split(">")[0]
    answer = post(
        client,
        "/molds/M-2041/order",
        task=rule.pk,
        shift="2026-11-25T21:00:00+00:00",
        people=technician.pk,
        note="before the audit",
        then="hand_out",
    )
    order = Order.objects.get()
    assert answer.headers["Location"] == f"/orders/{order.number}"
    assert order.state is OrderState.HANDED_OUT
    assert [person.name for person in order.people.all()] == [technician.name]
    html = shown(client, f"/orders/{order.number}")
    assert "Wed 25 Nov 2026, night shift" in html
    assert "before the audit" in html
    # where the rule stood when it was ordered stays on the order
    assert "24,000 of 20,000 shots" in order.tasks.get().why


def test_a_second_tap_later_writes_no_second_order(
    client: Client, rule: CareRule, clock: time_machine.Traveller
) -> None:
    fields = {"task": rule.pk, "hand_in": str(uuid4())}
    first = post(client, "/molds/M-2041/order", **fields)
    # what is said of the rule is other words by then
    clock.shift(timedelta(days=3))
    client.force_login(Person.objects.get(role="lead"))
    again = post(client, "/molds/M-2041/order", **fields)
    assert first.headers["Location"] == again.headers["Location"]
    assert Order.objects.count() == 1


def test_an_order_without_a_task_is_refused_and_keeps_what_was_typed(
    client: Client, rule: CareRule
) -> None:
    refused = post(client, "/molds/M-2041/order", note="before the audit")
    assert refused.status_code == 422
    assert "Tick at least one task" in refused.content.decode()
    assert 'value="before the audit"' in refused.content.decode()
    assert not Order.objects.exists()


def test_a_mold_with_an_open_order_gets_tasks_added_to_it(client: Client, order: Order) -> None:
    more = factories.care_rule(mold=order.mold, name="Grease the slides")
    answer = client.get("/molds/M-2041/order")
    assert answer.headers["Location"] == f"/orders/{order.number}/tasks"
    html = shown(client, f"/orders/{order.number}/tasks")
    assert "Grease the slides" in html
    assert "Clean the vents" not in html
    assert post(client, f"/orders/{order.number}/tasks").status_code == 422
    post(client, f"/orders/{order.number}/tasks", task=more.pk, forward="1")
    assert order.tasks.get(rule=more).is_brought_forward


def test_an_order_goes_its_course(client: Client, order: Order) -> None:
    said = []
    for name, fields, word in (
        ("hand_out", {}, "Handed out."),
        ("hold_up", {"words": "a gasket"}, "Held up by: a gasket."),
        ("go_on", {}, "Handed out."),
        ("strike_out", {"words": "the mold is sold"}, "Struck out: the mold is sold."),
    ):
        assert do(client, order, name, **fields).status_code == 302
        said.append(word in shown(client, f"/orders/{order.number}"))
    assert said == [True] * 4
    assert Entry.objects.get(kind="order_struck_out").author.role == "lead"


@pytest.mark.parametrize("name", ["hold_up", "strike_out"])
def test_a_reason_must_be_given(client: Client, order: Order, name: str) -> None:
    refused = do(client, order, name, words=" ")
    assert refused.status_code == 422
    assert faults_of(refused.content.decode()) == []
    order.refresh_from_db()
    assert order.state is OrderState.WRITTEN


def test_a_technician_hands_nothing_out(order: Order, client_of: Callable[[str], Client]) -> None:
    technician = client_of("technician")
    assert "Hand it out" not in shown(technician, f"/orders/{order.number}")
    do(technician, order, "hand_out")
    order.refresh_from_db()
    assert order.handed_out_at is None


def test_a_covered_line_is_unticked_before_the_work_begins(
    client: Client, doing: Doing, rule: CareRule
) -> None:
    covered = factories.care_rule(mold=rule.mold, name="Wipe the faces")
    Cover.objects.create(covering=rule, covered=covered)
    order = Order.objects.get(pk=write_order(doing, mold=rule.mold, rules=[rule]).pk)
    line = order.tasks.get(rule=covered)
    assert "Covers Wipe the faces" in shown(client, f"/orders/{order.number}")
    do(client, order, "untick", task=line.pk)
    assert "not ticked: stays as it stands" in shown(client, f"/orders/{order.number}")
    do(client, order, "tick", task=line.pk)
    line.refresh_from_db()
    assert line.is_ticked


def test_a_task_is_taken_out_while_the_order_is_written(client: Client, order: Order) -> None:
    do(client, order, "remove", task=order.tasks.get().pk)
    assert not order.tasks.exists()
    assert "No task yet." in shown(client, f"/orders/{order.number}")


def test_the_plan_is_changed(client: Client, order: Order, technician: Person) -> None:
    fields = {"shift": "2026-11-26T05:00:00+00:00", "people": technician.pk, "note": "early"}
    do(client, order, "plan", **fields)
    order.refresh_from_db()
    assert order.planned_at == datetime.fromisoformat("2026-11-26T05:00:00+00:00")
    refused = do(client, order, "plan", shift="2031-01-01T05:00:00+00:00")
    assert refused.status_code == 422


def test_a_second_tap_strikes_out_once(client: Client, order: Order) -> None:
    hand_in = str(uuid4())
    for _ in range(2):
        do(client, order, "strike_out", words="sold", hand_in=hand_in)
    assert Entry.objects.filter(kind="order_struck_out").count() == 1


def test_checked_and_accepted_are_signed_by_others(
    client: Client,
    client_of: Callable[[str], Client],
    technician: Person,
    now: datetime,
    doing: Doing,
    order: Order,
    rule: CareRule,
) -> None:
    rule.asks_checked = rule.asks_accepted = True
    rule.save()
    hand_out(doing, order=order)
    signed(Doing(person=technician, now=now), order)
    assert "To be checked by somebody else" in shown(client, f"/orders/{order.number}")
    assert "1 order." in shown(client, "/orders?state=wanting")
    # who did it does not check it
    refused = do(client_of("technician"), order, "checked")
    assert refused.status_code == 422
    assert "Somebody else must sign this." in refused.content.decode()
    checker = factories.person(name="Mara Lindgren", pin="2468")
    do(client_of("technician"), order, "checked", badge=checker.badge, pin="2468", note="tried")
    do(client, order, "accepted")
    html = shown(client, f"/orders/{order.number}")
    assert "To be checked" not in html
    assert "To be accepted" not in html
    assert [entry.meaning for entry in Entry.objects.order_by("number")] == [
        "done",
        "checked",
        "accepted",
    ]
    assert "No order." in shown(client, "/orders?state=wanting")


def test_not_needed_is_accepted_as_done(client: Client, doing: Doing, order: Order) -> None:
    signed(doing, order, is_needed=False)
    assert not Completion.objects.exists()
    task = order.tasks.get()
    refused = do(client, order, "accept_as_done", task=task.pk, note="")
    assert refused.status_code == 422
    assert "Why it counts as done: This field is required." in refused.content.decode()
    assert faults_of(refused.content.decode()) == []
    assert "Accept it as done" in shown(client, f"/orders/{order.number}")
    do(client, order, "accept_as_done", task=task.pk, note="as good as cleaned")
    assert Completion.objects.get().rule == task.rule
    assert "Accept it as done" not in shown(client, f"/orders/{order.number}")


def test_the_list_narrows_by_state_mold_and_person(
    client: Client, doing: Doing, order: Order, lead: Person, technician: Person
) -> None:
    other = factories.care_rule(mold=factories.mold(number="0417"))
    write_order(doing, mold=other.mold, rules=[other], people=[lead])
    assert "2 orders." in shown(client, "/orders")
    assert "M-2041" not in shown(client, "/orders?mine=1")
    assert "0417" not in shown(client, "/orders?q=2041")
    assert "0417" not in shown(client, f"/orders?q={order.number}")
    assert "2 orders." in shown(client, "/orders?state=being_written")
    assert "No order here" in shown(client, "/orders?state=signed")
    assert "2 orders." in shown(client, "/orders?state=no+such&page=99")


def test_each_order_is_in_exactly_one_state(doing: Doing, rule: CareRule, now: datetime) -> None:
    facts = (
        {},
        {"handed_out_at": now},
        {"handed_out_at": now, "begun_at": now},
        {"handed_out_at": now, "held_up_by": "a gasket"},
        {"struck_out_at": now, "struck_out_reason": "sold", "held_up_by": "a gasket"},
    )
    made = [
        factories.order(factories.mold(), rules=[], author=doing.person, **fields)
        for fields in facts
    ]
    for state in OrderState:
        wanted = [order for order in made if order.state is state]
        assert sorted(orders_in_state(state), key=lambda order: order.number) == wanted


def test_open_orders_come_by_plan_and_ended_ones_after_them(
    doing: Doing, rule: CareRule, now: datetime
) -> None:
    later = now + timedelta(days=1)
    plans = (None, later, now)
    made = [
        factories.order(factories.mold(), rules=[], author=doing.person, planned_at=at)
        for at in plans
    ]
    ended = factories.order(
        factories.mold(),
        rules=[],
        author=doing.person,
        struck_out_at=now,
        struck_out_reason="sold",
    )
    assert list(orders_in_state("all")) == [made[2], made[1], made[0], ended]


def test_an_order_is_printed(client: Client, order: Order) -> None:
    answer = client.get(f"/orders/{order.number}/print?paper=Letter")
    assert answer.headers["Content-Type"] == "application/pdf"
    assert answer.headers["Content-Disposition"] == (
        f'attachment; filename="order-{order.number}.pdf"'
    )
    assert "sandbox" in answer.headers["Content-Security-Policy"]
    text = text_of(answer.content)
    assert "M-2041" in text
    assert "Clean the vents" in text


def test_a_sheet_of_paper_is_typed_in(
    client: Client, order: Order, doing: Doing, technician: Person
) -> None:
    hand_out(doing, order=order)
    technician.pin_hash = factories.make_password("2468")
    technician.save()
    pk = order.tasks.get().pk
    path = f"/orders/{order.number}/paper"
    assert "from paper" in shown(client, path)
    refused = post(client, path, **{f"outcome-{pk}": "done", "happened_at": "2026-11-24T23:10"})
    assert refused.status_code == 422
    assert faults_of(refused.content.decode()) == []
    post(
        client,
        path,
        **{f"outcome-{pk}": "done", f"grade-{pk}": "heavy", "happened_at": "2026-11-24T23:10"},
        minutes="55",
        badge=technician.badge,
        pin="2468",
    )
    entry = Entry.objects.get(kind="order")
    assert entry.author == technician
    assert entry.happened_at == datetime.fromisoformat("2026-11-24T22:10:00+00:00")
    assert "Typed in from paper." in entry.sentence


@pytest.mark.parametrize(("outcome", "field"), [("done", "grade"), ("left", "reason")])
def test_paper_says_how_it_was_found_and_why_it_was_left(
    client: Client, order: Order, outcome: str, field: str
) -> None:
    pk = order.tasks.get().pk
    fields = {f"outcome-{pk}": outcome, "happened_at": "2026-11-24T23:10", "minutes": "5"}
    refused = post(client, f"/orders/{order.number}/paper", **fields)
    assert refused.status_code == 422
    assert f'href="#sign_{field}-{pk}' in refused.content.decode()
    assert not Entry.objects.filter(kind="order").exists()


@pytest.mark.parametrize("name", ["", "nonsense", "tick", "remove", "accept_as_done"])
def test_what_cannot_be_done_is_said(client: Client, order: Order, name: str) -> None:
    assert do(client, order, name, task="999999").status_code == 302
    assert "message--error" in shown(client, f"/orders/{order.number}")


def test_parts_that_are_out_are_shown_and_taken_in_again_after_the_signature_too(
    client: Client, doing: Doing, order: Order
) -> None:
    hand_out(doing, order=order)
    pass_on(
        doing,
        order=order,
        note="vents of half B are open",
        parts=[PartLying(what="core of cavity 2", lies="box 3 on bench 2")],
    )
    html = shown(client, f"/orders/{order.number}")
    assert "vents of half B are open" in html
    assert "box 3 on bench 2" in html
    part = PartOut.objects.get()
    printed = client.get(f"/orders/{order.number}/print")
    assert "core of cavity 2: box 3 on bench 2" in text_of(b"".join(printed))
    task = order.tasks.get(covered_by=None)
    record_look(doing, order=order, grades={task.pk: "light"}, without_photo="no camera")
    record_step(doing, order=order, task=task, step=1)
    sign_order(doing, order=order, signer=doing.person, minutes=20, parts_stay_out=True)
    assert "box 3 on bench 2" in shown(client, f"/orders/{order.number}")
    assert do(client, order, "take_in", part=part.pk).status_code == 302
    assert "box 3 on bench 2" not in shown(client, f"/orders/{order.number}").split("Signed")[0]
    refused = client.get(do(client, order, "take_in", part="nonsense").headers["Location"])
    assert "This part is not out any more." in refused.content.decode()


def test_before_and_after_stand_side_by_side_on_screen_and_paper(
    client: Client, doing: Doing, order: Order
) -> None:
    hand_out(doing, order=order)
    photos = []
    for shade in ("gray", "white"):
        content = io.BytesIO()
        Image.new("RGB", (640, 480), shade).save(content, "JPEG")
        added = add_file(doing, content=content.getvalue(), name="vents.jpg")
        photos.append(File.objects.get(pk=added.pk))
    task = order.tasks.get(covered_by=None)
    record_look(doing, order=order, grades={task.pk: "light"}, photo=photos[0])
    record_step(doing, order=order, task=None, step=AFTER_STEP, photo=photos[1])
    html = shown(client, f"/orders/{order.number}")
    assert "Before and after" in html
    printed = PdfReader(io.BytesIO(b"".join(client.get(f"/orders/{order.number}/print"))))
    pictures = [
        picture.image.size
        for page in printed.pages
        for picture in page.images
        if picture.image is not None
    ]
    assert pictures == [(640, 480), (640, 480)]
