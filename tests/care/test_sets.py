"""Rule sets as rows: what the database holds true of them, and how older plants come by it."""

from collections.abc import Callable
from datetime import datetime
from importlib import import_module

import pytest
from django.apps import apps
from django.db import IntegrityError, transaction

from moldcare.care.models import CareRule, RuleSet, SetRule, TakenSet
from moldcare.care.set_queries import sets_behind, sets_with_use
from moldcare.molds.models import Mold
from tests import factories

pytestmark = pytest.mark.django_db


def set_rule(rule_set: RuleSet, name: str, **fields: object) -> SetRule:
    given = {"family": factories.family(), "count_base": 100, "reason": "common", **fields}
    return SetRule.objects.create(rule_set=rule_set, name=name, **given)


def taken(mold: Mold, rule_set: RuleSet, *, revision: int, at: datetime) -> TakenSet:
    return TakenSet.objects.create(mold=mold, rule_set=rule_set, revision=revision, taken_at=at)


def a_name_twice(now: datetime) -> None:
    rule_set = RuleSet.objects.create(name="ours")
    for _ in range(2):
        set_rule(rule_set, "Wipe")


def a_name_of_two_sets(now: datetime) -> None:
    # that of one that was withdrawn is free
    RuleSet.objects.create(name="ours", withdrawn_at=now)
    for _ in range(2):
        RuleSet.objects.create(name="ours")


def a_set_taken_twice(now: datetime) -> None:
    rule_set, mold = RuleSet.objects.create(name="ours"), factories.mold()
    for revision in (1, 2):
        taken(mold, rule_set, revision=revision, at=now)


def an_equipment_that_is_none(now: datetime) -> None:
    RuleSet.objects.create(name="ours", equipment="wheels")


@pytest.mark.parametrize(
    "never",
    [a_name_twice, a_name_of_two_sets, a_set_taken_twice, an_equipment_that_is_none],
    ids=lambda f: f.__name__,
)
def test_the_database_refuses_what_can_never_be_true_of_a_set(
    never: Callable[[datetime], None], now: datetime
) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        never(now)


def test_the_name_of_a_rule_that_was_taken_out_is_free_again(now: datetime) -> None:
    rule_set = RuleSet.objects.create(name="ours")
    set_rule(rule_set, "Wipe", withdrawn_at=now)
    set_rule(rule_set, "Wipe")
    assert sets_with_use().get().size == 1  # type: ignore[attr-defined]


def test_use_of_a_set_leaves_withdrawn_molds_out(now: datetime) -> None:
    rule_set = RuleSet.objects.create(name="ours", revision=3)
    molds = [factories.mold() for _ in range(3)]
    for mold, revision in zip(molds, (2, 3, 1), strict=True):
        taken(mold, rule_set, revision=revision, at=now)
    Mold.objects.filter(pk=molds[2].pk).update(withdrawn_at=now)
    row = sets_with_use().get()
    assert (row.molds, row.behind) == (2, 1)  # type: ignore[attr-defined]
    assert [sets_behind(mold) for mold in molds[:2]] == [[rule_set], []]


def test_a_plant_that_has_copies_of_sets_already_is_told_which_it_took() -> None:
    vents, guides = factories.family(key="vents"), factories.family(key="lubrication")
    rule_set = RuleSet.objects.create(name="A-grade finish")
    wipe = set_rule(rule_set, "Wipe", family=vents, count_basis="shots")
    grease = set_rule(rule_set, "Grease", family=guides, count_basis="cycles")
    with_it, without = factories.mold(), factories.mold()
    copy = factories.care_rule(mold=with_it, family=vents, name="Wipe")
    CareRule.objects.filter(pk=copy.pk).update(from_set_rule=wipe)
    factories.care_rule(mold=without, family=vents, name="Wipe")

    import_module("moldcare.care.migrations.0003_sets_taken_so_far").fill(apps, None)

    row = TakenSet.objects.get()
    assert (row.mold, row.rule_set, row.revision) == (with_it, rule_set, 1)
    assert (row.without, row.taken_at) == ([grease.pk], copy.entered_at)
    for rule in (wipe, grease, rule_set):
        rule.refresh_from_db()
    assert (wipe.by_resin, wipe.by_filler) == (True, False)
    assert (grease.by_resin, grease.by_filler) == (False, True)
    assert rule_set.finishes == ["A-1", "A-2", "A-3"]
