"""Putting the planned rules on the molds, through the acts."""

from collections.abc import Sequence
from datetime import date

from moldcare.acts.doing import Doing
from moldcare.acts.rules import NewStep, change_rule, copy_rule_set, declare_last_done, write_rule
from moldcare.care.models import CareRule, Family, RuleSet, SetRule
from moldcare.demo.care import RulePlan
from moldcare.molds.models import Auxiliary, Mold

OLD_CARDS = "the mold's old card"


def set_rules() -> dict[tuple[str, str], SetRule]:
    """Return the rules of all sets by the names of set and rule."""
    rows = SetRule.objects.select_related("rule_set").order_by("rule_set_id", "id")
    return {(row.rule_set.name, row.name): row for row in rows}


def put_rules(
    doing: Doing,
    *,
    mold: Mold,
    plans: Sequence[RulePlan],
    known: dict[tuple[str, str], SetRule],
) -> list[CareRule]:
    """Copy rules of sets to a mold and adjust them."""
    wanted = {(plan.set_name, plan.name): plan for plan in plans}
    for name in dict.fromkeys(plan.set_name for plan in plans):
        without = [row.pk for key, row in known.items() if key[0] == name and key not in wanted]
        rule_set = RuleSet(pk=next(row.rule_set_id for key, row in known.items() if key[0] == name))
        rule_set.name = name
        copy_rule_set(doing, mold=mold, rule_set=rule_set, without=without)
    rules = list(CareRule.objects.filter(mold=mold).select_related("family").order_by("id"))
    by_name = {plan.name: plan for plan in plans}
    for rule in rules:
        plan = by_name[rule.name]
        changes = {
            name: value for name, value in plan.changes.items() if getattr(rule, name) != value
        }
        if changes:
            change_rule(doing, rule=rule, changes=changes, reason=plan.reason)
    return list(CareRule.objects.filter(mold=mold).select_related("family").order_by("id"))


def say_last_done(doing: Doing, *, rule: CareRule, on: date, count: int | None) -> None:
    """Say when a rule was last done before the records begin."""
    declare_last_done(doing, rule=rule, done_on=on, done_count=count, source=OLD_CARDS)


def put_auxiliary_rule(doing: Doing, *, auxiliary: Auxiliary, name: str, days: int) -> CareRule:
    """Give an auxiliary a rule by the calendar."""
    written = write_rule(
        doing,
        of=auxiliary,
        terms={
            "name": name,
            "family": Family.objects.get(key="inspection"),
            "count_base": None,
            "period_n": days,
            "period_unit": "day",
            "reach": "closed",
            "where_done": "bench",
            "minutes": 20,
        },
        reason="by the maker's manual, as the plant reads it",
        steps=[
            NewStep(text="Look it over as the maker's manual says; note what is worn or leaks."),
            NewStep(text="Set right what can be; tag it and put it aside if it must not be used."),
        ],
    )
    return CareRule.objects.get(pk=written.row_id)
