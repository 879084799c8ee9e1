"""The supplies that an order's rules name, as the lines that its signature asks about."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from moldcare.acts.signing import SupplySpent
from moldcare.molds.models import Supply, name_key
from moldcare.work.convert import Sheet
from moldcare.work.models import OrderTaskOutcome

# a comma within a number parts nothing: O-ring 12,5 x 2
_BETWEEN = re.compile(r"[;\n]|,\s+(?=\D)")


@dataclass(frozen=True, kw_only=True, slots=True)
class SupplyLine:
    """A supply that a rule names: from the shelf's list where it is on it."""

    place: int
    name: str
    unit: str = ""
    supply: int | None = None

    @property
    def used_name(self) -> str:
        """Return the name of the box that says that it was used."""
        return f"used-{self.place}"

    @property
    def amount_name(self) -> str:
        """Return the name of the field for how much of it."""
        return f"amount-{self.place}"


def supply_lines(sheet: Sheet) -> list[SupplyLine]:
    """Return the supplies of the tasks that are done on the sheet, each once, in one query."""
    left = {OrderTaskOutcome.LEFT, OrderTaskOutcome.NOT_NEEDED}
    texts = [task.task.rule.supplies for task in sheet.tasks if task.task.outcome not in left]
    named = named_supplies(texts)
    if not named:
        return []
    shelf: dict[str, Supply] = {}
    for row in Supply.objects.filter(withdrawn_at__isnull=True).order_by("-id"):
        shelf[name_key(row.name)] = row
        shelf[name_key(row.number)] = row
    lines = []
    for place, name in enumerate(named):
        found = shelf.get(name_key(name))
        lines.append(
            SupplyLine(
                place=place,
                name=found.name if found else name,
                unit=found.unit if found else "",
                supply=found.pk if found else None,
            )
        )
    return lines


def named_supplies(texts: Iterable[str]) -> list[str]:
    """Return what rules name as supplies, each once, in their order.

    Examples
    --------
    >>> named_supplies(["mold cleaner, lint-free cloth", "Mold cleaner; O-ring 12,5 x 2"])
    ['mold cleaner', 'lint-free cloth', 'O-ring 12,5 x 2']
    """
    found: dict[str, str] = {}
    for text in texts:
        for name in _BETWEEN.split(text):
            if name.strip():
                found.setdefault(name_key(name), name.strip()[:120])
    return list(found.values())


def spent_of(data: Mapping[str, Any], *, lines: Iterable[SupplyLine]) -> list[SupplySpent]:
    """Return what a valid form says was used up: what is ticked, or has an amount."""
    spent = []
    for line in lines:
        amount: Decimal | None = data.get(line.amount_name)
        if data.get(line.used_name) or amount is not None:
            spent.append(
                SupplySpent(name=line.name, amount=amount, unit=line.unit, supply=line.supply)
            )
    if data.get("more_supply"):
        spent.append(SupplySpent(name=data["more_supply"], amount=data.get("more_amount")))
    return spent
