"""A change of a set is offered, taken whole or in part, left aside, and never forced."""

from datetime import datetime

import pytest

from moldcare.acts.doing import Doing
from moldcare.acts.errors import Incomplete
from moldcare.acts.molds import copy_mold
from moldcare.acts.rules import (
    Becomes,
    NewStep,
    add_set_rule,
    apply_rule_set,
    change_rule,
    change_set_rule,
    changes_of,
    copy_rule_set,
    leave_set_change,
    plan_set,
    withdraw_set_rule,
)
from moldcare.care.models import CareRule, Family, RuleSet, SetRule
from moldcare.care.set_queries import sets_behind, sets_with_use
from moldcare.logbook.models import Chain, Entry
from moldcare.molds.models import Mold
from moldcare.work.models import StepValue
from tests import factories
from tests.acts.rule_sets.sets import as_planned, copy_on, interval_on, keys, wipe_of


def test_a_change_of_a_set_is_offered_and_changes_no_mold(
    doing: Doing, rule_set: RuleSet, molds: list[Mold], now: datetime
) -> None:
    apply_rule_set(doing, rule_set=rule_set, molds=keys(molds[:2]))
    entries = Entry.objects.count()
    written = change_set_rule(
        doing, row=wipe_of(rule_set), changes={"count_base": 15_000}, reason="found heavy twice"
    )
    assert written.revision == 2
    assert [interval_on(mold) for mold in molds[:2]] == [20_000, 7_200]
    assert sets_with_use().get(pk=rule_set.pk).behind == 2
    assert sets_behind(molds[0]) == [rule_set]
    assert sets_behind(molds[2]) == []
    entry = Entry.objects.get(kind="set_rule_changed")
    assert Entry.objects.count() == entries + 1
    assert entry.chain.kind == Chain.Kind.PLANT
    assert entry.sentence == (
        "“Wipe” of rule set “every mold” changed: count: 20,000 → 15,000. "
        "It now asks every 15,000 shots. Reason: found heavy twice."
    )
    assert [row.pk for row in changes_of(rule_set, most=5)] == [entry.pk]


def test_an_offered_change_is_taken_by_those_that_were_ticked_with_a_reason(
    doing: Doing, rule_set: RuleSet, molds: list[Mold], now: datetime
) -> None:
    apply_rule_set(doing, rule_set=rule_set, molds=keys(molds))
    change_rule(doing, rule=copy_on(molds[1]), changes={"count_base": 9_000}, reason="ours")
    change_set_rule(
        doing,
        row=wipe_of(rule_set),
        changes={"count_base": 15_000},
        steps=[NewStep(text="Look"), NewStep(text="Brush")],
        reason="found heavy twice",
    )
    assert as_planned(rule_set, molds, now) == [
        {"Wipe": Becomes.CHANGED, "Clean": Becomes.SAME},
        {"Wipe": Becomes.ADJUSTED, "Clean": Becomes.SAME},
        {"Wipe": Becomes.CHANGED, "Clean": Becomes.SAME},
    ]
    with pytest.raises(Incomplete, match="Give the reason"):
        apply_rule_set(doing, rule_set=rule_set, molds=keys(molds[:2]), reason=" ")
    assert interval_on(molds[0]) == 20_000
    applied = apply_rule_set(
        doing, rule_set=rule_set, molds=keys(molds[:2]), reason="agreed on Monday"
    )
    assert (applied.updated, applied.left_alone) == (1, 1)
    # 9,000 x 0.6 x 0.6: what the mold adjusted, untouched
    assert [interval_on(mold) for mold in molds] == [15_000, 3_240, 6_000]
    rule = copy_on(molds[0])
    assert (rule.is_adjusted, rule.reason) == (False, "agreed on Monday")
    assert [step.text for step in rule.steps.all()] == ["Look", "Brush"]
    entry = Entry.objects.filter(chain=molds[0].chain).order_by("-number")[0]
    assert "count: 20,000 → 15,000" in entry.sentence
    assert entry.sentence.endswith("Reason: agreed on Monday.")
    # the third was not ticked: it is offered the change still
    assert sets_with_use().get(pk=rule_set.pk).behind == 1
    assert sets_behind(molds[2]) == [rule_set]


def test_a_change_that_is_left_aside_is_not_offered_again(
    doing: Doing, rule_set: RuleSet, molds: list[Mold], now: datetime
) -> None:
    apply_rule_set(doing, rule_set=rule_set, molds=keys(molds))
    change_set_rule(doing, row=wipe_of(rule_set), changes={"count_base": 15_000}, reason="r")
    with pytest.raises(Incomplete, match="Give the reason"):
        leave_set_change(doing, rule_set=rule_set, molds=[molds[0].pk], reason="")
    left = leave_set_change(
        doing, rule_set=rule_set, molds=[molds[0].pk], reason="this one runs clean"
    )
    assert left.molds == 1
    assert sets_behind(molds[0]) == []
    assert interval_on(molds[0]) == 20_000
    entry = Entry.objects.get(kind="set_change_left")
    assert entry.chain == molds[0].chain
    assert "Reason: this one runs clean." in entry.sentence
    assert "left aside: “Wipe”;" in entry.sentence
    # the next change is offered again
    change_set_rule(doing, row=wipe_of(rule_set), changes={"minutes": 25}, reason="timed it")
    assert sets_behind(molds[0]) == [rule_set]
    assert as_planned(rule_set, molds[:1], now)[0]["Wipe"] is Becomes.CHANGED


def test_what_was_left_aside_does_not_come_with_the_change_of_another_rule(
    doing: Doing, rule_set: RuleSet, molds: list[Mold], family: Family, now: datetime
) -> None:
    apply_rule_set(doing, rule_set=rule_set, molds=keys(molds[:1]))
    change_set_rule(doing, row=wipe_of(rule_set), changes={"count_base": 15_000}, reason="r")
    terms = {"name": "Measure", "family": family, "count_base": 900_000}
    add_set_rule(doing, rule_set=rule_set, terms=terms, reason="vents were hobbed")
    leave_set_change(doing, rule_set=rule_set, molds=keys(molds[:1]), reason="it runs clean")
    clean = SetRule.objects.get(name="Clean")
    change_set_rule(doing, row=clean, changes={"count_base": 40_000}, reason="found heavy")

    assert as_planned(rule_set, molds[:1], now) == [
        {"Wipe": Becomes.LEFT_ASIDE, "Clean": Becomes.CHANGED, "Measure": Becomes.UNWANTED}
    ]
    applied = apply_rule_set(doing, rule_set=rule_set, molds=keys(molds[:1]), reason="agreed")
    assert (applied.updated, applied.written, applied.left_alone) == (1, 0, 1)
    assert interval_on(molds[0]) == 20_000
    assert copy_on(molds[0], "Clean").count_base == 40_000
    # it still stands as left aside after that, and on a mold that is built like this one
    copied = Mold.objects.get(number=copy_mold(doing, source=molds[0], number="9", name="n").number)
    for mold in (molds[0], copied):
        assert as_planned(rule_set, [mold], now)[0]["Wipe"] is Becomes.LEFT_ASIDE


def test_a_change_is_taken_in_part_and_the_rest_offered_when_it_changes_again(
    doing: Doing, rule_set: RuleSet, molds: list[Mold], now: datetime
) -> None:
    apply_rule_set(doing, rule_set=rule_set, molds=keys(molds[:1]))
    wipe, clean = wipe_of(rule_set), SetRule.objects.get(name="Clean")
    change_set_rule(doing, row=wipe, changes={"count_base": 15_000}, reason="r")
    # changed twice before anybody takes it: the newest is what is offered
    change_set_rule(doing, row=wipe, changes={"count_base": 12_000}, reason="r")
    change_set_rule(doing, row=clean, changes={"count_base": 40_000}, reason="r")
    apply_rule_set(
        doing, rule_set=rule_set, molds=keys(molds[:1]), unwanted=[clean.pk], reason="agreed"
    )
    assert interval_on(molds[0]) == 12_000
    assert copy_on(molds[0], "Clean").count_base == 50_000
    assert sets_behind(molds[0]) == []

    change_set_rule(doing, row=clean, changes={"count_base": 30_000}, reason="found heavy")
    assert as_planned(rule_set, molds[:1], now) == [
        {"Wipe": Becomes.SAME, "Clean": Becomes.CHANGED}
    ]
    # and on the mold's own page it can be taken after all
    copy_rule_set(doing, mold=molds[0], rule_set=rule_set, without=[clean.pk], reason="agreed")
    copied = copy_rule_set(doing, mold=molds[0], rule_set=rule_set, without=(), reason="agreed")
    assert copied.updated == ["Clean"]
    assert copy_on(molds[0], "Clean").count_base == 30_000


def test_a_rule_added_to_a_set_is_offered_and_one_taken_out_stays_on_its_molds(
    doing: Doing, rule_set: RuleSet, molds: list[Mold], family: Family, now: datetime
) -> None:
    apply_rule_set(doing, rule_set=rule_set, molds=keys(molds[:1]))
    add_set_rule(
        doing,
        rule_set=rule_set,
        terms={"name": "Measure", "family": family, "period_n": 365, "period_unit": "day"},
        covers=["Wipe"],
        reason="vents were hobbed",
    )
    withdraw_set_rule(doing, row=wipe_of(rule_set), reason="done by the press")
    assert as_planned(rule_set, molds[:2], now) == [
        {"Wipe": Becomes.GONE, "Clean": Becomes.SAME, "Measure": Becomes.NEW},
        {"Clean": Becomes.NEW, "Measure": Becomes.NEW},
    ]
    apply_rule_set(doing, rule_set=rule_set, molds=keys(molds[:1]))
    names = CareRule.objects.filter(mold=molds[0], withdrawn_at__isnull=True)
    assert [rule.name for rule in names.order_by("id")] == ["Wipe", "Clean", "Measure"]
    assert sets_behind(molds[0]) == []
    # its name is free in the set again
    add_set_rule(
        doing,
        rule_set=rule_set,
        terms={"name": "wipe", "family": family, "period_n": 7, "period_unit": "day"},
        reason="by hand after all",
    )


def test_a_rule_whose_steps_an_order_was_begun_with_waits_and_is_offered_again(
    doing: Doing, rule_set: RuleSet, molds: list[Mold], now: datetime
) -> None:
    apply_rule_set(doing, rule_set=rule_set, molds=keys(molds[:2]))
    rule = copy_on(molds[0])
    order = factories.order(molds[0], rules=[rule], author=doing.person)
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
    change_set_rule(
        doing, row=wipe_of(rule_set), changes={}, steps=[NewStep(text="Brush")], reason="better"
    )
    plans = plan_set(RuleSet.objects.get(pk=rule_set.pk), molds=molds[:1], at=now)
    (waits,) = plans[0].of(Becomes.BEGUN)
    assert waits.why == str(order.number)
    applied = apply_rule_set(doing, rule_set=rule_set, molds=keys(molds[:2]), reason="better")
    assert (applied.updated, applied.left_alone) == (1, 1)
    assert [step.text for step in rule.steps.all()] == ["Look", "Wipe"]
    assert sets_behind(molds[0]) == [rule_set]
    assert sets_behind(molds[1]) == []


def test_a_resin_that_changed_changes_the_factor_of_what_was_not_adjusted(
    doing: Doing, rule_set: RuleSet, molds: list[Mold]
) -> None:
    copy_rule_set(doing, mold=molds[0], rule_set=rule_set)
    Mold.objects.filter(pk=molds[0].pk).update(resin_group="medium")
    copied = copy_rule_set(doing, mold=molds[0], rule_set=rule_set, reason="runs ABS now")
    assert copied.updated == ["Wipe"]
    assert interval_on(molds[0]) == 16_000
    assert "runs ABS now" in Entry.objects.order_by("-id")[0].sentence
