import json
from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest

from moldcare.acts import refresh
from moldcare.acts.doing import Doing
from moldcare.acts.errors import (
    ActRefused,
    AlreadySigned,
    DoesNotFit,
    Incomplete,
    NotAllowed,
    NotFound,
    NotQualified,
)
from moldcare.acts.orders import add_tasks, hand_out, tick_covered, write_order
from moldcare.acts.sheet import leave_task, not_needed, record_look, record_step
from moldcare.acts.sign_in import SignInRefused, TooManyTries
from moldcare.acts.signing import (
    Override,
    SignedFrom,
    SignedOrder,
    TaskResult,
    accept_as_done,
    sign_accepted,
    sign_checked,
    sign_order,
)
from moldcare.care.models import CareRule, Completion, Cover, Step
from moldcare.counters.models import Life
from moldcare.files.models import File
from moldcare.handin.models import HandIn
from moldcare.logbook.models import Entry
from moldcare.molds import models as molds
from moldcare.plant.models import Person, Qualification
from moldcare.work.models import Order, OrderState, OrderTask
from moldcare.work.queries import first_unbacked, orders_wanting_signatures, signatures_of
from tests import factories

pytestmark = pytest.mark.django_db


class Refreshed:
    """Which molds and auxiliaries an act derived again."""

    def __init__(self) -> None:
        self.molds: list[int] = []
        self.auxiliaries: list[int] = []

    def __call__(self, *, molds: list[int] = [], auxiliaries: list[int] = []) -> None:  # noqa: B006
        self.molds += molds
        self.auxiliaries += auxiliaries


@pytest.fixture(autouse=True)
def refreshed(monkeypatch: pytest.MonkeyPatch) -> Refreshed:
    """What is derived has tests of its own; here only that it is asked for."""
    calls = Refreshed()
    monkeypatch.setattr(refresh, "refresh_care", calls)
    return calls


@pytest.fixture
def mold() -> molds.Mold:
    factories.plant()
    return factories.mold(number="M-2041")


@pytest.fixture
def rule(mold: molds.Mold) -> CareRule:
    row = factories.care_rule(mold=mold, name="Clean the vents")
    Step.objects.create(rule=row, place=1, text="Wash the vents")
    Step.objects.create(
        rule=row,
        place=2,
        text="Depth at cavity 1",
        kind="value",
        unit="mm",
        low=Decimal("0.012"),
        high=Decimal("0.020"),
    )
    return row


def order_of(doing: Doing, *rules: CareRule) -> Order:
    written = write_order(
        doing, mold=rules[0].mold, auxiliary=rules[0].auxiliary, rules=list(rules)
    )
    order = Order.objects.get(number=written.number)
    if order.handed_out_at is None:
        hand_out(doing, order=order)
    return order


def worked(doing: Doing, order: Order, *, grade: str = "light", depth: str = "0.015") -> Order:
    """Do every step of an order whose tasks are vents or have no steps."""
    lines = list(order.tasks.all())
    record_look(
        doing,
        order=order,
        grades={line.pk: grade for line in lines},
        without_photo="camera is broken",
    )
    for line in lines:
        if line.covered_by_id is None and not line.outcome:
            record_step(doing, order=order, task=line, step=1)
            if line.rule.steps.filter(place=2).exists():
                record_step(doing, order=order, task=line, step=2, value=depth)
    return order


def signed(doing: Doing, order: Order, **more: object) -> SignedOrder:
    return sign_order(doing, order=order, signer=doing.person, minutes=45, **more)  # type: ignore[arg-type]


def facts_of(order: Order) -> dict[str, object]:
    order.refresh_from_db()
    assert order.entry is not None
    facts: dict[str, object] = json.loads(order.entry.facts)
    return facts


def tasks_of(order: Order) -> dict[int, dict[str, object]]:
    tasks = facts_of(order)["tasks"]
    assert isinstance(tasks, list)
    return {task["rule"]: task for task in tasks}


def test_a_signature_writes_one_entry_and_the_completions(
    doing: Doing, rule: CareRule, refreshed: Refreshed
) -> None:
    order = worked(doing, order_of(doing, rule), grade="heavy")
    answer = signed(doing, order)
    order.refresh_from_db()
    assert order.state is OrderState.SIGNED
    (entry,) = Entry.objects.filter(chain=rule.mold.chain)
    assert (entry.kind, entry.meaning, entry.author) == ("order", "done", doing.person)
    assert entry.sentence == (
        "Order 1001: done Clean the vents (found heavy; Depth at cavity 1: 0.015 mm). 45 minutes."
    )
    completion = Completion.objects.get(pk=answer.completions[0])
    assert (completion.rule, completion.entry, completion.grade) == (rule, entry, "heavy")
    assert (completion.happened_at, completion.minutes) == (doing.now, 45)
    assert completion.order_number == 1001
    assert refreshed.molds == [rule.mold_id]
    assert first_unbacked() is None


def test_the_entry_keeps_values_limits_and_who(doing: Doing, rule: CareRule) -> None:
    order = order_of(doing, rule)
    task = order.tasks.get()
    record_step(doing, order=order, task=task, step=2, value="0.034")
    worked(doing, order, depth="0.033")
    signed(doing, order)
    steps = tasks_of(order)[rule.pk]["steps"]
    assert isinstance(steps, list)
    value = steps[1]
    assert value["value"] == "0.033"
    assert value["earlier"] == ["0.034"]
    assert value["is_within"] is False
    assert (Decimal(value["low"]), Decimal(value["high"])) == (Decimal("0.012"), Decimal("0.020"))
    assert value["by"] == doing.person.name


def test_photos_stand_in_the_entry_by_their_hash(doing: Doing, rule: CareRule) -> None:
    photo = File.objects.create(
        sha256="b" * 64,
        kind="image/jpeg",
        size_bytes=1,
        name="before.jpg",
        added_by=doing.person,
        written_at=doing.now,
    )
    order = order_of(doing, rule)
    worked(doing, order)
    record_look(doing, order=order, grades={}, photo=photo)
    signed(doing, order)
    look = facts_of(order)["look"]
    assert isinstance(look, dict)
    assert look["photo"] == {"photo": "before.jpg", "sha256": "b" * 64}


def test_the_entry_keeps_the_counts_as_they_were_known(doing: Doing, rule: CareRule) -> None:
    Life.objects.update_or_create(
        mold=rule.mold,
        defaults={
            "cycles": 312_400,
            "shots": 311_900,
            "newest_at": doing.now,
            "is_estimated": True,
        },
    )
    order = worked(doing, order_of(doing, rule))
    signed(doing, order)
    counts = facts_of(order)["counts"]
    assert isinstance(counts, dict)
    assert (counts["cycles"], counts["shots"], counts["is_estimated"]) == (312_400, 311_900, True)
    assert order.entry is not None
    assert "312,400 cycles, estimated" in order.entry.sentence


@pytest.mark.parametrize(
    ("read_before_pull", "is_estimated"), [(timedelta(0), False), (timedelta(hours=2), True)]
)
def test_a_count_that_was_not_read_since_the_mold_ran_is_called_estimated(
    doing: Doing, rule: CareRule, read_before_pull: timedelta, is_estimated: bool
) -> None:
    assert rule.mold is not None
    press, pulled_at = factories.spot(), doing.now - timedelta(hours=3)
    factories.set_in_press(
        rule.mold, press=press, author=doing.person, at=doing.now - timedelta(days=1)
    )
    molds.RunEvent.objects.create(
        mold=rule.mold,
        press=press,
        act="pulled",
        at=pulled_at,
        person=doing.person,
        after_reading=0,
        written_at=pulled_at,
    )
    Life.objects.update_or_create(
        mold=rule.mold,
        defaults={
            "cycles": 312_400,
            "shots": 312_400,
            "newest_at": pulled_at - read_before_pull,
            "is_estimated": False,
        },
    )
    order = worked(doing, order_of(doing, rule))
    signed(doing, order)
    counts = facts_of(order)["counts"]
    assert isinstance(counts, dict)
    assert counts["is_estimated"] is is_estimated
    assert order.entry is not None
    assert (", estimated" in order.entry.sentence) is is_estimated


def test_ticked_covered_lines_are_completed_at_the_same_instant(
    doing: Doing, mold: molds.Mold, rule: CareRule
) -> None:
    ticked = factories.care_rule(mold=mold, name="Wipe the faces")
    unticked = factories.care_rule(mold=mold, name="Grease the pins")
    for each in (ticked, unticked):
        Cover.objects.create(covering=rule, covered=each)
    order = order_of(doing, rule)
    tick_covered(doing, task=order.tasks.get(rule=unticked), is_ticked=False)
    worked(doing, order)
    at = doing.now - timedelta(hours=2)
    signed(doing, order, happened_at=at)
    own = Completion.objects.get(rule=rule)
    under = Completion.objects.get(rule=ticked)
    assert under.covering == own
    assert under.happened_at == own.happened_at == at
    assert under.grade == "light"
    assert not Completion.objects.filter(rule=unticked).exists()
    assert tasks_of(order)[unticked.pk]["completes"] is False
    assert first_unbacked() is None


def test_what_is_left_covers_nothing_and_stays_due(
    doing: Doing, mold: molds.Mold, rule: CareRule
) -> None:
    under = factories.care_rule(mold=mold, name="Wipe the faces")
    other = factories.care_rule(mold=mold, name="Grease the pins")
    Cover.objects.create(covering=rule, covered=under)
    order = order_of(doing, rule, other)
    leave_task(doing, task=order.tasks.get(rule=rule), reason="no solvent left")
    worked(doing, order)
    signed(doing, order)
    assert [row.rule for row in Completion.objects.all()] == [other]
    assert order.entry is None
    order.refresh_from_db()
    assert order.entry is not None
    assert "Left: Clean the vents (no solvent left)." in order.entry.sentence


def test_found_not_needed_restarts_only_an_inspection(doing: Doing, mold: molds.Mold) -> None:
    inspection = factories.care_rule(
        mold=mold,
        name="Inspect the parting line",
        family=factories.family(key="inspection", is_inspection=True),
    )
    vents = factories.care_rule(mold=mold, name="Clean the vents")
    order = order_of(doing, inspection, vents)
    for line in order.tasks.all():
        not_needed(doing, task=line, reason="was open yesterday")
    worked(doing, order)
    signed(doing, order)
    (row,) = Completion.objects.all()
    assert (row.rule, row.is_not_needed, row.minutes) == (inspection, True, 0)
    assert first_unbacked() is None


def test_a_lead_accepts_as_done_what_was_not_needed(
    doing: Doing, mold: molds.Mold, technician: Person
) -> None:
    vents = factories.care_rule(mold=mold, name="Clean the vents")
    order = order_of(doing, vents)
    not_needed(doing, task=order.tasks.get())
    worked(doing, order)
    signed(doing, order)
    task = order.tasks.get()
    with pytest.raises(NotAllowed):
        accept_as_done(
            Doing(person=technician, now=doing.now), task=task, signer=technician, reason="clean"
        )
    pk = accept_as_done(doing, task=task, signer=doing.person, reason="clean and sharp")
    completion = Completion.objects.get(pk=pk)
    order.refresh_from_db()
    assert order.entry is not None
    assert completion.happened_at == order.entry.happened_at
    assert completion.entry.number == 2
    with pytest.raises(DoesNotFit, match="completed"):
        accept_as_done(doing, task=task, signer=doing.person, reason="again")
    assert first_unbacked() is None


def test_an_open_step_is_named(doing: Doing, rule: CareRule) -> None:
    order = order_of(doing, rule)
    with pytest.raises(Incomplete, match="Look before cleaning"):
        signed(doing, order)
    task = order.tasks.get()
    record_look(doing, order=order, grades={}, without_photo="dark")
    with pytest.raises(Incomplete, match="step 1 is open: Wash the vents"):
        signed(doing, order)
    record_step(doing, order=order, task=task, step=1)
    record_step(doing, order=order, task=task, step=2, value="0.034")
    with pytest.raises(Incomplete, match="outside its limits"):
        signed(doing, order)
    record_step(doing, order=order, task=task, step=2, value="0.018")
    with pytest.raises(Incomplete, match="was found"):
        signed(doing, order)
    signed(doing, order, results={task.pk: TaskResult(grade="light")})
    assert Completion.objects.get().grade == "light"


def test_a_refused_signature_leaves_nothing_behind(doing: Doing, rule: CareRule) -> None:
    order = order_of(doing, rule)
    task = order.tasks.get()
    named = Doing(person=doing.person, now=doing.now, hand_in=uuid4())
    with pytest.raises(Incomplete):
        signed(named, order, results={task.pk: TaskResult(grade="failed")})
    assert not Entry.objects.filter(chain=rule.mold.chain).exists()
    assert not HandIn.objects.exists()
    assert OrderTask.objects.get(pk=task.pk).grade == ""


def test_a_double_tap_writes_once(doing: Doing, rule: CareRule) -> None:
    order = worked(doing, order_of(doing, rule))
    named = Doing(person=doing.person, now=doing.now, hand_in=uuid4())
    assert signed(named, order) == signed(named, order)
    with pytest.raises(AlreadySigned):
        signed(Doing(person=doing.person, now=doing.now, hand_in=uuid4()), order)
    with pytest.raises(AlreadySigned):
        record_step(doing, order=order, task=order.tasks.get(), step=1)
    assert Entry.objects.filter(chain=rule.mold.chain).count() == 1
    assert Completion.objects.count() == 1


def test_at_a_shared_tablet_the_signer_signs_with_a_pin(doing: Doing, rule: CareRule) -> None:
    signer = factories.person(name="Nils Ortega", pin="4711")
    order = worked(doing, order_of(doing, rule))
    with pytest.raises(NotAllowed, match="PIN"):
        sign_order(doing, order=order, signer=signer, minutes=30)
    with pytest.raises(SignInRefused):
        sign_order(doing, order=order, signer=signer, minutes=30, pin="4712")
    sign_order(doing, order=order, signer=signer, minutes=30, pin="4711")
    order.refresh_from_db()
    assert order.entry is not None
    assert order.entry.author == signer
    assert facts_of(order)["entered_by"] == doing.person.name


def test_a_person_without_a_pin_cannot_sign_with_one(doing: Doing, rule: CareRule) -> None:
    signer = factories.person(name="Nils Ortega")
    order = worked(doing, order_of(doing, rule))
    with pytest.raises(SignInRefused):
        sign_order(doing, order=order, signer=signer, minutes=30, pin="4711")


def test_wrong_pins_are_slowed_on_that_tablet_and_nothing_is_lost(
    doing: Doing, rule: CareRule
) -> None:
    signer = factories.person(name="Nils Ortega", pin="4711")
    order = worked(doing, order_of(doing, rule))
    for _try in range(5):
        with pytest.raises(SignInRefused):
            sign_order(doing, order=order, signer=signer, minutes=30, pin="1", device="tablet 1")
    with pytest.raises(TooManyTries):
        sign_order(doing, order=order, signer=signer, minutes=30, pin="4711", device="tablet 1")
    sign_order(doing, order=order, signer=signer, minutes=30, pin="4711", device="tablet 2")
    order.refresh_from_db()
    assert order.state is OrderState.SIGNED


def test_a_reader_signs_nothing(doing: Doing, rule: CareRule, reader: Person) -> None:
    order = worked(doing, order_of(doing, rule))
    with pytest.raises(NotAllowed):
        sign_order(Doing(person=reader, now=doing.now), order=order, signer=reader, minutes=30)


@pytest.mark.parametrize(
    ("fields", "is_qualified"),
    [
        ({"valid_from": "2026-01-01"}, True),
        ({"valid_from": "2026-01-01", "valid_to": "2026-11-25"}, True),
        ({"valid_from": "2026-01-01", "valid_to": "2026-11-24"}, False),
        ({"valid_from": "2026-11-26"}, False),
        ({"valid_from": "2026-01-01", "is_withdrawn": True}, False),
        ({"valid_from": "2026-01-01", "subject": "crane"}, False),
    ],
)
def test_a_qualification_counts_while_it_is_valid(
    doing: Doing,
    rule: CareRule,
    technician: Person,
    fields: dict[str, object],
    is_qualified: bool,
) -> None:
    CareRule.objects.filter(pk=rule.pk).update(qualification="Hot runner")
    Qualification.objects.create(
        **{"person": technician, "subject": "hot runner", "evidence": "course", **fields},
        written_at=doing.now,
    )
    order = worked(doing, order_of(doing, rule))
    theirs = Doing(person=technician, now=doing.now)
    if is_qualified:
        assert signed(theirs, order).number == 1001
    else:
        with pytest.raises(NotQualified, match="Hot runner"):
            signed(theirs, order)


def test_a_lead_overrides_with_a_reason_that_is_kept(
    doing: Doing, rule: CareRule, technician: Person
) -> None:
    CareRule.objects.filter(pk=rule.pk).update(qualification="Hot runner")
    lead = factories.person(role="lead", name="Vera Holm", pin="9090")
    order = worked(doing, order_of(doing, rule))
    theirs = Doing(person=technician, now=doing.now)
    with pytest.raises(NotAllowed):
        signed(theirs, order, override=Override(person=technician, reason="I can do it"))
    with pytest.raises(Incomplete):
        signed(theirs, order, override=Override(person=lead, reason=" ", pin="9090"))
    override = Override(person=lead, reason="worked beside me", pin="9090")
    signed(theirs, order, override=override)
    facts = facts_of(order)
    assert facts["without_qualification"] == ["Hot runner"]
    assert facts["override"] == {"id": lead.pk, "name": "Vera Holm", "reason": "worked beside me"}


def test_paper_is_typed_in_later_and_the_entry_says_so(
    doing: Doing, mold: molds.Mold, rule: CareRule
) -> None:
    other = factories.care_rule(mold=mold, name="Grease the pins")
    order = order_of(doing, rule, other)
    first, second = order.tasks.all()
    at = doing.now - timedelta(days=2)
    results = {first.pk: TaskResult(outcome="done", grade="heavy", is_brought_forward=True)}
    with pytest.raises(Incomplete, match="Grease the pins is open"):
        signed(doing, order, source=SignedFrom.PAPER, happened_at=at, results=results)
    results[second.pk] = TaskResult(outcome="left", reason="no grease")
    signed(doing, order, source=SignedFrom.PAPER, happened_at=at, results=results)
    order.refresh_from_db()
    entry = order.entry
    assert entry is not None
    assert entry.happened_at == at
    assert entry.written_at == doing.now
    assert "brought forward: signs seen" in entry.sentence
    assert "Typed in from paper." in entry.sentence
    assert facts_of(order)["source"] == "paper"
    assert Completion.objects.get().is_brought_forward


def test_what_is_left_on_paper_needs_its_reason(doing: Doing, rule: CareRule) -> None:
    order = order_of(doing, rule)
    results = {order.tasks.get().pk: TaskResult(outcome="left")}
    with pytest.raises(Incomplete, match="why"):
        signed(doing, order, source=SignedFrom.PAPER, results=results)


@pytest.mark.parametrize(
    "result",
    [TaskResult(outcome="skipped"), TaskResult(grade="spotless"), TaskResult(reason="x" * 201)],
)
def test_a_result_that_is_none_is_refused(doing: Doing, rule: CareRule, result: TaskResult) -> None:
    order = worked(doing, order_of(doing, rule))
    results = {order.tasks.get().pk: TaskResult(outcome="left", reason=result.reason)}
    if not result.reason:
        results = {order.tasks.get().pk: result}
    with pytest.raises(ActRefused):
        signed(doing, order, results=results)


def test_a_task_that_is_not_in_the_order_is_refused(doing: Doing, rule: CareRule) -> None:
    order = worked(doing, order_of(doing, rule))
    with pytest.raises(NotFound):
        signed(doing, order, results={order.tasks.get().pk + 7: TaskResult(grade="light")})


def test_nothing_is_signed_for_the_future(doing: Doing, rule: CareRule) -> None:
    order = worked(doing, order_of(doing, rule))
    with pytest.raises(DoesNotFit, match="future"):
        signed(doing, order, happened_at=doing.now + timedelta(minutes=6))
    # within the clock error that the plant allows
    signed(doing, order, happened_at=doing.now + timedelta(minutes=4))


def test_minutes_are_shared_out_by_the_rules_minutes(doing: Doing, mold: molds.Mold) -> None:
    rules = [
        factories.care_rule(mold=mold, name=f"Task {minutes}", minutes=minutes)
        for minutes in (10, 20, 10)
    ]
    order = worked(doing, order_of(doing, *rules))
    signed(doing, order)
    shares = list(Completion.objects.order_by("id").values_list("minutes", flat=True))
    # 45 minutes as 1 : 2 : 1 are 11.25, 22.5 and 11.25; the minute over goes to the half
    assert shares == [11, 23, 11]


def test_a_rule_of_a_position_names_the_component_in_it(doing: Doing, mold: molds.Mold) -> None:
    position = molds.Position.objects.create(mold=mold, ident="slide 1")
    component = molds.Component.objects.create(serial="S-77", name="slide")
    rule = factories.care_rule(mold=mold, target="position", position=position)
    molds.Fitting.objects.create(
        component=component,
        position=position,
        at=doing.now - timedelta(days=9),
        person=doing.person,
        written_at=doing.now,
    )
    order = worked(doing, order_of(doing, rule))
    signed(doing, order)
    assert Completion.objects.get().component_id == component.pk


def test_an_auxiliary_has_orders_too(doing: Doing, refreshed: Refreshed) -> None:
    factories.plant()
    chain = factories.new_chain("auxiliary", "TC-3")
    auxiliary = molds.Auxiliary.objects.create(
        number="TC-3", name="controller", kind="temperature", chain=chain, entered_at=doing.now
    )
    rule = factories.care_rule(auxiliary=auxiliary, target="auxiliary", name="Change the filter")
    order = order_of(doing, rule)
    record_look(doing, order=order, grades={}, without_photo="not asked for here")
    record_step(doing, order=order, task=order.tasks.get(), step=1)
    signed(doing, order)
    assert Entry.objects.get(chain=chain).kind == "order"
    assert refreshed.auxiliaries == [auxiliary.pk]
    assert first_unbacked() is None


def test_checked_and_accepted_are_signed_by_others_where_a_rule_asks(
    doing: Doing, rule: CareRule, technician: Person
) -> None:
    CareRule.objects.filter(pk=rule.pk).update(asks_checked=True, asks_accepted=True)
    order = worked(doing, order_of(doing, rule))
    theirs = Doing(person=technician, now=doing.now)
    with pytest.raises(DoesNotFit, match="not signed as done"):
        sign_checked(doing, order=order, signer=doing.person)
    assert signed(theirs, order).wanted == ("accepted", "checked")
    order.refresh_from_db()
    with pytest.raises(DoesNotFit, match="Somebody else"):
        sign_checked(theirs, order=order, signer=technician)
    checker = factories.person(name="Nils Ortega")
    first = sign_checked(
        Doing(person=checker, now=doing.now), order=order, signer=checker, note="looked again"
    )
    assert (first.meaning, first.sentence) == ("checked", "Order 1001 checked: looked again.")
    with pytest.raises(AlreadySigned):
        sign_checked(doing, order=order, signer=doing.person)
    with pytest.raises(NotAllowed):
        sign_accepted(Doing(person=checker, now=doing.now), order=order, signer=checker)
    assert orders_wanting_signatures() == [(order, {"accepted"})]
    sign_accepted(doing, order=order, signer=doing.person)
    assert [entry.meaning for entry in signatures_of(order)] == ["done", "checked", "accepted"]
    assert orders_wanting_signatures() == []


def test_a_signature_that_no_rule_asks_for_is_refused(
    doing: Doing, rule: CareRule, technician: Person
) -> None:
    order = worked(doing, order_of(doing, rule))
    signed(Doing(person=technician, now=doing.now), order)
    with pytest.raises(DoesNotFit, match="asks"):
        sign_checked(doing, order=order, signer=doing.person)


def test_signatures_of_order_100_are_not_those_of_order_1001(doing: Doing, rule: CareRule) -> None:
    order = worked(doing, order_of(doing, rule))
    signed(doing, order)
    factories.entry(
        rule.mold.chain,
        author=doing.person,
        kind="order_checked",
        at=doing.now,
        facts={"order": 10011},
    )
    order.refresh_from_db()
    assert len(signatures_of(order)) == 1


def test_a_task_added_while_working_is_brought_forward(doing: Doing, rule: CareRule) -> None:
    order = order_of(doing, rule)
    other = factories.care_rule(mold=rule.mold, name="Polish the gate")
    add_tasks(doing, order=order, rules=[other], is_brought_forward=True)
    worked(doing, order)
    signed(doing, order)
    assert Completion.objects.get(rule=other).is_brought_forward
    assert not Completion.objects.get(rule=rule).is_brought_forward
