"""Questions about handovers."""

from collections import defaultdict
from collections.abc import Sequence

from django.db.models import QuerySet

from moldcare.care.models import Step
from moldcare.work.convert import Sheet, sheet_from_rows
from moldcare.work.models import Handover, Order, OrderTask, StepValue


def handovers() -> QuerySet[Handover]:
    """Return the handovers that were not put right by newer ones, newest first, with who signed."""
    return (
        Handover.objects.filter(corrected_by__isnull=True)
        .select_related("given_by", "taken__person", "corrects", "entry")
        .order_by("-at", "-id")
    )


def untaken_handover() -> Handover | None:
    """Return the newest handover where nobody has taken it yet."""
    newest = handovers().first()
    return newest if newest is not None and not hasattr(newest, "taken") else None


def handover_numbered(number: int) -> Handover | None:
    """Return a handover, put right or not, with who signed it."""
    return (
        Handover.objects.select_related(
            "given_by", "taken__person", "corrects", "corrected_by", "entry"
        )
        .filter(pk=number)
        .first()
    )


def sheets_of(orders: Sequence[Order]) -> dict[int, Sheet]:
    """Return the sheets of many orders, by the orders' rows: three queries."""
    lines: dict[int, list[OrderTask]] = defaultdict(list)
    by_key = {order.pk: order for order in orders}
    tasks = OrderTask.objects.filter(order__in=by_key).select_related("rule__family")
    for line in tasks.order_by("place", "id"):
        line.order = by_key[line.order_id]
        lines[line.order_id].append(line)
    rules = {line.rule_id for each in lines.values() for line in each if not line.covered_by_id}
    steps: dict[int, list[Step]] = defaultdict(list)
    for step in Step.objects.filter(rule__in=rules).order_by("rule", "place"):
        steps[step.rule_id].append(step)
    values: dict[int, list[StepValue]] = defaultdict(list)
    written = StepValue.objects.filter(order__in=by_key).select_related("person", "photo")
    for value in written.order_by("id"):
        values[value.order_id].append(value)
    return {
        pk: sheet_from_rows(order, lines=lines[pk], steps=steps, values=values[pk])
        for pk, order in by_key.items()
    }
