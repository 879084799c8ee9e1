"""From ticked lines to orders: one a mold, written and handed out in one go."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing, once
from moldcare.acts.errors import NotFound
from moldcare.acts.orders import hand_out, write_order
from moldcare.acts.rights import Right, require
from moldcare.care.models import CareRule
from moldcare.work.models import Order


@dataclass(frozen=True, kw_only=True, slots=True)
class MadeOrders:
    """The numbers of the orders that now hold what was ticked, in the order of the molds."""

    numbers: tuple[int, ...]


def make_orders(
    doing: Doing, *, rules: Sequence[int], why: Mapping[int, str] | None = None
) -> MadeOrders:
    """Write and hand out one order a mold of the ticked rules, all or none.

    A mold with an unsigned order gets the rules into that one.

    Raises
    ------
    NotAllowed
        The role hands out no orders.
    NotFound
        One of the rules was withdrawn meanwhile.
    """
    require(doing.person, Right.HAND_OUT_ORDERS)
    wanted = sorted(set(rules))
    body = {"rules": wanted}

    def do() -> dict[str, Any]:
        found = list(
            CareRule.objects.filter(pk__in=wanted, withdrawn_at__isnull=True)
            .select_related("mold", "auxiliary", "family")
            .order_by("mold__sort_key", "id")
        )
        if len(found) != len(wanted):
            raise NotFound(
                _("A rule that was ticked is not in force any more. Open the page again.")
            )
        of_subject: dict[tuple[int | None, int | None], list[CareRule]] = defaultdict(list)
        for rule in found:
            of_subject[(rule.mold_id, rule.auxiliary_id)].append(rule)
        inner = replace(doing, hand_in=None)
        numbers = []
        for subject_rules in of_subject.values():
            first = subject_rules[0]
            written = write_order(
                inner,
                rules=subject_rules,
                mold=first.mold,
                auxiliary=first.auxiliary,
                why=why,
            )
            order = Order.objects.get(pk=written.pk)
            if order.handed_out_at is None:
                hand_out(inner, order=order)
            numbers.append(written.number)
        return {"numbers": numbers}

    return MadeOrders(numbers=tuple(once(doing, "make_orders", body, do)["numbers"]))
