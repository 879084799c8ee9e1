"""What should be settled before a mold is set: a lead may accept it with a reason."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from django.db.models import Q
from django.utils.translation import gettext as _

from moldcare.acts.errors import ActRefused
from moldcare.acts.floor.conditions import CONDITION_WORDS
from moldcare.care.models import CareRule, Standing
from moldcare.molds.models import ConditionNote, Mold
from moldcare.molds.queries import condition_of, parts_out_of
from moldcare.work.models import Order


class MatterKind(StrEnum):
    """Kinds of open matters."""

    ORDER = "order"
    BEFORE_SET = "before_set"
    PAST_LIMIT = "past_limit"
    CONDITION = "condition"
    PARTS_OUT = "parts_out"


@dataclass(frozen=True, kw_only=True, slots=True)
class OpenMatter:
    """One thing that speaks against setting a mold.

    `row_id` is the key of the order, rule, note or position; `text` is for the screen, `plain` for
    the logbook.
    """

    kind: MatterKind
    row_id: int
    text: str
    plain: str


class OpenMatters(ActRefused):
    """Something is open that a lead may accept with a reason."""

    def __init__(self, message: str, *, matters: tuple[OpenMatter, ...]) -> None:
        super().__init__(message)
        self.matters = matters


def open_matters(mold: Mold, *, at: datetime) -> tuple[OpenMatter, ...]:
    """Return what is open on a mold that is about to be set. Four queries."""
    return (*_orders(mold), *_rules(mold, at=at), *_condition(mold), *_parts(mold))


def _orders(mold: Mold) -> list[OpenMatter]:
    orders = Order.objects.filter(mold=mold, signed_at__isnull=True, struck_out_at__isnull=True)
    return [
        OpenMatter(
            kind=MatterKind.ORDER,
            row_id=order.pk,
            text=_("Order %(number)s is not signed.") % {"number": order.number},
            plain=f"order {order.number} not signed",
        )
        for order in orders
    ]


def _rules(mold: Mold, *, at: datetime) -> list[OpenMatter]:
    before_set = Q(rule__event=CareRule.Event.BEFORE_SET, due_at__lte=at)
    standings = (
        Standing.objects.filter(mold=mold, rule__withdrawn_at__isnull=True)
        .filter(before_set | Q(past_limit_at__lte=at))
        .select_related("rule")
        .order_by("rule_id")
    )
    matters = []
    for standing in standings:
        name = standing.rule.name
        if standing.rule.event == CareRule.Event.BEFORE_SET:
            matters.append(
                OpenMatter(
                    kind=MatterKind.BEFORE_SET,
                    row_id=standing.rule_id,
                    text=_("%(rule)s is asked for before it is set.") % {"rule": name},
                    plain=f"not done before set: {name}",
                )
            )
        else:
            matters.append(
                OpenMatter(
                    kind=MatterKind.PAST_LIMIT,
                    row_id=standing.rule_id,
                    text=_("%(rule)s is past its limit.") % {"rule": name},
                    plain=f"past limit: {name}",
                )
            )
    return matters


def _condition(mold: Mold) -> list[OpenMatter]:
    note = condition_of(mold)
    if note is None or note.condition == ConditionNote.Condition.FIT:
        return []
    return [
        OpenMatter(
            kind=MatterKind.CONDITION,
            row_id=note.pk,
            text=_("Its condition is: %(condition)s. %(note)s")
            % {"condition": note.get_condition_display(), "note": note.note},
            plain=f"condition: {CONDITION_WORDS[ConditionNote.Condition(note.condition)]}",
        )
    ]


def _parts(mold: Mold) -> list[OpenMatter]:
    return [
        OpenMatter(
            kind=MatterKind.PARTS_OUT,
            row_id=position.pk,
            text=_("Nothing sits in position %(position)s.") % {"position": position.ident},
            plain=f"position {position.ident} empty",
        )
        for position in parts_out_of(mold)
    ]
