"""Care rules: written with their limits checked, changed with a reason, copied, deferred."""

from datetime import date, datetime, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest

from moldcare.acts.doing import Doing
from moldcare.acts.errors import DoesNotFit, Incomplete, NotAllowed, NotFound
from moldcare.acts.refresh import refresh_counts
from moldcare.acts.rules import (
    NewStep,
    add_cover,
    change_rule,
    copy_rule_set,
    declare_last_done,
    defer_rule,
    remove_cover,
    set_steps,
    withdraw_rule,
    write_rule,
)
from moldcare.care.convert import rule_of_snapshot, rule_terms, standing_value
from moldcare.care.models import (
    CareRule,
    Completion,
    Cover,
    Deferral,
    Family,
    RuleSet,
    RuleVersion,
    SetRule,
    Standing,
)
from moldcare.core.due import State, interval_count, state_at
from moldcare.core.errors import CoversInCircle, TermsContradict
from moldcare.logbook.models import Entry
from moldcare.molds.models import Mold, Position
from moldcare.plant.models import Person
from moldcare.work.models import StepValue
from tests import factories


@pytest.fixture
def family(db: None) -> Family:
    factories.plant()
    return factories.family(key="vents")


@pytest.fixture
def mold(family: Family) -> Mold:
    return factories.mold(number="0417", resin_group="gassy", filler="none")


def terms(family: Family, **fields: object) -> dict[str, object]:
    return {"name": "Clean the vents", "family": family, "count_base": 20_000, **fields}


def written(doing: Doing, mold: Mold, family: Family, **fields: object) -> CareRule:
    answer = write_rule(doing, of=mold, terms=terms(family, **fields), reason="starting value")
    return CareRule.objects.get(pk=answer.row_id)


def test_a_rule_is_written_with_its_entry_and_first_version(
    doing: Doing, mold: Mold, family: Family
) -> None:
    answer = write_rule(
        doing,
        of=mold,
        terms=terms(family, factor_resin=Decimal("0.5"), period_n=30, period_unit="day"),
        reason="gassy resin",
        steps=[NewStep(text="Look"), NewStep(text="Depth", kind="value", unit="mm")],
    )
    rule = CareRule.objects.get(pk=answer.row_id)
    assert [(step.place, step.text) for step in rule.steps.all()] == [(1, "Look"), (2, "Depth")]
    entry = Entry.objects.get(pk=answer.entry_id)
    assert entry.chain == mold.chain
    assert entry.sentence == (
        "Care rule “Clean the vents” written: every 10,000 shots (20,000 by its factors) "
        "or every 30 days. Reason: gassy resin."
    )
    version = RuleVersion.objects.get()
    assert version.reason == "gassy resin"
    assert rule_terms(rule_of_snapshot(version.terms)) == rule_terms(rule)
    assert Standing.objects.filter(rule=rule).exists()


@pytest.mark.parametrize(
    ("fields", "refusal"),
    [
        ({"count_base": None}, Incomplete),
        ({"lead_count": 20_000}, TermsContradict),
        ({"hard_count": 19_999}, TermsContradict),
        ({"period_n": 3}, Incomplete),
        ({"name": "x" * 121}, Incomplete),
        ({"factor_resin": Decimal("9")}, Incomplete),
        ({"early_window_days": 3, "period_n": 30, "period_unit": "day"}, TermsContradict),
    ],
)
def test_limits_that_contradict_each_other_are_refused(
    doing: Doing, mold: Mold, family: Family, fields: dict[str, object], refusal: type[Exception]
) -> None:
    with pytest.raises(refusal):
        written(doing, mold, family, **fields)
    assert not CareRule.objects.exists()
    assert not Entry.objects.exists()


def test_a_reason_is_asked_for(doing: Doing, mold: Mold, family: Family) -> None:
    with pytest.raises(Incomplete, match="Give the reason"):
        write_rule(doing, of=mold, terms=terms(family), reason="  ")


def test_two_spellings_of_a_name_are_one_rule(doing: Doing, mold: Mold, family: Family) -> None:
    written(doing, mold, family, name="Düsen reinigen")
    with pytest.raises(DoesNotFit, match="There is a rule"):
        written(doing, mold, family, name="DÜSEN reinigen")
    other = factories.mold()
    written(doing, other, family, name="Düsen reinigen")
    assert CareRule.objects.count() == 2


def test_a_technician_writes_no_rules(
    technician: Person, now: datetime, mold: Mold, family: Family
) -> None:
    with pytest.raises(NotAllowed):
        written(Doing(person=technician, now=now), mold, family)


def test_the_same_hand_in_writes_one_rule(
    lead: Person, now: datetime, mold: Mold, family: Family
) -> None:
    doing = Doing(person=lead, now=now, hand_in=uuid4())
    assert written(doing, mold, family) == written(doing, mold, family)
    assert CareRule.objects.count() == RuleVersion.objects.count() == 1


def test_a_change_keeps_what_was_said_before(doing: Doing, mold: Mold, family: Family) -> None:
    rule = written(doing, mold, family)
    change_rule(doing, rule=rule, changes={"count_base": 15_000}, reason="found heavy twice")
    rule.refresh_from_db()
    assert (rule.count_base, rule.reason, rule.is_adjusted) == (15_000, "found heavy twice", True)
    first, second = RuleVersion.objects.all()
    assert (first.terms["count_base"], second.terms["count_base"]) == (20_000, 15_000)
    entry = Entry.objects.get(kind="rule_changed")
    assert "count: 20,000 → 15,000" in entry.sentence
    assert entry.sentence.endswith("It now asks every 15,000 shots. Reason: found heavy twice.")


def test_an_entry_says_figures_without_the_zeros_that_a_database_adds(
    doing: Doing, mold: Mold, family: Family
) -> None:
    terms = {
        "name": "Descale",
        "family": family,
        "count_base": 5_000,
        "factor_resin": Decimal("0.6"),
        "measured_quantity": "flow coefficient",
        "measured_unit": "%",
        "measured_baseline": Decimal(100),
        "measured_limit": Decimal(80),
    }
    row = write_rule(doing, of=mold, terms=terms, reason="as the trade has it")
    changes = {"factor_resin": Decimal("0.5")}
    change_rule(doing, rule=CareRule.objects.get(pk=row.row_id), changes=changes, reason="runs PVC")
    assert Entry.objects.order_by("-id")[0].sentence == (
        "Care rule “Descale” changed: resin factor: 0.6 → 0.5. It now asks every 2,500 shots "
        "(5,000 by its factors) or flow coefficient at 80 %. Reason: runs PVC."
    )


def test_to_change_nothing_writes_nothing(doing: Doing, mold: Mold, family: Family) -> None:
    rule = written(doing, mold, family)
    with pytest.raises(DoesNotFit, match="Nothing is different"):
        change_rule(doing, rule=rule, changes={"count_base": 20_000}, steps=[], reason="again")
    assert RuleVersion.objects.count() == 1


def test_a_shorter_interval_makes_the_rule_due(doing: Doing, family: Family, now: datetime) -> None:
    mold = factories.mold()
    factories.cycle_time(mold, author=doing.person)
    counter = factories.counter(on=mold, author=doing.person)
    rows = [(now - timedelta(hours=2), 12_000)]
    factories.readings(counter, rows=rows, author=doing.person)
    refresh_counts(counters=[counter.pk], molds=[mold.pk])
    rule = written(doing, mold, family)
    assert state_at(standing_value(rule.standing), at=now) is State.NOT_DUE
    change_rule(doing, rule=rule, changes={"count_base": 10_000}, reason="heavy")
    found = Standing.objects.get(rule=rule)
    assert state_at(standing_value(found), at=now) is State.OVERDUE


def test_steps_stay_while_an_order_was_begun_with_them(
    doing: Doing, mold: Mold, family: Family, now: datetime
) -> None:
    rule = written(doing, mold, family)
    set_steps(doing, rule=rule, steps=[NewStep(text="Look")], reason="forgotten")
    order = factories.order(mold, rules=[rule], author=doing.person)
    StepValue.objects.create(
        order=order,
        task=order.tasks.get(),
        step=1,
        text="Look",
        kind="tick",
        at=now,
        person=doing.person,
        written_at=now,
    )
    with pytest.raises(DoesNotFit, match=f"Order {order.number} was begun"):
        set_steps(doing, rule=rule, steps=[NewStep(text="Brush")], reason="better")
    assert [step.text for step in rule.steps.all()] == ["Look"]


@pytest.mark.parametrize(
    "steps",
    [
        [NewStep(text=" ")],
        [NewStep(text="Which", kind="choice", choices=("a",))],
        [NewStep(text="x" * 401)],
        [NewStep(text="Depth", kind="value", low=Decimal(2), high=Decimal(1))],
        [NewStep(text="Look")] * 61,
        [NewStep(text="Look", kind="smell")],
    ],
)
def test_steps_that_cannot_be_worked_are_refused(
    doing: Doing, mold: Mold, family: Family, steps: list[NewStep]
) -> None:
    with pytest.raises(Incomplete):
        write_rule(doing, of=mold, terms=terms(family), reason="new", steps=steps)
    assert not CareRule.objects.exists()


def test_a_rule_that_an_open_order_asks_for_stays(doing: Doing, mold: Mold, family: Family) -> None:
    rule = written(doing, mold, family)
    order = factories.order(mold, rules=[rule], author=doing.person)
    with pytest.raises(DoesNotFit, match=f"Order {order.number}"):
        withdraw_rule(doing, rule=rule, reason="not needed")


def test_a_withdrawn_rule_falls_due_no_more(doing: Doing, mold: Mold, family: Family) -> None:
    rule = written(doing, mold, family)
    withdraw_rule(doing, rule=rule, reason="insert without vents")
    assert not Standing.objects.filter(rule=rule).exists()
    with pytest.raises(NotFound):
        change_rule(doing, rule=rule, changes={"minutes": 5}, reason="late")
    # its name is free again
    written(doing, mold, family)


def test_a_rule_of_a_position_names_one_of_the_same_mold(
    doing: Doing, mold: Mold, family: Family
) -> None:
    position = Position.objects.create(mold=mold, ident="A3")
    strange = Position.objects.create(mold=factories.mold(), ident="A3")
    for target, where in (("position", None), ("position", strange), ("mold", position)):
        with pytest.raises((DoesNotFit, Incomplete)):
            write_rule(
                doing,
                of=mold,
                terms=terms(family),
                reason="wear",
                target=target,
                position=where,
            )
    answer = write_rule(
        doing, of=mold, terms=terms(family), reason="wear", target="position", position=position
    )
    assert CareRule.objects.get(pk=answer.row_id).position == position


@pytest.fixture
def three(doing: Doing, mold: Mold, family: Family) -> list[CareRule]:
    return [written(doing, mold, family, name=name) for name in ("wipe", "clean", "overhaul")]


def test_covers_cannot_close_a_circle(doing: Doing, three: list[CareRule]) -> None:
    wipe, clean, overhaul = three
    add_cover(doing, covering=overhaul, covered=clean)
    add_cover(doing, covering=clean, covered=wipe)
    with pytest.raises(CoversInCircle, match="wipe covers overhaul covers clean covers wipe"):
        add_cover(doing, covering=wipe, covered=overhaul)
    with pytest.raises(CoversInCircle):
        change_rule(doing, rule=wipe, changes={}, covers=[wipe.pk], reason="itself")
    assert Cover.objects.count() == 2
    remove_cover(doing, covering=clean, covered=wipe)
    add_cover(doing, covering=wipe, covered=overhaul)
    assert Cover.objects.count() == 2


def test_a_rule_covers_rules_of_its_own_mold_only(
    doing: Doing, three: list[CareRule], family: Family
) -> None:
    strange = written(doing, factories.mold(), family)
    with pytest.raises(DoesNotFit, match="same mold"):
        add_cover(doing, covering=three[0], covered=strange)


@pytest.fixture
def rule_set(family: Family) -> RuleSet:
    # a set rule of another set, so that keys of set rules and of their copies differ
    other = RuleSet.objects.create(name="slides")
    SetRule.objects.create(
        rule_set=other, family=family, name="Grease", count_base=5_000, reason="common practice"
    )
    row = RuleSet.objects.create(name="every mold")
    common = {"rule_set": row, "family": family, "reason": "common practice"}
    SetRule.objects.create(
        name="Wipe",
        count_base=10_000,
        count_basis="shots",
        by_resin=True,
        steps=[{"text": "Wipe them"}, {"text": "Depth", "kind": "value", "low": "0.01"}],
        **common,
    )
    SetRule.objects.create(name="Clean", count_base=50_000, covers=["Wipe"], **common)
    return row


def test_a_set_is_copied_with_steps_covers_and_the_resins_factor(
    doing: Doing, mold: Mold, rule_set: RuleSet
) -> None:
    answer = copy_rule_set(doing, mold=mold, rule_set=rule_set)
    assert (answer.written, answer.left_alone) == (["Wipe", "Clean"], [])
    wipe, clean = CareRule.objects.order_by("id")
    assert [step.low for step in wipe.steps.all()] == [None, Decimal("0.01")]
    assert [cover.covered for cover in clean.covers.all()] == [wipe]
    assert wipe.reason == "common practice"
    # a gassy resin shortens what vents are counted by: 0.6, from memory, no source
    limit = rule_terms(wipe).count
    assert limit is not None
    assert interval_count(limit, factors=rule_terms(wipe).factors) == 6_000


def test_to_copy_a_set_twice_copies_it_once(doing: Doing, mold: Mold, rule_set: RuleSet) -> None:
    copy_rule_set(doing, mold=mold, rule_set=rule_set)
    again = copy_rule_set(doing, mold=mold, rule_set=rule_set)
    assert (again.written, again.updated) == ([], [])
    assert CareRule.objects.count() == RuleVersion.objects.count() == 2


def test_what_a_mold_has_adjusted_is_not_overwritten(
    doing: Doing, mold: Mold, rule_set: RuleSet
) -> None:
    copy_rule_set(doing, mold=mold, rule_set=rule_set)
    wipe, clean = CareRule.objects.order_by("id")
    change_rule(doing, rule=wipe, changes={"count_base": 7_000}, reason="found light")
    rule_set.rules.update(count_base=90_000)
    with pytest.raises(Incomplete, match="Give the reason"):
        copy_rule_set(doing, mold=mold, rule_set=rule_set)
    answer = copy_rule_set(doing, mold=mold, rule_set=rule_set, reason="as the set has it")
    assert (answer.left_alone, answer.updated) == (["Wipe"], ["Clean"])
    wipe.refresh_from_db()
    clean.refresh_from_db()
    assert (wipe.count_base, clean.count_base) == (7_000, 90_000)
    assert clean.reason == "as the set has it"
    assert not clean.is_adjusted


def test_a_copy_that_was_withdrawn_does_not_come_back(
    doing: Doing, mold: Mold, rule_set: RuleSet
) -> None:
    copy_rule_set(doing, mold=mold, rule_set=rule_set)
    withdraw_rule(doing, rule=CareRule.objects.get(name="Wipe"), reason="no vents")
    answer = copy_rule_set(doing, mold=mold, rule_set=rule_set)
    assert (answer.written, answer.left_out) == ([], ["Wipe"])


def test_a_rule_of_the_same_name_stays_the_molds_own(
    doing: Doing, mold: Mold, rule_set: RuleSet, family: Family
) -> None:
    own = written(doing, mold, family, name="wipe", count_base=4_000)
    unwanted = rule_set.rules.get(name="Clean").pk
    answer = copy_rule_set(doing, mold=mold, rule_set=rule_set, without=[unwanted])
    assert (answer.left_alone, answer.left_out) == (["Wipe"], ["Clean"])
    assert [rule.pk for rule in CareRule.objects.all()] == [own.pk]


@pytest.fixture
def counted(doing: Doing, family: Family, now: datetime) -> CareRule:
    """A rule of 20,000 shots, 22,000 into it."""
    mold = factories.mold()
    factories.cycle_time(mold, author=doing.person)
    counter = factories.counter(on=mold, author=doing.person)
    rows = [(now - timedelta(hours=2), 22_000)]
    factories.readings(counter, rows=rows, author=doing.person)
    refresh_counts(counters=[counter.pk], molds=[mold.pk])
    return written(doing, mold, family)


def test_a_deferral_takes_the_place_of_the_limit(
    doing: Doing, counted: CareRule, now: datetime
) -> None:
    answer = defer_rule(doing, rule=counted, until_count=30_000, reason="springs come Thursday")
    assert answer.made_count == 22_000
    found = standing_value(Standing.objects.get(rule=counted))
    assert state_at(found, at=now) is State.DEFERRED
    entry = Entry.objects.get(kind="deferral")
    assert "until a count of 30,000 shots (now 22,000)" in entry.sentence
    row = Deferral.objects.get()
    assert (row.until_count, row.until_on, row.reason) == (30_000, None, "springs come Thursday")


@pytest.mark.parametrize(
    ("limits", "refusal"),
    [
        ({}, Incomplete),
        ({"until_count": 22_000}, DoesNotFit),
        ({"until_on": date(2026, 11, 25)}, DoesNotFit),
        ({"until_on": date(2026, 11, 24)}, DoesNotFit),
    ],
)
def test_a_deferral_needs_a_limit_that_lies_ahead(
    doing: Doing, counted: CareRule, limits: dict[str, object], refusal: type[Exception]
) -> None:
    with pytest.raises(refusal):
        defer_rule(doing, rule=counted, reason="late", **limits)  # type: ignore[arg-type]
    assert not Deferral.objects.exists()


def test_a_rule_without_counts_is_deferred_to_a_date(
    doing: Doing, mold: Mold, family: Family
) -> None:
    rule = written(doing, mold, family, count_base=None, period_n=30, period_unit="day")
    with pytest.raises(DoesNotFit, match="Give a date"):
        defer_rule(doing, rule=rule, until_count=99_000, reason="late")
    defer_rule(doing, rule=rule, until_on=date(2026, 12, 1), reason="late")
    assert Deferral.objects.get().until_on == date(2026, 12, 1)


def test_a_technician_defers_nothing(technician: Person, now: datetime, counted: CareRule) -> None:
    with pytest.raises(NotAllowed):
        defer_rule(
            Doing(person=technician, now=now), rule=counted, until_count=30_000, reason="late"
        )


def test_counting_goes_on_from_what_older_records_say(
    doing: Doing, counted: CareRule, now: datetime
) -> None:
    declare_last_done(doing, rule=counted, done_count=15_000, source="old card file")
    found = Standing.objects.get(rule=counted)
    assert found.since == 7_000
    assert state_at(standing_value(found), at=now) is State.NOT_DUE
    row = Completion.objects.get()
    assert (row.declared_count, row.happened_at, row.entry.kind) == (15_000, None, "last_done")


@pytest.mark.parametrize(
    ("said", "refusal"),
    [
        ({}, Incomplete),
        ({"done_count": 22_001}, DoesNotFit),
        ({"done_on": date(2026, 11, 26)}, DoesNotFit),
    ],
)
def test_older_records_cannot_say_what_is_not_possible(
    doing: Doing, counted: CareRule, said: dict[str, object], refusal: type[Exception]
) -> None:
    with pytest.raises(refusal):
        declare_last_done(doing, rule=counted, source="card", **said)  # type: ignore[arg-type]


def test_our_own_logbook_is_newer_than_older_records(
    doing: Doing, counted: CareRule, now: datetime
) -> None:
    entry = factories.entry(counted.mold.chain, author=doing.person)  # type: ignore[union-attr]
    Completion.objects.create(
        rule=counted, happened_at=now, person=doing.person, entry=entry, written_at=now
    )
    with pytest.raises(DoesNotFit, match="our own logbook"):
        declare_last_done(doing, rule=counted, done_count=15_000, source="old card file")
