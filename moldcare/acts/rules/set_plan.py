"""What a rule set would change on molds: worked out without writing anything."""

from collections.abc import Collection, Iterable, Mapping
from copy import copy
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from typing import Any

from moldcare.acts.rules.steps import NewStep, step_facts, tidied
from moldcare.acts.rules.writing import new_rule
from moldcare.care.convert import TERM_FIELDS, rule_terms
from moldcare.care.models import CareRule, RuleSet, SetRule, Step, TakenSet
from moldcare.care.starting_rules import factors_of
from moldcare.core.due import check_terms
from moldcare.core.errors import DomainError
from moldcare.molds.models import Mold, name_key
from moldcare.work.models import StepValue


class Becomes(StrEnum):
    """What becomes of one rule of a set on one mold."""

    NEW = "new"
    CHANGED = "changed"
    SAME = "same"
    ADJUSTED = "adjusted"
    OWN = "own"
    WITHDRAWN = "withdrawn"
    UNWANTED = "unwanted"
    LEFT_ASIDE = "left_aside"
    BEGUN = "begun"
    REFUSED = "refused"
    GONE = "gone"


#: What taking the set writes; everything else stays as it is.
WRITES = frozenset({Becomes.NEW, Becomes.CHANGED})
#: What stays for now, so that the change is offered again.
OPEN = frozenset({Becomes.BEGUN, Becomes.REFUSED})


@dataclass(frozen=True, kw_only=True, slots=True)
class RuleOnMold:
    """One rule of a set on one mold: as it is there, and as the set would have it.

    `why` says what keeps it from being taken: the number of an order, or what was refused.
    """

    becomes: Becomes
    row: SetRule
    rule: CareRule | None
    wanted: CareRule
    steps: list[NewStep] = field(default_factory=list)
    differing: tuple[str, ...] = ()
    steps_differ: bool = False
    why: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class SetOnMold:
    """What a set would change on one mold; `taken` says what the mold took of it before."""

    mold: Mold
    rules: list[RuleOnMold]
    taken: TakenSet | None

    @property
    def writes(self) -> list[RuleOnMold]:
        """What would be written."""
        return [each for each in self.rules if each.becomes in WRITES]

    def of(self, *kinds: Becomes) -> list[RuleOnMold]:
        """Return the rules that become one of these."""
        return [each for each in self.rules if each.becomes in kinds]


@dataclass(frozen=True, kw_only=True, slots=True)
class _Beside:
    """What molds have beside the set: read once for all of them."""

    copies: Mapping[tuple[int, int], CareRule]
    names: Mapping[int, dict[str, int]]
    steps: Mapping[int, list[NewStep]]
    begun: Mapping[int, int]


def plan_set(
    rule_set: RuleSet,
    *,
    molds: Iterable[Mold],
    at: datetime,
    without: Collection[int] | None = None,
    unwanted: Collection[int] = (),
) -> list[SetOnMold]:
    """Return what taking a set would change on each mold, in a fixed number of queries.

    `without` are the keys of the set rules that the molds are not to have; where it is None, what
    a mold left out when it took the set stays out, and a change that was left aside there is not
    offered before the next one of the same rule. `unwanted` are left out besides.
    """
    wanted_by = list(molds)
    keys = [mold.pk for mold in wanted_by]
    rows = list(SetRule.objects.filter(rule_set=rule_set).select_related("family").order_by("id"))
    taken = {row.mold_id: row for row in TakenSet.objects.filter(rule_set=rule_set, mold__in=keys)}
    beside = _beside(rows, molds=keys)
    found = []
    for mold in wanted_by:
        earlier = taken.get(mold.pk)
        left_out, left_aside = set(without or ()), set(without or ())
        if without is None and earlier is not None:
            left_out = set(earlier.without)
            left_aside = _left_aside(earlier, rows=rows)
        left_out |= set(unwanted)
        left_aside |= set(unwanted)
        rules = [
            each
            for row in rows
            if (
                each := _on_mold(
                    row,
                    mold=mold,
                    beside=beside,
                    is_left_out=row.pk in left_out,
                    is_left_aside=row.pk in left_aside,
                    at=at,
                )
            )
            is not None
        ]
        found.append(SetOnMold(mold=mold, rules=rules, taken=earlier))
    return found


def _left_aside(taken: TakenSet, *, rows: list[SetRule]) -> set[int]:
    """Return the rules whose last change was not wanted on a mold."""
    return {row.pk for row in rows if taken.left_aside.get(str(row.pk)) == row.changed_in}


def _beside(rows: list[SetRule], *, molds: list[int]) -> _Beside:
    copies: dict[tuple[int, int], CareRule] = {}
    of_set = CareRule.objects.filter(mold__in=molds, from_set_rule__in=[row.pk for row in rows])
    for rule in of_set.select_related("family").order_by("id"):
        if rule.mold_id is not None and rule.from_set_rule_id is not None:
            copies[rule.mold_id, rule.from_set_rule_id] = rule
    names: dict[int, dict[str, int]] = {}
    in_force = CareRule.objects.filter(mold__in=molds, withdrawn_at__isnull=True)
    for mold_id, name, pk in in_force.values_list("mold_id", "name", "pk"):
        if mold_id is not None:
            names.setdefault(mold_id, {})[name_key(name)] = pk
    live = [rule.pk for rule in copies.values() if rule.withdrawn_at is None]
    steps: dict[int, list[NewStep]] = {}
    for step in Step.objects.filter(rule__in=live).order_by("rule_id", "place"):
        steps.setdefault(step.rule_id, []).append(NewStep.of_row(step))
    begun = StepValue.objects.filter(
        task__rule__in=live, order__signed_at__isnull=True, order__struck_out_at__isnull=True
    ).order_by()
    orders = dict(begun.values_list("task__rule_id", "order__number").distinct())
    return _Beside(copies=copies, names=names, steps=steps, begun=orders)


def _on_mold(
    row: SetRule,
    *,
    mold: Mold,
    beside: _Beside,
    is_left_out: bool,
    is_left_aside: bool,
    at: datetime,
) -> RuleOnMold | None:
    """Return what becomes of a rule of the set; None where it is in neither."""
    rule = beside.copies.get((mold.pk, row.pk))
    steps = tidied([NewStep.kept(step) for step in row.steps])
    values = values_on(row, mold=mold)
    wanted = new_rule(mold, at=at) if rule is None else copy(rule)
    for name, value in values.items():
        setattr(wanted, name, value)
    wanted.from_set_rule, wanted.reason = row, row.reason

    def it(becomes: Becomes, why: str = "", **more: Any) -> RuleOnMold:
        return RuleOnMold(
            becomes=becomes, row=row, rule=rule, wanted=wanted, steps=steps, why=why, **more
        )

    if row.withdrawn_at is not None:
        return None if rule is None or rule.withdrawn_at is not None else it(Becomes.GONE)
    if rule is not None and rule.withdrawn_at is not None:
        return it(Becomes.WITHDRAWN)
    if rule is None and is_left_out:
        return it(Becomes.UNWANTED)
    same_name = beside.names.get(mold.pk, {}).get(name_key(row.name))
    if rule is None and same_name is not None:
        return it(Becomes.OWN)
    refused = _refusal(wanted)
    if rule is None:
        return it(Becomes.REFUSED, refused) if refused else it(Becomes.NEW)
    differing = tuple(name for name in TERM_FIELDS if getattr(rule, name) != values[name])
    steps_differ = step_facts(beside.steps.get(rule.pk, [])) != step_facts(steps)
    differs: dict[str, Any] = {"differing": differing, "steps_differ": steps_differ}
    if rule.is_adjusted:
        return it(Becomes.ADJUSTED, **differs)
    if not differing and not steps_differ:
        return it(Becomes.SAME)
    if is_left_aside:
        return it(Becomes.LEFT_ASIDE, **differs)
    if same_name not in (None, rule.pk):
        return it(Becomes.OWN, **differs)
    if refused:
        return it(Becomes.REFUSED, refused, **differs)
    if steps_differ and rule.pk in beside.begun:
        return it(Becomes.BEGUN, str(beside.begun[rule.pk]), **differs)
    return it(Becomes.CHANGED, **differs)


def _refusal(rule: CareRule) -> str:
    try:
        check_terms(rule_terms(rule))
    except DomainError as error:
        return str(error)
    return ""


def values_on(row: SetRule, *, mold: Mold) -> dict[str, Any]:
    """Return what the set asks of a mold: a factor that the set leaves at 1 is the mold's own."""
    values: dict[str, Any] = {name: getattr(row, name) for name in TERM_FIELDS}
    resin, filler = factors_of(
        by_resin=row.by_resin,
        by_filler=row.by_filler,
        resin_group=mold.resin_group,
        filler=mold.filler,
    )
    if row.factor_resin == 1:
        values["factor_resin"] = resin
    if row.factor_filler == 1:
        values["factor_filler"] = filler
    return values
