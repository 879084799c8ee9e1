"""Questions about orders, their sheets, and what was signed."""

import json
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from typing import Any

from django.db.models import F, Max, Q, QuerySet
from django.db.models.functions import Coalesce

from moldcare.care.models import CareRule, Completion, Cover, Step
from moldcare.logbook.models import Entry
from moldcare.molds.models import Mold
from moldcare.plant.models import Person, Qualification
from moldcare.work.convert import Sheet, sheet_from_rows
from moldcare.work.models import (
    Order,
    OrderState,
    OrderTask,
    OrderTaskOutcome,
    PartOut,
    PassedOn,
    StepValue,
)

FIRST_ORDER_NUMBER = 1001
# kinds of entries that orders write
ORDER_ENTRY = "order"
CHECKED_ENTRY = "order_checked"
ACCEPTED_ENTRY = "order_accepted"
STRUCK_OUT_ENTRY = "order_struck_out"
ACCEPTED_AS_DONE_ENTRY = "accepted_as_done"


def next_order_number() -> int:
    """Return the next free number. Ask under the plant's lock."""
    newest = Order.objects.aggregate(newest=Max("number"))["newest"]
    return max(newest or 0, FIRST_ORDER_NUMBER - 1) + 1


def unsigned_orders() -> Any:
    """Return the orders that are neither signed nor struck out, with what lists show of them."""
    return (
        Order.objects.filter(signed_at__isnull=True, struck_out_at__isnull=True)
        .select_related("mold", "auxiliary")
        .prefetch_related("people", "tasks__rule__family")
        .order_by(F("planned_at").asc(nulls_last=True), "number")
    )


def unsigned_order_of(*, mold: Mold | int) -> Order | None:
    """Return the mold's order that is neither signed nor struck out."""
    return Order.objects.filter(
        mold=mold, signed_at__isnull=True, struck_out_at__isnull=True
    ).first()


def orders_in_state(state: str) -> QuerySet[Order]:
    """Return the orders in a state with what lists show of them, in the order of when.

    Beside the states of an order there are `open` (neither signed nor struck out), `wanting` (a
    signature beside the first is still missing) and `all`. What is open comes by when it is
    planned, what has ended by when it ended, the newest first.
    """
    ended = Coalesce("signed_at", "struck_out_at")
    orders = Order.objects.filter(_state_filter(state))
    return (
        orders.select_related("mold__owner", "auxiliary", "entry")
        .prefetch_related("people", "tasks__rule")
        .order_by(ended.desc(nulls_first=True), F("planned_at").asc(nulls_last=True), "number")
    )


def _state_filter(state: str) -> Q:
    is_open = Q(signed_at__isnull=True, struck_out_at__isnull=True)
    free = is_open & Q(held_up_by="")
    match state:
        case OrderState.WRITTEN:
            return free & Q(begun_at__isnull=True, handed_out_at__isnull=True)
        case OrderState.HANDED_OUT:
            return free & Q(begun_at__isnull=True, handed_out_at__isnull=False)
        case OrderState.BEGUN:
            return free & Q(begun_at__isnull=False)
        case OrderState.HELD_UP:
            return is_open & ~Q(held_up_by="")
        case OrderState.SIGNED:
            return Q(signed_at__isnull=False)
        case OrderState.STRUCK_OUT:
            return Q(struck_out_at__isnull=False)
        case "wanting":
            return Q(pk__in=[order.pk for order, _missing in orders_wanting_signatures()])
        case "all":
            return Q()
        case _:
            return is_open


def order_numbered(number: int) -> Order | None:
    """Return the order with the number."""
    return Order.objects.select_related("mold", "auxiliary").filter(number=number).first()


def lines_of(order: Order) -> list[OrderTask]:
    """Return the order's lines in order, with their rules and families."""
    lines = list(
        OrderTask.objects.filter(order=order).select_related("rule__family").order_by("place", "id")
    )
    for line in lines:
        line.order = order
    return lines


def sheet_of(order: Order) -> Sheet:
    """Return the order's sheet in three queries."""
    lines = lines_of(order)
    steps: dict[int, list[Step]] = {}
    rules = [line.rule_id for line in lines if not line.covered_by_id]
    for step in Step.objects.filter(rule__in=rules).order_by("rule", "place"):
        steps.setdefault(step.rule_id, []).append(step)
    values = list(
        StepValue.objects.filter(order=order).select_related("person", "photo").order_by("id")
    )
    return sheet_from_rows(order, lines=lines, steps=steps, values=values)


def covered_rules(rules: Iterable[CareRule]) -> dict[int, dict[int, CareRule]]:
    """Return what each rule covers, directly or through others, in use, by numbers.

    One query a depth of the covers, which are two or three deep.
    """
    reached: dict[int, dict[int, CareRule]] = {rule.pk: {} for rule in rules}
    # for a rule that was just reached: the asked rules that reach it
    front: dict[int, set[int]] = {pk: {pk} for pk in reached}
    while front:
        ahead: dict[int, set[int]] = {}
        covers = Cover.objects.filter(
            covering__in=front, covered__withdrawn_at__isnull=True
        ).select_related("covered")
        for cover in covers.order_by("covered__id"):
            for asked in front[cover.covering_id]:
                if cover.covered_id == asked or cover.covered_id in reached[asked]:
                    continue
                reached[asked][cover.covered_id] = cover.covered
                ahead.setdefault(cover.covered_id, set()).add(asked)
        front = ahead
    return reached


def missing_qualifications(person: Person, *, subjects: Iterable[str], on: date) -> list[str]:
    """Return those of the subjects that the person is not qualified in on the date.

    The newest row about a subject counts.
    """
    wanted = {subject.strip().casefold(): subject.strip() for subject in subjects if subject}
    if not wanted:
        return []
    newest: dict[str, Qualification] = {}
    for row in Qualification.objects.filter(person=person).order_by("id"):
        newest[row.subject.strip().casefold()] = row
    return [subject for key, subject in wanted.items() if not _is_valid(newest.get(key), on=on)]


def _is_valid(row: Qualification | None, *, on: date) -> bool:
    if row is None or row.is_withdrawn or row.valid_from > on:
        return False
    return row.valid_to is None or row.valid_to >= on


def parts_out(molds: Iterable[int] | None = None, *, order: Order | None = None) -> list[PartOut]:
    """Return the parts that lie outside of molds, oldest first: one query.

    Of all molds for None; with an order, those of what the order is for, whichever order took
    them out.
    """
    rows = PartOut.objects.filter(taken_in__isnull=True)
    if order is not None:
        rows = rows.filter(order__mold=order.mold_id, order__auxiliary=order.auxiliary_id)
    elif molds is not None:
        rows = rows.filter(order__mold__in=list(molds))
    return list(
        rows.select_related("order__mold", "order__auxiliary", "position", "person").order_by("id")
    )


def passed_on(orders: Iterable[int]) -> dict[int, PassedOn]:
    """Return for each order the newest word to whoever goes on with it, by the order's row."""
    rows = PassedOn.objects.filter(order__in=list(orders)).select_related("person").order_by("id")
    return {row.order_id: row for row in rows}


def wanted_signatures(order: Order) -> set[str]:
    """Return which signatures beside *done* the order's done tasks ask for."""
    wanted = set()
    rules = OrderTask.objects.filter(order=order, outcome=OrderTaskOutcome.DONE)
    for checked, accepted in rules.values_list("rule__asks_checked", "rule__asks_accepted"):
        if checked:
            wanted.add(Entry.Meaning.CHECKED.value)
        if accepted:
            wanted.add(Entry.Meaning.ACCEPTED.value)
    return wanted


def signatures_of(order: Order) -> list[Entry]:
    """Return the entries that sign the order, the one that it was done with first."""
    if order.entry is None:
        return []
    later = Entry.objects.filter(
        chain=order.entry.chain,
        number__gt=order.entry.number,
        kind__in=[CHECKED_ENTRY, ACCEPTED_ENTRY],
        facts__contains=f'"order":{order.number}',
    ).order_by("number")
    return [order.entry, *(row for row in later if json.loads(row.facts)["order"] == order.number)]


def accepted_as_done(order: Order) -> set[int]:
    """Return the rules of the order that were found not needed and then accepted as done."""
    if order.entry is None:
        return set()
    return set(
        Completion.objects.filter(
            rule__order_tasks__order=order,
            entry__kind=ACCEPTED_AS_DONE_ENTRY,
            happened_at=order.entry.happened_at,
        ).values_list("rule_id", flat=True)
    )


def orders_wanting_signatures() -> list[tuple[Order, set[str]]]:
    """Return the signed orders that somebody else still has to sign, oldest first."""
    asking = Q(tasks__rule__asks_checked=True) | Q(tasks__rule__asks_accepted=True)
    orders = list(
        Order.objects.filter(asking, signed_at__isnull=False, tasks__outcome=OrderTaskOutcome.DONE)
        .select_related("mold", "auxiliary", "entry__chain")
        .distinct()
        .order_by("signed_at")
    )
    waiting = {order.number: order for order in orders}
    wanted: dict[int, set[str]] = {number: set() for number in waiting}
    lines = OrderTask.objects.filter(
        Q(rule__asks_checked=True) | Q(rule__asks_accepted=True),
        order__signed_at__isnull=False,
        outcome=OrderTaskOutcome.DONE,
    )
    for number, is_checked, is_accepted in lines.values_list(
        "order__number", "rule__asks_checked", "rule__asks_accepted"
    ):
        wanted[number] |= {Entry.Meaning.CHECKED.value} if is_checked else set()
        wanted[number] |= {Entry.Meaning.ACCEPTED.value} if is_accepted else set()
    signed = Entry.objects.filter(kind__in=[CHECKED_ENTRY, ACCEPTED_ENTRY])
    for facts, meaning in signed.values_list("facts", "meaning"):
        wanted.get(json.loads(facts)["order"], set()).discard(meaning)
    return [(waiting[number], missing) for number, missing in wanted.items() if missing]


def first_unbacked() -> str | None:
    """Return the first completion or entry of work done that lacks its other half, in words."""
    for difference in _unbacked():
        return difference
    return None


def _unbacked() -> Iterator[str]:
    """Compare, entry by entry, the tasks that it calls done with the completions that name it."""
    strays = Completion.objects.exclude(
        Q(rule__mold__chain=F("entry__chain")) | Q(rule__auxiliary__chain=F("entry__chain"))
    ).select_related("rule", "entry__chain")
    for stray in strays[:1]:
        yield f"{stray.entry}: the completion of {stray.rule} names an entry of another chain."
    entries = (
        Entry.objects.filter(kind=ORDER_ENTRY)
        .order_by("chain_id", "number")
        .select_related("chain")
        .iterator(chunk_size=500)
    )
    for batch in _batches(entries, size=500):
        completed: dict[int, set[int]] = {}
        rows = Completion.objects.filter(entry__in=[entry.pk for entry in batch])
        for entry_id, rule_id in rows.values_list("entry_id", "rule_id"):
            completed.setdefault(entry_id, set()).add(rule_id)
        for entry in batch:
            said = completing_rules(json.loads(entry.facts))
            there = completed.get(entry.pk, set())
            for rule in sorted(said - there):
                yield f"{entry}: rule {rule} is done in it and has no completion."
            for rule in sorted(there - said):
                yield f"{entry}: a completion of rule {rule} names it, and it does not say so."


def completing_rules(facts: dict[str, Any]) -> set[int]:
    """Return the rules that an order's entry says are completed by it."""
    return {int(task["rule"]) for task in facts.get("tasks", ()) if task.get("completes")}


def _batches(entries: Iterator[Entry], *, size: int) -> Iterator[Sequence[Entry]]:
    batch: list[Entry] = []
    for entry in entries:
        batch.append(entry)
        if len(batch) == size:
            yield batch
            batch = []
    if batch:
        yield batch
