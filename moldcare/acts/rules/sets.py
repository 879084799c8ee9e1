"""Copying a rule set to a mold: what the mold has adjusted is never overwritten."""

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing, once
from moldcare.acts.errors import DoesNotFit
from moldcare.acts.locks import lock_mold
from moldcare.acts.refresh import refresh_care
from moldcare.acts.rights import Right, require
from moldcare.acts.rules.covering import put_covers
from moldcare.acts.rules.steps import NewStep, tidied
from moldcare.acts.rules.writing import new_rule, save_changed, save_new, set_values
from moldcare.care.models import CareRule, Cover, RuleSet, SetRule
from moldcare.care.starting_rules import starting_factors
from moldcare.molds.models import Mold, name_key


@dataclass(frozen=True, kw_only=True, slots=True)
class RulesCopied:
    """Names of the rules that were written, brought up to date, left alone, and left out.

    Left alone are those that the mold has adjusted or has written itself under the same name;
    left out those that it withdrew, or that were not wanted.
    """

    written: list[str]
    updated: list[str]
    left_alone: list[str]
    left_out: list[str]


def copy_rule_set(
    doing: Doing, *, mold: Mold, rule_set: RuleSet, without: Collection[int] = ()
) -> RulesCopied:
    """Give a mold the rules of a set, with the factors of its resin and filler.

    `without` are keys of set rules that it is not to have. To copy twice copies once: a rule that
    is there and as the set has it stays as it is; one that the set has changed since is brought up
    to date unless somebody has adjusted it on this mold.

    Raises
    ------
    DoesNotFit
        If the set has no rules.
    """
    require(doing.person, Right.EDIT_RULES)
    unwanted = sorted(set(without))

    def do() -> dict[str, Any]:
        held = lock_mold(mold)
        rows = list(
            SetRule.objects.filter(rule_set=rule_set).select_related("family").order_by("id")
        )
        if not rows:
            raise DoesNotFit(
                _("Rule set “%(name)s” has no rules. Choose another.") % {"name": rule_set.name}
            )
        answer = RulesCopied(written=[], updated=[], left_alone=[], left_out=[])
        copies = _copies(held)
        taken = _names_in_force(held)
        made: dict[str, CareRule] = {}
        for row in rows:
            copy = copies.get(row.pk)
            if row.pk in unwanted or (copy is not None and copy.withdrawn_at is not None):
                answer.left_out.append(row.name)
            elif copy is None and name_key(row.name) in taken:
                answer.left_alone.append(row.name)
            elif copy is None:
                made[row.name] = _write(doing, row, mold=held, rule_set=rule_set)
                answer.written.append(row.name)
            elif copy.is_adjusted:
                answer.left_alone.append(row.name)
            elif _update(doing, copy, row=row, mold=held, rule_set=rule_set):
                answer.updated.append(row.name)
        _cover(held, rows=rows, made=made)
        refresh_care(molds=[held.pk])
        return {
            "written": answer.written,
            "updated": answer.updated,
            "left_alone": answer.left_alone,
            "left_out": answer.left_out,
        }

    body = {"mold": mold, "rule_set": rule_set, "without": unwanted}
    return RulesCopied(**once(doing, "copy_rule_set", body, do))


def _copies(mold: Mold) -> dict[int, CareRule]:
    """Return the newest copy of each set rule on a mold, by the set rule's key."""
    newest: dict[int, CareRule] = {}
    rules = CareRule.objects.filter(mold=mold, from_set_rule__isnull=False)
    for rule in rules.select_related("family").order_by("id"):
        if rule.from_set_rule_id is not None:
            newest[rule.from_set_rule_id] = rule
    return newest


def _names_in_force(mold: Mold) -> set[str]:
    rules = CareRule.objects.filter(mold=mold, withdrawn_at__isnull=True)
    return {name_key(name) for name in rules.values_list("name", flat=True)}


def _values(row: SetRule, *, mold: Mold) -> dict[str, Any]:
    """Return what the set asks of this mold: where the set leaves a factor at 1, its resin's."""
    values = set_values(row)
    resin, filler = starting_factors(
        family=row.family.key,
        count_basis=row.count_basis,
        resin_group=mold.resin_group,
        filler=mold.filler,
    )
    if row.factor_resin == 1:
        values["factor_resin"] = resin
    if row.factor_filler == 1:
        values["factor_filler"] = filler
    return values


def _write(doing: Doing, row: SetRule, *, mold: Mold, rule_set: RuleSet) -> CareRule:
    rule = new_rule(mold, at=doing.now)
    for name, value in _values(row, mold=mold).items():
        setattr(rule, name, value)
    rule.from_set_rule = row
    rule.reason = row.reason or f"rule set {rule_set.name}"
    steps = tidied([NewStep.kept(step) for step in row.steps])
    save_new(doing, rule, subject=mold, steps=steps, covers=())
    return rule


def _update(doing: Doing, rule: CareRule, *, row: SetRule, mold: Mold, rule_set: RuleSet) -> bool:
    version = save_changed(
        doing,
        rule,
        subject=mold,
        changes=_values(row, mold=mold),
        reason=row.reason or f"rule set {rule_set.name}",
        steps=tidied([NewStep.kept(step) for step in row.steps]),
        covers=None,
        is_adjusted=False,
    )
    return version is not None


def _cover(mold: Mold, *, rows: list[SetRule], made: dict[str, CareRule]) -> None:
    """Give the new copies the covers that the set names, among the rules that the mold has."""
    there = {
        rule.name: rule for rule in CareRule.objects.filter(mold=mold, withdrawn_at__isnull=True)
    }
    for row in rows:
        if row.name not in made:
            continue
        rule = made[row.name]
        wanted = {there[name].pk for name in row.covers if name in there}
        old = set(Cover.objects.filter(covering=rule).values_list("covered_id", flat=True))
        if wanted - old:
            put_covers(rule, wanted | old)
