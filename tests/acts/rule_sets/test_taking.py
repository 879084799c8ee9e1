"""A set is taken by many molds after a look, once, without what is not wanted."""

from datetime import datetime
from decimal import Decimal
from uuid import uuid4

import pytest

from moldcare.acts.doing import Doing
from moldcare.acts.errors import DoesNotFit, Incomplete, NotFound
from moldcare.acts.rules import (
    MOST_MOLDS,
    Becomes,
    apply_rule_set,
    change_set_rule,
    copy_rule_set,
    plan_set,
)
from moldcare.care.convert import rule_terms
from moldcare.care.models import CareRule, Family, RuleSet, RuleVersion, SetRule, Standing, TakenSet
from moldcare.core.due import interval_count
from moldcare.logbook.models import Entry
from moldcare.logbook.verify import verify_logbook
from moldcare.molds.models import Mold
from moldcare.plant.models import Person
from tests import factories
from tests.acts.rule_sets.sets import copy_on, interval_on, keys, planned, wipe_of


def test_a_look_writes_nothing_and_says_what_each_mold_would_get(
    rule_set: RuleSet, molds: list[Mold], now: datetime
) -> None:
    plans = plan_set(rule_set, molds=molds, at=now)
    assert planned(plans) == [{"Wipe": Becomes.NEW, "Clean": Becomes.NEW}] * 3
    # 20,000 x 0.6 (gassy) x 0.6 (glass) = 7,200: the factors of the trade, from memory
    intervals = []
    for plan in plans:
        terms = rule_terms(plan.rules[0].wanted)
        assert terms.count is not None
        intervals.append(interval_count(terms.count, factors=terms.factors))
    # 0.5 x 0.6 is 0.3, the least part of a base that factors leave
    assert intervals == [20_000, 7_200, 6_000]
    assert not CareRule.objects.exists()
    assert not TakenSet.objects.exists()
    assert not Entry.objects.exists()


def test_factors_never_bring_an_interval_below_three_tenths_of_its_base(
    doing: Doing, rule_set: RuleSet, molds: list[Mold]
) -> None:
    SetRule.objects.filter(name="Wipe").update(factor_finish=Decimal("0.5"))
    copy_rule_set(doing, mold=molds[2], rule_set=rule_set)
    # 0.5 x 0.6 x 0.5 would be 0.15
    assert interval_on(molds[2]) == 6_000


def test_a_set_is_taken_by_many_molds_with_an_entry_a_mold_and_rule(
    doing: Doing, rule_set: RuleSet, molds: list[Mold]
) -> None:
    applied = apply_rule_set(doing, rule_set=rule_set, molds=keys(molds))
    assert (applied.molds, applied.written, applied.updated, applied.refused) == (3, 6, 0, [])
    assert [interval_on(mold) for mold in molds] == [20_000, 7_200, 6_000]
    for mold in molds:
        entries = list(Entry.objects.filter(chain=mold.chain).order_by("number"))
        assert [entry.kind for entry in entries] == ["rule_written"] * 2
        assert entries[0].sentence.startswith("Care rule “Wipe” written: every ")
        rule = copy_on(mold)
        assert [step.text for step in rule.steps.all()] == ["Look", "Wipe"]
        assert rule.versions.get().entry == entries[0]
        assert [cover.covered for cover in copy_on(mold, "Clean").covers.all()] == [rule]
        assert Standing.objects.filter(rule=rule).exists()
    assert not verify_logbook(with_photos=False).difference


def test_taking_a_set_twice_takes_it_once(
    lead: Person, now: datetime, rule_set: RuleSet, molds: list[Mold]
) -> None:
    doing = Doing(person=lead, now=now, hand_in=uuid4())
    first = apply_rule_set(doing, rule_set=rule_set, molds=keys(molds))
    assert apply_rule_set(doing, rule_set=rule_set, molds=keys(molds)) == first
    other = Doing(person=lead, now=now, hand_in=uuid4())
    again = apply_rule_set(other, rule_set=rule_set, molds=keys(molds))
    assert (again.written, again.updated) == (0, 0)
    assert CareRule.objects.count() == RuleVersion.objects.count() == Entry.objects.count() == 6


def test_one_way_and_the_other_write_the_same(
    doing: Doing, rule_set: RuleSet, family: Family
) -> None:
    one, many = factories.mold(resin_group="gassy"), factories.mold(resin_group="gassy")
    copy_rule_set(doing, mold=one, rule_set=rule_set)
    apply_rule_set(doing, rule_set=rule_set, molds=[many.pk])

    def kept(mold: Mold) -> list[object]:
        rules = CareRule.objects.filter(mold=mold).order_by("id")
        return [(rule.versions.get().terms, rule.reason, rule.from_set_rule) for rule in rules]

    assert kept(one) == kept(many)


def test_no_mold_too_many_and_strangers_are_refused(
    doing: Doing, rule_set: RuleSet, molds: list[Mold], now: datetime
) -> None:
    with pytest.raises(Incomplete, match="Tick the molds"):
        apply_rule_set(doing, rule_set=rule_set, molds=[])
    with pytest.raises(Incomplete, match="Narrow the list"):
        apply_rule_set(doing, rule_set=rule_set, molds=range(1, MOST_MOLDS + 2))
    Mold.objects.filter(pk=molds[1].pk).update(withdrawn_at=now)
    with pytest.raises(NotFound, match="Mold 2 was withdrawn"):
        apply_rule_set(doing, rule_set=rule_set, molds=keys(molds))
    with pytest.raises(DoesNotFit, match="has no rules"):
        apply_rule_set(doing, rule_set=RuleSet.objects.create(name="empty"), molds=[molds[0].pk])
    assert not CareRule.objects.exists()
    assert not TakenSet.objects.exists()


def test_what_was_left_out_stays_out_when_the_set_is_taken_again(
    doing: Doing, rule_set: RuleSet, molds: list[Mold], now: datetime
) -> None:
    clean = SetRule.objects.get(name="Clean")
    copy_rule_set(doing, mold=molds[0], rule_set=rule_set, without=[clean.pk])
    apply_rule_set(doing, rule_set=rule_set, molds=keys(molds[:2]))
    assert [rule.name for rule in CareRule.objects.filter(mold=molds[0])] == ["Wipe"]
    assert CareRule.objects.filter(mold=molds[1]).count() == 2
    # said for this mold anew, it comes
    copied = copy_rule_set(doing, mold=molds[0], rule_set=rule_set, without=())
    assert copied.written == ["Clean"]


def test_limits_that_a_mold_s_factors_break_are_said_and_the_others_are_taken(
    doing: Doing, rule_set: RuleSet, molds: list[Mold]
) -> None:
    # due soon 8,000 before: less than 20,000, but more than 20,000 x 0.6 x 0.6
    change_set_rule(doing, row=wipe_of(rule_set), changes={"lead_count": 8_000}, reason="early")
    applied = apply_rule_set(doing, rule_set=rule_set, molds=keys(molds[:2]))
    assert applied.written == 3
    (said,) = applied.refused
    assert said.startswith("2: Wipe: The lead of 8,000 by count is not shorter")
    assert CareRule.objects.filter(mold=molds[1]).count() == 1
