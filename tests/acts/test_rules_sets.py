"""Rule sets: taken by many molds after a look, changed with a reason, offered and never forced."""

from collections.abc import Callable
from datetime import datetime
from decimal import Decimal
from uuid import uuid4

import pytest

from moldcare.acts.doing import Doing
from moldcare.acts.errors import DoesNotFit, Incomplete, NotAllowed, NotFound
from moldcare.acts.molds import copy_mold
from moldcare.acts.rules import (
    MOST_MOLDS,
    Becomes,
    NewStep,
    SetOnMold,
    add_rule_set,
    add_set_rule,
    apply_rule_set,
    change_rule,
    change_rule_set,
    change_set_rule,
    changes_of,
    copy_rule_set,
    leave_set_change,
    plan_set,
    withdraw_rule,
    withdraw_rule_set,
    withdraw_set_rule,
    write_rule,
)
from moldcare.acts.starting_sets import load_starting_sets
from moldcare.care.convert import rule_terms
from moldcare.care.meant_for import Fit, MeantFor, MoldTraits, fit_of
from moldcare.care.models import CareRule, Family, RuleSet, RuleVersion, SetRule, Standing, TakenSet
from moldcare.care.set_queries import sets_behind, sets_in_use, sets_with_use, traits_of
from moldcare.core.due import interval_count
from moldcare.core.errors import CoversInCircle, TermsContradict
from moldcare.logbook.models import Chain, Entry
from moldcare.logbook.verify import verify_logbook
from moldcare.molds.models import Circuit, Mold
from moldcare.plant.models import Person
from moldcare.work.models import StepValue
from tests import factories


@pytest.fixture
def family(db: None) -> Family:
    factories.plant()
    return factories.family(key="vents")


@pytest.fixture
def rule_set(family: Family) -> RuleSet:
    row = RuleSet.objects.create(name="every mold")
    SetRule.objects.create(
        rule_set=row,
        family=family,
        name="Wipe",
        count_base=20_000,
        count_basis="shots",
        by_resin=True,
        by_filler=True,
        steps=[{"text": "Look"}, {"text": "Wipe"}],
        reason="starting value",
    )
    SetRule.objects.create(
        rule_set=row,
        family=family,
        name="Clean",
        count_base=50_000,
        covers=["Wipe"],
        reason="starting value",
    )
    return row


@pytest.fixture
def molds(family: Family) -> list[Mold]:
    return [
        factories.mold(number="1", resin_group="mild"),
        factories.mold(number="2", resin_group="gassy", resin="POM", filler="glass"),
        factories.mold(number="3", resin_group="corrosive", filler="glass"),
    ]


def wipe_of(rule_set: RuleSet) -> SetRule:
    return SetRule.objects.get(rule_set=rule_set, name="Wipe", withdrawn_at__isnull=True)


def copy_on(mold: Mold, name: str = "Wipe") -> CareRule:
    return CareRule.objects.get(mold=mold, name=name, withdrawn_at__isnull=True)


def interval_on(mold: Mold) -> int:
    terms = rule_terms(copy_on(mold))
    assert terms.count is not None
    return interval_count(terms.count, factors=terms.factors)


def keys(molds: list[Mold]) -> list[int]:
    return [mold.pk for mold in molds]


def planned(plans: list[SetOnMold]) -> list[dict[str, Becomes]]:
    return [{each.row.name: each.becomes for each in plan.rules} for plan in plans]


def as_planned(rule_set: RuleSet, molds: list[Mold], now: datetime) -> list[dict[str, Becomes]]:
    current = RuleSet.objects.get(pk=rule_set.pk)
    return planned(plan_set(current, molds=molds, at=now))


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


def test_a_withdrawn_set_is_offered_to_nobody_and_molds_keep_their_rules(
    doing: Doing, rule_set: RuleSet, molds: list[Mold]
) -> None:
    apply_rule_set(doing, rule_set=rule_set, molds=keys(molds[:1]))
    row = wipe_of(rule_set)
    change_set_rule(doing, row=row, changes={"count_base": 15_000}, reason="r")
    with pytest.raises(Incomplete, match="Give the reason"):
        withdraw_rule_set(doing, rule_set=rule_set, reason=" ")
    withdraw_rule_set(doing, rule_set=rule_set, reason="we have sets of our own")

    entry = Entry.objects.order_by("-id")[0]
    assert (entry.kind, entry.chain.kind) == ("rule_set_withdrawn", Chain.Kind.PLANT)
    assert entry.sentence.endswith("Reason: we have sets of our own.")
    assert not sets_in_use().exists()
    assert sets_behind(molds[0]) == []
    assert CareRule.objects.filter(mold=molds[0], withdrawn_at__isnull=True).count() == 2
    refused: list[Callable[[], object]] = [
        lambda: withdraw_rule_set(doing, rule_set=rule_set, reason="again"),
        lambda: apply_rule_set(doing, rule_set=rule_set, molds=keys(molds[1:])),
        lambda: copy_rule_set(doing, mold=molds[1], rule_set=rule_set),
        lambda: leave_set_change(doing, rule_set=rule_set, molds=keys(molds[:1]), reason="r"),
        lambda: change_set_rule(doing, row=row, changes={"minutes": 9}, reason="r"),
        lambda: withdraw_set_rule(doing, row=row, reason="r"),
    ]
    for act in refused:
        with pytest.raises(NotFound, match="withdrawn"):
            act()
    # its name is free, its rules can be copied, and the starting sets do not bring it back
    add_rule_set(doing, name="every mold", copied_from=rule_set, reason="ours")
    assert sets_in_use().get().name == "every mold"
    load_starting_sets(doing)
    assert RuleSet.objects.filter(name="every mold").count() == 2


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


def test_a_resin_that_changed_changes_the_factor_of_what_was_not_adjusted(
    doing: Doing, rule_set: RuleSet, molds: list[Mold]
) -> None:
    copy_rule_set(doing, mold=molds[0], rule_set=rule_set)
    Mold.objects.filter(pk=molds[0].pk).update(resin_group="medium")
    copied = copy_rule_set(doing, mold=molds[0], rule_set=rule_set, reason="runs ABS now")
    assert copied.updated == ["Wipe"]
    assert interval_on(molds[0]) == 16_000
    assert "runs ABS now" in Entry.objects.order_by("-id")[0].sentence


def test_a_set_of_ones_own_is_added_copied_and_changed(
    doing: Doing, rule_set: RuleSet, family: Family
) -> None:
    meant = MeantFor(mold_classes=("101", "102"), finishes=("A-1",), resin_groups=("gassy",))
    added = add_rule_set(
        doing, name=" clear parts ", note="optics", meant_for=meant, reason="we make lenses"
    )
    own = RuleSet.objects.get(pk=added.row_id)
    assert (own.name, own.mold_classes, own.finishes) == ("clear parts", ["101", "102"], ["A-1"])
    copied = add_rule_set(doing, name="ours", copied_from=rule_set, reason="to start from")
    copy = RuleSet.objects.get(pk=copied.row_id)
    assert [rule.name for rule in copy.rules.order_by("id")] == ["Wipe", "Clean"]
    assert rule_set.rules.count() == 2
    change_rule_set(
        doing,
        rule_set=own,
        name="lenses",
        note="optics",
        meant_for=MeantFor(equipment="hot_runner"),
        reason="said more clearly",
    )
    own.refresh_from_db()
    assert (own.name, own.mold_classes, own.equipment) == ("lenses", [], "hot_runner")
    # whom it is for changes no rule: nothing is offered
    assert own.revision == 1
    said = [entry.sentence for entry in Entry.objects.order_by("number")]
    assert "“ours”, a copy of “every mold”, added with 2 rules. Reason: to start from." in said[1]
    assert "name: clear parts → lenses" in said[2]


@pytest.mark.parametrize(
    ("fields", "refusal"),
    [
        ({"name": "EVERY mold"}, DoesNotFit),
        ({"name": "  "}, Incomplete),
        ({"reason": " "}, Incomplete),
        ({"meant_for": MeantFor(finishes=("Z-9",))}, Incomplete),
        ({"meant_for": MeantFor(mold_classes=("109",))}, Incomplete),
        ({"meant_for": MeantFor(equipment="wheels")}, Incomplete),
        ({"name": "x" * 121}, Incomplete),
    ],
)
def test_a_set_that_cannot_stand_is_refused(
    doing: Doing, rule_set: RuleSet, fields: dict[str, object], refusal: type[Exception]
) -> None:
    given: dict[str, object] = {"name": "ours", "reason": "new", **fields}
    with pytest.raises(refusal):
        add_rule_set(doing, **given)  # type: ignore[arg-type]
    assert RuleSet.objects.count() == 1
    assert not Entry.objects.exists()


@pytest.mark.parametrize(
    ("changes", "more", "refusal"),
    [
        ({"count_base": 20_000}, {"reason": "starting value"}, DoesNotFit),
        ({"name": "clean"}, {}, DoesNotFit),
        ({"count_base": None}, {}, Incomplete),
        ({"lead_count": 20_000}, {}, TermsContradict),
        ({"name": " "}, {}, Incomplete),
        ({}, {"covers": ["Clean"]}, CoversInCircle),
        ({}, {"covers": ["Polish"]}, DoesNotFit),
        ({}, {"steps": [NewStep(text=" ")]}, Incomplete),
        ({}, {"steps": [NewStep(text="Look", kind="smell")]}, Incomplete),
        ({"count_base": 1}, {"reason": ""}, Incomplete),
    ],
)
def test_a_change_of_a_set_rule_that_cannot_stand_writes_nothing(
    doing: Doing,
    rule_set: RuleSet,
    changes: dict[str, object],
    more: dict[str, object],
    refusal: type[Exception],
) -> None:
    given: dict[str, object] = {"reason": "why not", **more}
    with pytest.raises(refusal):
        change_set_rule(doing, row=wipe_of(rule_set), changes=changes, **given)  # type: ignore[arg-type]
    rule_set.refresh_from_db()
    assert rule_set.revision == 1
    assert wipe_of(rule_set).count_base == 20_000
    assert not Entry.objects.exists()


def test_a_starting_value_that_was_checked_keeps_its_figures_and_is_offered_to_nobody(
    doing: Doing, rule_set: RuleSet, molds: list[Mold]
) -> None:
    apply_rule_set(doing, rule_set=rule_set, molds=keys(molds))
    changes = {"count_base": 20_000, "minutes": 15}
    change_set_rule(doing, row=wipe_of(rule_set), changes=changes, reason="right for us")
    assert wipe_of(rule_set).reason == "right for us"
    assert [sets_behind(mold) for mold in molds] == [[], [], []]
    assert Entry.objects.get(kind="set_rule_changed").sentence == (
        "“Wipe” of rule set “every mold” stays as it is: every 20,000 shots. Reason: right for us."
    )


def test_a_renamed_rule_of_a_set_is_still_covered(doing: Doing, rule_set: RuleSet) -> None:
    change_set_rule(doing, row=wipe_of(rule_set), changes={"name": "Wipe them"}, reason="clearer")
    assert SetRule.objects.get(name="Clean").covers == ["Wipe them"]


def test_a_technician_writes_and_takes_no_sets(
    technician: Person, now: datetime, rule_set: RuleSet, molds: list[Mold], family: Family
) -> None:
    doing = Doing(person=technician, now=now)
    row = wipe_of(rule_set)
    acts: list[Callable[[], object]] = [
        lambda: add_rule_set(doing, name="ours", reason="r"),
        lambda: change_rule_set(
            doing, rule_set=rule_set, name="x", note="", meant_for=MeantFor(), reason="r"
        ),
        lambda: add_set_rule(doing, rule_set=rule_set, terms={}, reason="r"),
        lambda: change_set_rule(doing, row=row, changes={"minutes": 1}, reason="r"),
        lambda: withdraw_set_rule(doing, row=row, reason="r"),
        lambda: withdraw_rule_set(doing, rule_set=rule_set, reason="r"),
        lambda: apply_rule_set(doing, rule_set=rule_set, molds=keys(molds)),
        lambda: leave_set_change(doing, rule_set=rule_set, molds=keys(molds), reason="r"),
    ]
    for act in acts:
        with pytest.raises(NotAllowed):
            act()
    assert not Entry.objects.exists()


def test_every_way_to_change_an_interval_asks_why_and_is_in_the_logbook(
    doing: Doing, rule_set: RuleSet, molds: list[Mold], family: Family
) -> None:
    """Writing, changing, withdrawing on a mold and in a set, and taking a set over."""
    mold = molds[0]
    apply_rule_set(doing, rule_set=rule_set, molds=[mold.pk])
    terms = {"name": "Own", "family": family, "count_base": 5_000}
    row = wipe_of(rule_set)

    def own() -> CareRule:
        return copy_on(mold, "Own")

    def set_asks(count: int) -> None:
        # a set that changed: the copy on the mold follows only with a reason
        row.refresh_from_db()
        if row.count_base != count:
            change_set_rule(doing, row=row, changes={"count_base": count}, reason="measured")

    def take_for_many(reason: str) -> object:
        set_asks(11_000)
        return apply_rule_set(doing, rule_set=rule_set, molds=[mold.pk], reason=reason)

    def take_for_one(reason: str) -> object:
        set_asks(13_000)
        return copy_rule_set(doing, mold=mold, rule_set=rule_set, reason=reason)

    ways: list[tuple[str, Callable[[str], object]]] = [
        ("rule_written", lambda why: write_rule(doing, of=mold, terms=terms, reason=why)),
        (
            "rule_changed",
            lambda why: change_rule(doing, rule=own(), changes={"count_base": 4_000}, reason=why),
        ),
        ("rule_withdrawn", lambda why: withdraw_rule(doing, rule=own(), reason=why)),
        (
            "set_rule_added",
            lambda why: add_set_rule(
                doing, rule_set=rule_set, terms={**terms, "name": "New"}, reason=why
            ),
        ),
        (
            "set_rule_changed",
            lambda why: change_set_rule(doing, row=row, changes={"count_base": 12_000}, reason=why),
        ),
        ("rule_changed", take_for_many),
        ("rule_changed", take_for_one),
        (
            "set_rule_withdrawn",
            lambda why: withdraw_set_rule(doing, row=SetRule.objects.get(name="New"), reason=why),
        ),
    ]
    for place, (kind, way) in enumerate(ways):
        with pytest.raises(Incomplete, match="Give the reason"):
            way("  ")
        before = set(Entry.objects.values_list("pk", flat=True))
        way(f"reason number {place}")
        new = Entry.objects.exclude(pk__in=before).filter(kind=kind)
        assert any(entry.sentence.endswith(f"Reason: reason number {place}.") for entry in new), (
            kind
        )
    # each version of each rule names its entry and its reason
    for version in RuleVersion.objects.select_related("entry"):
        assert version.reason
        assert version.reason in version.entry.sentence


def test_a_mold_is_proposed_the_sets_that_are_meant_for_it(doing: Doing) -> None:
    load_starting_sets(doing)
    factories.plant()
    mirror = factories.mold(mold_class="102", resin_group="corrosive", finish="SPI A2", resin="PVC")
    Circuit.objects.create(mold=mirror, ident="A1", half="A", bubblers=4)
    small = factories.mold(mold_class="105", resin_group="mild", finish="SPI B-3")
    Circuit.objects.create(mold=small, ident="A1", half="A")
    traits = traits_of([mirror, small])
    found: dict[str, list[Fit]] = {}
    for row in RuleSet.objects.order_by("id"):
        meant = MeantFor(
            mold_classes=tuple(row.mold_classes),
            resin_groups=tuple(row.resin_groups),
            fillers=tuple(row.fillers),
            finishes=tuple(row.finishes),
            equipment=row.equipment,
        )
        found[row.name] = [fit_of(meant, traits=traits[mold.pk]) for mold in (mirror, small)]
    fits, ask, does_not = Fit.FITS, Fit.ASK, Fit.DOES_NOT
    assert found == {
        "every mold": [fits, fits],
        "slides and lifters": [ask, ask],
        "A-grade finish": [fits, does_not],
        "bubblers and baffles": [fits, does_not],
        "hot runner": [ask, ask],
        "PVC and flame-retardant resins": [fits, does_not],
        "classes 104 and 105, the few that matter": [does_not, fits],
    }


@pytest.mark.parametrize(
    ("text", "fit"),
    [
        ("SPI A-2", Fit.FITS),
        ("A1 on the lens, B-2 outside", Fit.FITS),
        ("a 3", Fit.FITS),
        ("SPI B-1", Fit.DOES_NOT),
        ("VDI 3400 27", Fit.DOES_NOT),
        ("PA-2 grained", Fit.DOES_NOT),
        ("", Fit.ASK),
    ],
)
def test_a_finish_is_read_in_any_spelling(text: str, fit: Fit) -> None:
    meant = MeantFor(finishes=("A-1", "A-2", "A-3"))
    assert fit_of(meant, traits=MoldTraits(finish=text)) is fit
