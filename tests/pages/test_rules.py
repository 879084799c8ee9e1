"""Care rules on pages: written, changed with a reason, deferred; steps as lines of text."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from decimal import Decimal
from re import search, sub
from uuid import uuid4

import pytest
from django.test import Client
from hypothesis import given
from hypothesis import strategies as st

from moldcare.acts.doing import Doing
from moldcare.acts.molds import add_auxiliary
from moldcare.acts.refresh import refresh_counts
from moldcare.acts.rules import NewStep
from moldcare.care.models import (
    CareRule,
    Completion,
    Cover,
    Deferral,
    Family,
    RuleSet,
    RuleVersion,
    SetRule,
)
from moldcare.logbook.models import Entry
from moldcare.molds.models import Auxiliary, Mold, Position
from moldcare.pages.rules.steps import StepsUnclear, lines_of, steps_in
from moldcare.plant.models import Person
from moldcare.work.models import Order
from tests import factories

ClientOf = Callable[[str], Client]
LINES = """\
Brush the vents clean, then blow them out.
Depth of vent 3 [mm 0.01 to 0.02]
Pressure after ten minutes [bar >= 5.8]
Play [mm <= 0.05]
Temperature rise [K]
Residue [choice: dry | sticky | liquid]
The parting line [photo]
Which vent was closed [position]"""


def test_steps_are_read_from_lines() -> None:
    steps = steps_in(f"\n{LINES}\n\n")
    assert steps[1] == NewStep(
        text="Depth of vent 3", kind="value", unit="mm", low=Decimal("0.01"), high=Decimal("0.02")
    )
    assert (steps[2].low, steps[2].high) == (Decimal("5.8"), None)
    assert (steps[3].low, steps[3].high) == (None, Decimal("0.05"))
    assert [step.kind for step in steps[4:]] == ["value", "choice", "photo", "position"]
    assert steps[5].choices == ("dry", "sticky", "liquid")
    assert lines_of(steps) == LINES


@pytest.mark.parametrize(
    "line", ["Depth [mm 2 to 1]", "Depth []", "[mm]", "Depth [5 mm]", "Depth [mm 1,250 to 2]"]
)
def test_a_line_that_cannot_be_read_names_its_step(line: str) -> None:
    with pytest.raises(StepsUnclear, match="Step 2"):
        steps_in(f"Look\n{line}")


WORDS = st.text(alphabet="abc []|:<>=.", min_size=1, max_size=20).map(str.strip).filter(bool)


@given(st.lists(WORDS.map(lambda text: NewStep(text=text)), max_size=4))
def test_ticks_come_back_as_they_were_whatever_their_text(steps: list[NewStep]) -> None:
    assert steps_in(lines_of(steps)) == steps


def text_of(answer: object) -> str:
    return answer.getvalue().decode()  # type: ignore[attr-defined]


def words_of(answer: object) -> str:
    return sub(r"\s+", " ", sub(r"<[^>]+>", " ", text_of(answer)))


@pytest.fixture
def family(db: None) -> Family:
    factories.plant()
    return factories.family(key="vents")


@pytest.fixture
def mold(family: Family, lead: Person, now: datetime) -> Mold:
    """A mold that has made 12,000 shots."""
    row = factories.mold(number="0417")
    factories.cycle_time(row, author=lead)
    counter = factories.counter(on=row, author=lead)
    factories.readings(counter, rows=[(now - timedelta(hours=2), 12_000)], author=lead)
    refresh_counts(counters=[counter.pk], molds=[row.pk])
    return row


def typed(family: Family, **fields: object) -> dict[str, object]:
    return {
        "name": "Clean the vents",
        "family": family.pk,
        "target": "mold",
        "count_base": "20 000",
        "count_basis": "shots",
        "calendar_counts": "always",
        "reach": "faces",
        "where_done": "press",
        "minutes": "15",
        "people": "1",
        "steps": LINES,
        "reason": "gassy resin",
        **fields,
    }


@pytest.fixture
def rule(mold: Mold, family: Family, client_of: ClientOf, clock: object) -> CareRule:
    answer = client_of("lead").post("/molds/0417/rules/add", typed(family))
    assert answer.status_code == 302
    return CareRule.objects.get()


def test_a_rule_is_written_from_the_form(rule: CareRule, client_of: ClientOf) -> None:
    assert (rule.count_base, rule.reason, rule.where_done) == (20_000, "gassy resin", "press")
    assert rule.steps.count() == 8
    shown = words_of(client_of("reader").get(f"/rules/{rule.pk}"))
    assert "every 20,000 shots" in shown
    assert "12,000 of 20,000 shots" in shown
    assert "Done by older records" not in shown


def test_the_interval_is_shown_beside_its_factors_before_anything_is_written(
    mold: Mold, family: Family, client_of: ClientOf
) -> None:
    answer = client_of("lead").post(
        "/molds/0417/rules/add", typed(family, factor_resin="0,6", factor_finish="0,9", reckon="1")
    )
    assert "20,000 × 0.6 (resin) × 0.9 (finish) = 10,800 shots" in words_of(answer)
    assert answer.status_code == 200
    assert not CareRule.objects.exists()


@pytest.mark.parametrize(
    ("fields", "named", "sentence"),
    [
        ({"lead_count": "20000"}, "lead_count", "would always be due soon"),
        ({"hard_count": "1000"}, "hard_count", "lies below the due point"),
        ({"count_base": ""}, None, "needs at least one limit"),
        ({"period_n": "3"}, "period_n", "A period needs a number and a unit."),
        ({"hard_days": "40"}, "hard_days", "This says nothing without"),
        ({"steps": "Look\nDepth [5 mm]"}, "steps", "Step 2"),
        ({"minutes": "soon"}, "minutes", "cannot be read as a whole number"),
        ({"reason": ""}, "reason", "Give the reason"),
    ],
)
def test_what_cannot_stand_is_said_beside_its_field(
    mold: Mold,
    family: Family,
    client_of: ClientOf,
    fields: dict[str, object],
    named: str | None,
    sentence: str,
) -> None:
    answer = client_of("lead").post("/molds/0417/rules/add", typed(family, **fields))
    assert answer.status_code == 422
    form = answer.context["form"]
    assert any(sentence in error for error in form.errors[named or "__all__"])
    assert "Clean the vents" in text_of(answer)
    assert not CareRule.objects.exists()


def test_a_rule_of_a_position_is_written(
    mold: Mold, family: Family, client_of: ClientOf, clock: object
) -> None:
    position = Position.objects.create(mold=mold, ident="A3")
    sent = typed(family, target=f"position {position.pk}", changes_component="on")
    assert client_of("lead").post("/molds/0417/rules/add", sent).status_code == 302
    rule = CareRule.objects.get()
    assert (rule.position, rule.changes_component) == (position, True)


def test_a_change_shows_what_is_there_and_keeps_the_reason(
    rule: CareRule, family: Family, client_of: ClientOf, clock: object
) -> None:
    client = client_of("lead")
    shown = text_of(client.get(f"/rules/{rule.pk}/edit"))
    assert 'value="20000"' in shown
    assert "Residue [choice: dry | sticky | liquid]" in shown
    sent = typed(family, count_base="15000", reason="found heavy twice")
    assert client.post(f"/rules/{rule.pk}/edit", sent).status_code == 302
    rule.refresh_from_db()
    assert (rule.count_base, rule.steps.count()) == (15_000, 8)
    assert RuleVersion.objects.count() == 2
    assert "found heavy twice" in words_of(client.get(f"/rules/{rule.pk}"))


def test_lines_as_a_browser_sends_them_are_no_change(
    rule: CareRule, family: Family, client_of: ClientOf, clock: object
) -> None:
    CareRule.objects.filter(pk=rule.pk).update(signs="burn marks\nshort shots")
    client, address = client_of("lead"), f"/rules/{rule.pk}/edit"
    sent = typed(family, signs="burn marks\r\nshort shots", count_base="9000", reason="burns")
    assert client.post(address, sent).status_code == 302
    said = Entry.objects.order_by("-id")[0].sentence
    assert "count: " in said
    assert "signs" not in said
    # and where lines do change, the entry says it in one
    sent |= {"signs": "burn marks\r\nhaze", "reason": "seen"}
    assert client.post(address, sent).status_code == 302
    said = Entry.objects.order_by("-id")[0].sentence
    assert "overdue: burn marks, short shots → burn marks, haze." in said


def test_a_change_made_meanwhile_is_said_and_what_was_typed_stays(
    rule: CareRule, family: Family, client_of: ClientOf
) -> None:
    client, address = client_of("lead"), f"/rules/{rule.pk}/edit"
    shown = search(r'name="seen" value="(\w+)"', text_of(client.get(address)))
    assert shown is not None
    mine = typed(family, reason="own findings", minutes="25", seen=shown[1], hand_in=str(uuid4()))
    assert client.post(address, mine).status_code == 302
    assert client.post(address, mine).status_code == 302, "the second of two taps"
    theirs = typed(family, reason="other findings", minutes="35", seen=shown[1])
    refused = client.post(address, theirs)
    assert refused.status_code == 422
    assert "Somebody changed this after you opened it." in text_of(refused)
    assert 'value="35"' in text_of(refused)
    rule.refresh_from_db()
    assert rule.minutes == 25
    now_seen = search(r'name="seen" value="(\w+)"', text_of(refused))
    assert now_seen is not None
    assert client.post(address, {**theirs, "seen": now_seen[1]}).status_code == 302
    rule.refresh_from_db()
    assert rule.minutes == 35


def test_covers_are_ticked_and_a_circle_is_refused(
    rule: CareRule, family: Family, client_of: ClientOf, clock: object
) -> None:
    client = client_of("lead")
    second = typed(family, name="Overhaul", covers=[rule.pk])
    assert client.post("/molds/0417/rules/add", second).status_code == 302
    overhaul = CareRule.objects.get(name="Overhaul")
    assert Cover.objects.get().covering == overhaul
    answer = client.post(f"/rules/{rule.pk}/edit", typed(family, covers=[overhaul.pk]))
    assert answer.status_code == 422
    assert "A rule cannot cover itself" in text_of(answer)


def test_a_deferral_says_where_the_rule_stands_and_adds_to_the_count(
    rule: CareRule, client_of: ClientOf, clock: object
) -> None:
    client = client_of("lead")
    shown = words_of(client.get(f"/rules/{rule.pk}/defer"))
    assert "12,000 of 20,000 shots" in shown
    assert "The count is 12,000 now." in shown
    sent = {"more": "15 000", "until_on": "2026-12-20", "reason": "springs come Thursday"}
    assert client.post(f"/rules/{rule.pk}/defer", sent).status_code == 302
    row = Deferral.objects.get()
    assert (row.until_count, row.until_on) == (27_000, date(2026, 12, 20))


def test_a_deferral_without_a_limit_is_asked_about(
    rule: CareRule, client_of: ClientOf, clock: object
) -> None:
    answer = client_of("lead").post(f"/rules/{rule.pk}/defer", {"reason": "late"})
    assert answer.status_code == 422
    assert "Give the new limit" in text_of(answer)
    assert not Deferral.objects.exists()


def test_older_records_say_when_it_was_last_done(
    rule: CareRule, client_of: ClientOf, clock: object
) -> None:
    sent = {"done_count": "9 000", "done_on": "2026-10-01", "source": "card file"}
    answer = client_of("lead").post(f"/rules/{rule.pk}/last-done", sent)
    assert answer.status_code == 302
    row = Completion.objects.get()
    assert (row.declared_count, row.declared_on) == (9_000, date(2026, 10, 1))
    shown = words_of(client_of("lead").get(f"/rules/{rule.pk}"))
    assert "Done by older records" in shown
    assert "3,000 of 20,000 shots" in shown


def test_a_rule_is_withdrawn_with_a_reason_and_its_page_stays(
    rule: CareRule, client_of: ClientOf, clock: object
) -> None:
    client = client_of("lead")
    assert client.post(f"/rules/{rule.pk}/withdraw", {"reason": ""}).status_code == 422
    answer = client.post(f"/rules/{rule.pk}/withdraw", {"reason": "no vents any more"})
    assert answer["Location"] == "/molds/0417"
    assert "This rule was withdrawn." in words_of(client.get(f"/rules/{rule.pk}"))
    assert client.get(f"/rules/{rule.pk}/edit").status_code == 404


def test_a_set_is_taken_without_what_was_ticked(
    mold: Mold, family: Family, client_of: ClientOf, clock: object
) -> None:
    rule_set = RuleSet.objects.create(name="every mold")
    wipe, clean = (
        SetRule.objects.create(
            rule_set=rule_set, family=family, name=name, count_base=10_000, reason="common"
        )
        for name in ("Wipe", "Clean")
    )
    sent = {"rule_set": rule_set.pk, "without": [clean.pk]}
    answer = client_of("lead").post("/molds/0417/rules", sent, follow=True)
    assert [row.from_set_rule for row in CareRule.objects.all()] == [wipe]
    assert "Written: Wipe." in words_of(answer)
    assert "Left out: Clean." in words_of(answer)


def test_a_set_that_the_mold_has_already_says_that_nothing_changed(
    mold: Mold, family: Family, client_of: ClientOf, clock: object
) -> None:
    rule_set = RuleSet.objects.create(name="every mold")
    SetRule.objects.create(
        rule_set=rule_set, family=family, name="Wipe", count_base=10_000, reason="common"
    )
    client = client_of("lead")
    client.post("/molds/0417/rules", {"rule_set": rule_set.pk}, follow=True)
    answer = client.post("/molds/0417/rules", {"rule_set": rule_set.pk}, follow=True)
    assert "This mold has the whole set as it is now. Nothing changed." in words_of(answer)
    assert CareRule.objects.count() == 1


@pytest.mark.parametrize("of", ["mold", "auxiliary"])
def test_an_order_is_made_of_a_rule_on_its_page(
    mold: Mold, doing: Doing, client_of: ClientOf, clock: object, of: str
) -> None:
    if of == "mold":
        row = factories.care_rule(mold=mold)
    else:
        add_auxiliary(doing, number="TC-3", name="temperature controller", kind="controller")
        row = factories.care_rule(
            auxiliary=Auxiliary.objects.get(number="TC-3"), target="auxiliary", name="Look"
        )
    client = client_of("lead")
    page = client.get(f"/rules/{row.pk}").content.decode()
    assert "Make an order of it" in page
    sent = {"hand_in": str(uuid4())}
    client.post(f"/rules/{row.pk}", sent)
    client.post(f"/rules/{row.pk}", sent)
    order = Order.objects.get()
    assert (order.mold, order.auxiliary) == (row.mold, row.auxiliary)
    assert [line.rule for line in order.tasks.all()] == [row]
    assert order.handed_out_at is not None


def test_a_rule_that_was_withdrawn_meanwhile_makes_no_order(
    rule: CareRule, client_of: ClientOf, clock: object, now: datetime
) -> None:
    CareRule.objects.filter(pk=rule.pk).update(withdrawn_at=now)
    answer = client_of("lead").post(f"/rules/{rule.pk}", {"hand_in": str(uuid4())}, follow=True)
    assert "not in force any more" in words_of(answer)
    assert not Order.objects.exists()


@pytest.mark.parametrize("act", ["edit", "defer", "last-done", "withdraw"])
def test_technicians_look_at_rules_and_change_none(
    rule: CareRule, client_of: ClientOf, act: str
) -> None:
    client = client_of("technician")
    assert client.get(f"/rules/{rule.pk}").status_code == 200
    assert client.get(f"/rules/{rule.pk}/{act}").status_code == 403
