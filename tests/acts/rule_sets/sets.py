"""What tests of rule sets look at: a rule of the set, its copy on a mold, and what is planned."""

from datetime import datetime

from moldcare.acts.rules import (
    Becomes,
    SetOnMold,
    plan_set,
)
from moldcare.care.convert import rule_terms
from moldcare.care.models import CareRule, RuleSet, SetRule
from moldcare.core.due import interval_count
from moldcare.molds.models import Mold


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
