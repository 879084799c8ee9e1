"""Writing work orders: their lines, what the lines cover, when, and who."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing, checked, once
from moldcare.acts.errors import DoesNotFit, Incomplete, NotFound
from moldcare.acts.locks import lock_mold
from moldcare.acts.orders.course import NOT_TYPED, open_order
from moldcare.acts.rights import Right, require
from moldcare.acts.words import tidy
from moldcare.care.models import CareRule
from moldcare.molds.models import Auxiliary, Mold
from moldcare.plant.models import Person, Plant
from moldcare.work.models import Order, OrderState, OrderTask, StepValue
from moldcare.work.queries import covered_rules, next_order_number

_NOT_TYPED_OF_LINES = ("order", "rule", "covered_by", "outcome", "reason", "grade")


@dataclass(frozen=True, kw_only=True, slots=True)
class WrittenOrder:
    """An order that now holds what was asked for.

    Parameters
    ----------
    pk, number : int
        The order.
    is_new : bool
        False where the tasks went into the unsigned order that the mold had.
    added : tuple of int
        The rules that entered it as lines, covered ones among them.
    """

    pk: int
    number: int
    is_new: bool
    added: tuple[int, ...]


def write_order(
    doing: Doing,
    *,
    rules: Sequence[CareRule],
    mold: Mold | None = None,
    auxiliary: Auxiliary | None = None,
    planned_at: datetime | None = None,
    people: Sequence[Person] = (),
    note: str = "",
    why: Mapping[int, str] | None = None,
) -> WrittenOrder:
    """Write an order for a mold or an auxiliary: the rules, and ticked what they cover.

    A mold has one unsigned order: where there is one, the rules go into it.

    Parameters
    ----------
    rules : sequence of CareRule
        What is to be done.
    why : mapping, optional
        By a rule's number: why it is due, in words, as the sheet prints it.

    Raises
    ------
    DoesNotFit
        If a rule belongs to something else or was withdrawn.
    Incomplete
        If no rule is named.
    """
    require(doing.person, Right.LOG_WORK)
    subject = _subject(mold, auxiliary=auxiliary)
    if not rules:
        raise Incomplete(_("Tick at least one task for the order."))
    reasons = dict(why or {})
    body = {
        "subject": subject,
        "rules": [rule.pk for rule in rules],
        "planned_at": planned_at,
        "people": [person.pk for person in people],
        "note": note,
    }

    # why is no part of the body: its words may be others a moment later, and nobody typed them
    def do() -> dict[str, Any]:
        # the lock on the mold keeps two unsigned orders out, the one on the plant two numbers
        if isinstance(subject, Mold):
            lock_mold(subject)
        else:
            Auxiliary.objects.select_for_update(no_key=True).get(pk=subject.pk)
        owner = {"mold": subject} if isinstance(subject, Mold) else {"auxiliary": subject}
        order = Order.objects.filter(
            **owner, signed_at__isnull=True, struck_out_at__isnull=True
        ).first()
        is_new = order is None
        if order is None:
            Plant.objects.select_for_update(no_key=True).filter(pk=1).first()
            order = Order(
                number=next_order_number(),
                planned_at=planned_at,
                note=tidy(note),
                written_by=doing.person,
                written_at=doing.now,
                **owner,
            )
            checked(order, exclude=NOT_TYPED)
            order.save()
        elif planned_at is not None and order.planned_at is None:
            order.planned_at = planned_at
            order.save(update_fields=["planned_at"])
        _put_people(order, people=people, is_new=is_new)
        added = _add_lines(order, rules=rules, why=reasons, is_brought_forward=False)
        return {"pk": order.pk, "number": order.number, "is_new": is_new, "added": added}

    answer = once(doing, "write_order", body, do)
    return WrittenOrder(
        pk=answer["pk"],
        number=answer["number"],
        is_new=answer["is_new"],
        added=tuple(answer["added"]),
    )


def add_tasks(
    doing: Doing,
    *,
    order: Order,
    rules: Sequence[CareRule],
    why: Mapping[int, str] | None = None,
    is_brought_forward: bool = False,
) -> tuple[int, ...]:
    """Add rules to an order that is not signed, and return the rules that entered it.

    A rule that is in it as a covered line becomes a task of its own. *Brought forward* says that
    signs were seen which the rule's interval had not waited for.
    """
    require(doing.person, Right.LOG_WORK)
    if not rules:
        raise Incomplete(_("Tick at least one task to add."))
    reasons = dict(why or {})
    body = {
        "order": order.pk,
        "rules": [rule.pk for rule in rules],
        "is_brought_forward": is_brought_forward,
    }

    def do() -> dict[str, Any]:
        row = open_order(order)
        return {
            "added": _add_lines(
                row, rules=rules, why=reasons, is_brought_forward=is_brought_forward
            )
        }

    return tuple(once(doing, "add_tasks", body, do)["added"])


def remove_task(doing: Doing, *, task: OrderTask) -> None:
    """Take a line out of an order that is still being written, with what came in only by it."""
    require(doing.person, Right.LOG_WORK)

    def do() -> dict[str, Any]:
        order = open_order(task.order)
        if order.state is not OrderState.WRITTEN:
            raise DoesNotFit(
                _("The order is handed out. Leave the task with a reason instead of removing it.")
            )
        row = OrderTask.objects.filter(pk=task.pk, order=order).first()
        if row is None:
            raise NotFound(_("This task is not in the order any more."))
        if StepValue.objects.filter(task__in=[row.pk, *_covered_pks(row)]).exists():
            raise DoesNotFit(_("Values stand at this task. Leave it with a reason instead."))
        row.delete()
        return {}

    once(doing, "remove_task", {"task": task.pk}, do)


def tick_covered(doing: Doing, *, task: OrderTask, is_ticked: bool) -> None:
    """Tick or untick a covered line: the signature completes exactly the ticked ones."""
    require(doing.person, Right.LOG_WORK)

    def do() -> dict[str, Any]:
        open_order(task.order)
        row = OrderTask.objects.select_related("covered_by").get(pk=task.pk)
        if row.covered_by is None:
            raise DoesNotFit(
                _("This task is not covered by another. Leave it with a reason instead.")
            )
        row.is_ticked = is_ticked
        row.save(update_fields=["is_ticked"])
        return {}

    once(doing, "tick_covered", {"task": task.pk, "is_ticked": is_ticked}, do)


def plan_order(
    doing: Doing,
    *,
    order: Order,
    planned_at: datetime | None,
    people: Sequence[Person],
    note: str,
) -> None:
    """Change when an order is planned for, who does it, and its note."""
    require(doing.person, Right.HAND_OUT_ORDERS)
    body = {
        "order": order.pk,
        "planned_at": planned_at,
        "people": [person.pk for person in people],
        "note": note,
    }

    def do() -> dict[str, Any]:
        row = open_order(order)
        row.planned_at = planned_at
        row.note = tidy(note)
        checked(row, exclude=NOT_TYPED)
        row.save(update_fields=["planned_at", "note"])
        row.people.set(people)
        return {}

    once(doing, "plan_order", body, do)


def _subject(mold: Mold | None, *, auxiliary: Auxiliary | None) -> Mold | Auxiliary:
    if mold is not None and auxiliary is None:
        return mold
    if auxiliary is not None and mold is None:
        return auxiliary
    raise Incomplete(_("An order is for one mold or for one auxiliary."))


def _put_people(order: Order, *, people: Iterable[Person], is_new: bool) -> None:
    through = Order.people.through
    rows = [through(order_id=order.pk, person_id=person.pk) for person in people]
    through.objects.bulk_create(rows, ignore_conflicts=not is_new)


def _add_lines(
    order: Order, *, rules: Sequence[CareRule], why: Mapping[int, str], is_brought_forward: bool
) -> list[int]:
    """Put the rules and what they cover into the order; return the rules that are new in it."""
    for rule in rules:
        if (rule.mold_id, rule.auxiliary_id) != (order.mold_id, order.auxiliary_id):
            raise DoesNotFit(_("The task %(rule)s belongs to something else.") % {"rule": rule})
        if rule.withdrawn_at is not None:
            raise DoesNotFit(_("The task %(rule)s was withdrawn.") % {"rule": rule})
    covered = covered_rules(rules)
    asked = {rule.pk: rule for rule in rules}
    lines = {line.rule_id: line for line in order.tasks.all()}
    place = max((line.place for line in lines.values()), default=0)
    # a task that another one of those asked for covers goes in as its covered line; what is in
    # the order as a covered line, and is asked for now, becomes a task of its own
    own = [
        rule
        for rule in asked.values()
        if rule.pk in lines or not any(rule.pk in covered[other] for other in asked)
    ]
    entering: list[OrderTask] = []
    for rule in own:
        line = lines.get(rule.pk)
        if line is None:
            place += 1
            line = lines[rule.pk] = OrderTask(order=order, rule=rule, place=place)
            entering.append(line)
        elif line.covered_by_id is None and not is_brought_forward:
            continue
        line.covered_by = None
        line.is_ticked = True
        line.is_brought_forward = line.is_brought_forward or is_brought_forward
        line.why = why.get(rule.pk, line.why)
        checked(line, exclude=_NOT_TYPED_OF_LINES)
        if line.pk is not None:
            line.save(update_fields=["covered_by", "is_ticked", "is_brought_forward", "why"])
    OrderTask.objects.bulk_create(entering)
    under: list[OrderTask] = []
    for rule in own:
        for pk, reached in covered[rule.pk].items():
            if pk not in lines:
                place += 1
                lines[pk] = OrderTask(
                    order=order,
                    rule=reached,
                    place=place,
                    covered_by=lines[rule.pk],
                    why=why.get(pk, ""),
                )
                checked(lines[pk], exclude=_NOT_TYPED_OF_LINES)
                under.append(lines[pk])
    OrderTask.objects.bulk_create(under)
    return [line.rule_id for line in (*entering, *under)]


def _covered_pks(line: OrderTask) -> list[int]:
    return list(OrderTask.objects.filter(covered_by=line).values_list("pk", flat=True))
