"""Sets and their rules are added, changed and withdrawn, each time with a reason."""

from collections.abc import Callable
from datetime import datetime

import pytest

from moldcare.acts.doing import Doing
from moldcare.acts.errors import DoesNotFit, Incomplete, NotAllowed, NotFound
from moldcare.acts.rules import (
    NewStep,
    add_rule_set,
    add_set_rule,
    apply_rule_set,
    change_rule,
    change_rule_set,
    change_set_rule,
    copy_rule_set,
    leave_set_change,
    withdraw_rule,
    withdraw_rule_set,
    withdraw_set_rule,
    write_rule,
)
from moldcare.acts.starting_sets import load_starting_sets
from moldcare.care.meant_for import MeantFor
from moldcare.care.models import CareRule, Family, RuleSet, RuleVersion, SetRule
from moldcare.care.set_queries import sets_behind, sets_in_use
from moldcare.core.errors import CoversInCircle, TermsContradict
from moldcare.logbook.models import Chain, Entry
from moldcare.molds.models import Mold
from moldcare.plant.models import Person
from tests.acts.rule_sets.sets import copy_on, keys, wipe_of


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
