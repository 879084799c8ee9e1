"""Where rules stood: recomputed from the facts that were written by an instant."""

from datetime import datetime

from moldcare.care.convert import TERM_FIELDS, rule_of_snapshot
from moldcare.care.derive import standings_of
from moldcare.care.models import CareRule, RuleVersion, Standing
from moldcare.care.mold_facts import mold_facts
from moldcare.core.shifts import ShiftCalendar
from moldcare.counters.history import courses_of
from moldcare.counters.life import lives_of
from moldcare.facts import as_written_by
from moldcare.molds.models import Mold

MOLDS_AT_ONCE = 100


def standings_as_of(at: datetime, *, calendar: ShiftCalendar) -> list[Standing]:
    """Return where every rule stood at an instant, as could be known then; nothing is stored.

    Rules say what their version of then said; molds and rules entered later are left out.
    """
    molds = list(
        Mold.objects.filter(entered_at__lte=at).order_by("sort_key").values_list("id", flat=True)
    )
    found: list[Standing] = []
    with as_written_by(at):
        for first in range(0, len(molds), MOLDS_AT_ONCE):
            found += _standings(
                _rules_as_of(at, molds=molds[first : first + MOLDS_AT_ONCE]), calendar=calendar
            )
        found += _standings(_rules_as_of(at, molds=None), calendar=calendar)
    found.sort(key=when_key)
    return found


def _standings(rules: list[CareRule], *, calendar: ShiftCalendar) -> list[Standing]:
    mold_ids = {rule.mold_id for rule in rules if rule.mold_id is not None}
    courses = courses_of(lives_of(mold_ids)) if mold_ids else {}
    facts = mold_facts(mold_ids, rules=rules, courses=courses)
    rows = standings_of(rules, facts=facts, calendar=calendar)
    of_rule = {rule.pk: rule for rule in rules}
    for row in rows:
        row.rule = of_rule[row.rule_id]
    return rows


def _rules_as_of(at: datetime, *, molds: list[int] | None) -> list[CareRule]:
    """Return the rules in force at an instant, with the terms they had."""
    rows = CareRule.objects.filter(entered_at__lte=at).exclude(withdrawn_at__lte=at)
    rows = rows.filter(mold__isnull=True) if molds is None else rows.filter(mold__in=molds)
    rules = list(
        rows.select_related("family", "mold", "position", "circuit", "auxiliary").order_by("id")
    )
    versions: dict[int, RuleVersion] = {}
    for version in RuleVersion.objects.filter(rule__in=rules).order_by("id"):
        versions[version.rule_id] = version
    for rule in rules:
        if rule.pk in versions:
            then = rule_of_snapshot(versions[rule.pk].terms)
            # a version keeps steps and covers too; where a rule stands follows from its terms
            for name in versions[rule.pk].terms.keys() & TERM_FIELDS:
                if name != "family":
                    setattr(rule, name, getattr(then, name))
    return rules


def when_key(row: Standing) -> tuple[bool, datetime | None, int]:
    """Return what standings are sorted by: when, never by share."""
    first = row.due_at or row.forecast_due_at
    return (first is None, first, row.rule_id)
