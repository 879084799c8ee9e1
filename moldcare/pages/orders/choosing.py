"""The rules that an order can be made of, with where they stand."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.http import HttpRequest
from django.utils import timezone

from moldcare.acts.ordering import MadeOrders, make_orders
from moldcare.care.models import CareRule, Standing
from moldcare.care.queries import rules_in_force
from moldcare.core.due import State
from moldcare.core.shifts import ShiftCalendar
from moldcare.molds.models import Auxiliary, Mold
from moldcare.pages.access import calendar_of, doing
from moldcare.pages.rule_lines import RuleLine, rule_line
from moldcare.work.models import Order

# what an order is made of unless somebody ticks otherwise
TICKED = (State.DUE, State.OVERDUE, State.PAST_LIMIT)
LONGEST_WHY = 400


@dataclass(frozen=True, kw_only=True, slots=True)
class RuleChoice:
    """A rule with its box."""

    rule: CareRule
    line: RuleLine | None
    is_ticked: bool
    is_covered: bool


def choices_of(
    subject: Mold | Auxiliary | None,
    *,
    now: datetime,
    calendar: ShiftCalendar,
    asked: Collection[int] = (),
    order: Order | None = None,
) -> list[RuleChoice]:
    """Return the rules of a mold or auxiliary by when; without those that are in the order."""
    if isinstance(subject, Mold):
        rules = rules_in_force(molds=[subject.pk], has_families=True)
    elif subject is not None:
        rules = rules_in_force(auxiliaries=[subject.pk], has_families=True)
    else:
        rules = []
    inside: dict[int, bool] = {}
    if order is not None:
        inside = {line.rule_id: line.covered_by_id is not None for line in order.tasks.all()}
    lines = _lines([rule.pk for rule in rules], now=now, calendar=calendar)
    choices = [
        RuleChoice(
            rule=rule,
            line=lines.get(rule.pk),
            is_ticked=rule.pk in asked
            if asked or order is not None
            else rule.pk in lines and lines[rule.pk].state in TICKED,
            is_covered=inside.get(rule.pk, False),
        )
        for rule in rules
        if inside.get(rule.pk, True)
    ]
    return sorted(choices, key=_when)


def why_of(rules: Sequence[int], *, now: datetime, calendar: ShiftCalendar) -> dict[int, str]:
    """Return why each rule, by its number, is in an order, as its sheet says it."""
    lines = _lines(rules, now=now, calendar=calendar)
    return {pk: line.say[:LONGEST_WHY] for pk, line in lines.items() if line.is_pressing}


def _lines(rules: Sequence[int], *, now: datetime, calendar: ShiftCalendar) -> dict[int, RuleLine]:
    rows = Standing.objects.filter(rule__in=rules).select_related("rule__family")
    return {row.rule_id: rule_line(row, at=now, calendar=calendar) for row in rows}


def _when(choice: RuleChoice) -> tuple[bool, float, int]:
    when = choice.line.when_at if choice.line else None
    return (when is None, when.timestamp() if when else 0.0, choice.rule.pk)


def make_chosen(request: HttpRequest, *, rules: Sequence[int]) -> MadeOrders:
    """Write and hand out one order a subject of the rules, with where each stood.

    Raises
    ------
    DomainError
        One of the rules is not in force any more, or the role hands out no orders.
    """
    why = why_of(rules, now=timezone.now(), calendar=calendar_of(request))
    return make_orders(doing(request), rules=rules, why=why)
