"""The completions that a signed order writes."""

from collections.abc import Sequence
from datetime import datetime

from moldcare.acts.doing import Doing
from moldcare.acts.signing.outcomes import all_lines, completes
from moldcare.care.models import CareRuleTarget, Completion
from moldcare.logbook.models import Entry
from moldcare.molds.queries import components_in
from moldcare.plant.models import Person
from moldcare.work.convert import Sheet
from moldcare.work.models import Order, OrderTask, OrderTaskOutcome


def complete_lines(
    order: Order,
    *,
    sheet: Sheet,
    entry: Entry,
    signer: Person,
    at: datetime,
    minutes: int,
    doing: Doing,
) -> list[Completion]:
    """Write the completions of what was done, then of the ticked lines covered by them."""
    lines = [line for line in all_lines(sheet) if completes(line)]
    positions = [
        line.rule.position_id
        for line in lines
        if line.rule.target == CareRuleTarget.POSITION and line.rule.position_id is not None
    ]
    sitting = components_in(positions, at=at) if positions else {}
    components = {position: component.pk for position, component in sitting.items()}

    def completion(
        line: OrderTask, *, covering: Completion | None, spent: int | None
    ) -> Completion:
        return Completion(
            rule=line.rule,
            happened_at=at,
            grade=line.grade,
            is_brought_forward=line.is_brought_forward,
            is_not_needed=line.outcome == OrderTaskOutcome.NOT_NEEDED,
            covering=covering,
            component_id=components.get(line.rule.position_id or 0),
            minutes=spent,
            order_number=order.number,
            person=signer,
            entry=entry,
            written_at=doing.now,
        )

    own = [line for line in lines if line.covered_by_id is None]
    first = Completion.objects.bulk_create(
        [
            completion(line, covering=None, spent=spent)
            for line, spent in zip(own, _shares(minutes, lines=own), strict=True)
        ]
    )
    by_line = {line.pk: row for line, row in zip(own, first, strict=True)}
    under = Completion.objects.bulk_create(
        [
            completion(line, covering=by_line[line.covered_by_id], spent=None)
            for line in lines
            if line.covered_by_id is not None
        ]
    )
    return [*first, *under]


def _shares(minutes: int, *, lines: Sequence[OrderTask]) -> list[int]:
    """Part the order's minutes among the tasks that were done, as their rules' minutes are.

    Whole minutes that add up: what is left over goes to the largest remainders.
    """
    weights = [
        max(line.rule.minutes, 1) if line.outcome == OrderTaskOutcome.DONE else 0 for line in lines
    ]
    total = sum(weights)
    if not total:
        return [0 for _line in lines]
    shares = [minutes * weight // total for weight in weights]
    remainders = [minutes * weight % total for weight in weights]
    largest = sorted(range(len(lines)), key=lambda at: (-remainders[at], at))
    for at in largest[: minutes - sum(shares)]:
        shares[at] += 1
    return shares
