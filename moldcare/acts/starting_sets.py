"""Loading the care families and rule sets that a plant begins with."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from moldcare.acts.doing import Doing, checked, once
from moldcare.acts.entries import plant_entry
from moldcare.acts.rights import Right, require
from moldcare.care.families import FAMILIES
from moldcare.care.models import Family, RuleSet, SetRule
from moldcare.care.starting_rules import STARTING_SETS, RuleStart, SetStart


@dataclass(frozen=True, kw_only=True, slots=True)
class StartingSetsLoaded:
    """How many families, sets and rules were new; what was there already was left alone."""

    families: int
    rule_sets: int
    rules: int


def load_starting_sets(doing: Doing) -> StartingSetsLoaded:
    """Load the families and rule sets that are not there yet; nothing that is there is changed.

    To load twice loads once. A rule that the plant took out of a set that is there stays out.
    """
    require(doing.person, Right.EDIT_RULES)

    def do() -> dict[str, Any]:
        there = set(Family.objects.values_list("key", flat=True))
        new_families = [each for each in FAMILIES if each.key not in there]
        for place, each in enumerate(FAMILIES, start=1):
            if each.key in there:
                continue
            clean, light, heavy, failed = each.grades
            row = Family(
                key=each.key,
                name=each.name,
                signs="\n".join(each.signs),
                grade_clean=clean,
                grade_light=light,
                grade_heavy=heavy,
                grade_failed=failed,
                is_inspection=each.is_inspection,
                place=place,
            )
            checked(row)
            row.save()
        families = {row.key: row for row in Family.objects.all()}
        known = set(RuleSet.objects.values_list("name", flat=True))
        new_sets = [each for each in STARTING_SETS if each.name not in known]
        rules = 0
        for each_set in new_sets:
            rule_set = new_set(each_set)
            checked(rule_set)
            rule_set.save()
            for start in each_set.rules:
                rule = set_rule(start, rule_set=rule_set, family=families[start.family])
                checked(rule, exclude=("rule_set", "family", "steps", "covers"))
                rule.save()
                rules += 1
        answer = {"families": len(new_families), "rule_sets": len(new_sets), "rules": rules}
        if any(answer.values()):
            plant_entry(
                doing,
                kind="starting_sets",
                sentence=(
                    f"{len(new_families)} care families and {rules} rules in {len(new_sets)} sets "
                    "loaded: starting values, to be checked by the plant."
                ),
                facts={
                    "families": [each.key for each in new_families],
                    "rule_sets": [each.name for each in new_sets],
                },
            )
        return answer

    return StartingSetsLoaded(**once(doing, "load_starting_sets", {}, do))


def new_set(start: SetStart) -> RuleSet:
    """Return a starting set as a row, not saved, without its rules."""
    meant_for = start.meant_for
    return RuleSet(
        name=start.name,
        note=start.note,
        mold_classes=list(meant_for.mold_classes),
        resin_groups=list(meant_for.resin_groups),
        fillers=list(meant_for.fillers),
        finishes=list(meant_for.finishes),
        equipment=meant_for.equipment,
    )


def set_rule(start: RuleStart, *, rule_set: RuleSet, family: Family) -> SetRule:
    """Return a starting rule as a row of a rule set, not saved."""
    measured = start.measured
    return SetRule(
        rule_set=rule_set,
        name=start.name,
        family=family,
        count_base=start.count_base,
        count_basis=start.count_basis,
        period_n=start.days,
        period_unit="day" if start.days else "",
        hours_limit=start.hours_limit,
        event=start.event,
        measured_quantity=measured.quantity if measured else "",
        measured_unit=measured.unit if measured else "",
        measured_baseline=Decimal(measured.baseline) if measured else None,
        measured_limit=Decimal(measured.limit) if measured else None,
        calendar_counts=start.calendar_counts,
        reach=start.reach,
        where_done=start.where_done,
        minutes=start.minutes,
        qualification=start.qualification,
        supplies=start.supplies,
        signs="\n".join(start.signs),
        reason=start.reason,
        steps=[step.as_json() for step in start.steps],
        covers=list(start.covers),
        by_resin=start.by_resin,
        by_filler=start.by_filler,
    )
