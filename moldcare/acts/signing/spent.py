"""What a signed order used up, and what it leaves outside of the mold."""

from collections.abc import Sequence
from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing, checked
from moldcare.acts.errors import DoesNotFit, Incomplete, NotFound
from moldcare.acts.signing.values import SupplySpent
from moldcare.acts.words import tidy
from moldcare.logbook.models import Entry
from moldcare.molds.models import Supply
from moldcare.work.models import Order, PartOut, SupplyUsed
from moldcare.work.numbers import plain_decimal


def tidied(supplies: Sequence[SupplySpent]) -> list[SupplySpent]:
    """Return the supplies as they are stored; refuse one without a name, or used up by nothing."""
    found = []
    for each in supplies:
        name = tidy(each.name)
        if not name:
            raise Incomplete(_("Say what was used up."))
        if each.amount is not None and each.amount <= 0:
            raise DoesNotFit(
                _("%(name)s: give an amount above nought, or leave it empty.") % {"name": name}
            )
        found.append(
            SupplySpent(name=name, amount=each.amount, unit=tidy(each.unit), supply=each.supply)
        )
    return found


def spent_facts(spent: SupplySpent) -> dict[str, Any]:
    """Return a supply as it stands in the facts of the entry."""
    return {
        "name": spent.name,
        "amount": None if spent.amount is None else plain_decimal(spent.amount),
        "unit": spent.unit,
        "supply": spent.supply,
    }


def spent_words(supplies: Sequence[SupplySpent]) -> list[str]:
    """Return the sentence of the entry that says what was used up; none where nothing was."""
    said = [
        each.name
        if each.amount is None
        else f"{each.name} {plain_decimal(each.amount)} {each.unit}".strip()
        for each in supplies
    ]
    return [f"Used: {', '.join(said)}."] if said else []


def out_facts(part: PartOut) -> dict[str, Any]:
    """Return a part that stays out as it stands in the facts of the entry."""
    return {
        "part_out": part.pk,
        "position": part.position_id,
        "what": part.what,
        "lies": part.lies,
        "at": part.at,
        "by": part.person.name,
    }


def out_words(parts: Sequence[PartOut]) -> list[str]:
    """Return the sentence of the entry that says what stays out; none where nothing does."""
    said = "; ".join(f"{part.what} ({part.lies})" for part in parts)
    return [f"Still out of the mold: {said}."] if said else []


def store_spent(order: Order, *, entry: Entry, spent: Sequence[SupplySpent], doing: Doing) -> None:
    """Store what was used up beside the entry that says so."""
    known = set(
        Supply.objects.filter(pk__in=[each.supply for each in spent if each.supply]).values_list(
            "pk", flat=True
        )
    )
    rows = []
    for each in spent:
        if each.supply is not None and each.supply not in known:
            raise NotFound(
                _("%(name)s is not on the list of supplies any more. Load the sheet again.")
                % {"name": each.name}
            )
        row = SupplyUsed(
            order=order,
            entry=entry,
            supply_id=each.supply,
            name=each.name,
            amount=each.amount,
            unit=each.unit,
            written_at=doing.now,
        )
        checked(row, exclude=("order", "entry", "supply"))
        rows.append(row)
    SupplyUsed.objects.bulk_create(rows)
