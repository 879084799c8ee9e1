"""Working through a task sheet: looking first, then step by step."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing, check_happened, checked, once
from moldcare.acts.errors import DoesNotFit, Incomplete, NotFound
from moldcare.acts.orders import begin_now, open_order
from moldcare.acts.rights import Right, require
from moldcare.acts.words import reason_given, tidy
from moldcare.care.models import Grade, StepKind
from moldcare.files.models import File
from moldcare.plant.models import Person, Plant
from moldcare.plant.queries import the_plant
from moldcare.work.convert import LOOK_STEP, Sheet, SheetStep
from moldcare.work.models import Order, OrderTask, OrderTaskOutcome, StepValue
from moldcare.work.numbers import is_within, number_from_text, plain_decimal
from moldcare.work.queries import sheet_of

TICKED = "done"
MOST_MINUTES = 60 * 24 * 30


@dataclass(frozen=True, kw_only=True, slots=True)
class StepWritten:
    """What is written down at one step.

    Parameters
    ----------
    task : OrderTask or None
        The task; None for the look step.
    step : int
        The step's number within the task.
    value : str
        As typed; nothing for a tick.
    reason : str
        Why a value outside its limits stands.
    at : datetime or None
        When, by the tablet; None for now.
    seen : int or None
        The newest row of the step that whoever writes has seen; None looks at nothing.
    """

    task: OrderTask | None
    step: int
    value: str = ""
    reason: str = ""
    photo: File | None = None
    at: datetime | None = None
    seen: int | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class RecordedStep:
    """What became of a value: within its limits or not, and whether the step wants more."""

    pk: int
    is_within: bool | None
    needs_reason: bool


def record_step(
    doing: Doing,
    *,
    order: Order,
    task: OrderTask | None,
    step: int,
    value: str = "",
    reason: str = "",
    photo: File | None = None,
    at: datetime | None = None,
    seen: int | None = None,
) -> RecordedStep:
    """Write down what was done or measured at a step; the newest of a step counts.

    A value outside the limits is kept, and the step stays open until there is a reason or a
    second value. Writing at a step begins an order that is handed out.

    Raises
    ------
    NoNumber, DoesNotFit, Incomplete
        If the value is not what the step asks for, or somebody else wrote at the step since `seen`.
    """
    written = StepWritten(
        task=task, step=step, value=value, reason=reason, photo=photo, at=at, seen=seen
    )
    return record_steps(doing, order=order, steps=[written])[0]


def record_steps(
    doing: Doing, *, order: Order, steps: Sequence[StepWritten]
) -> tuple[RecordedStep, ...]:
    """Write down several steps at once: all of them, or none. See `record_step`."""
    require(doing.person, Right.LOG_WORK)
    plant = the_plant()
    for each in steps:
        if each.at is not None:
            check_happened(each.at, doing=doing, plant=plant)
    body = {
        "order": order.pk,
        "steps": [
            {
                "task": each.task.pk if each.task else None,
                "step": each.step,
                "value": each.value,
                "reason": each.reason,
                "photo": each.photo.sha256 if each.photo else None,
                "at": each.at,
            }
            for each in steps
        ],
    }

    def do() -> dict[str, Any]:
        row = open_order(order)
        begin_now(row, doing=doing)
        sheet = sheet_of(row)
        # how many values stand at a step since it was last open; a second one needs no reason
        standing = {
            step.key: len(step.earlier) + (step.value is not None)
            for step in (*sheet.steps, sheet.after)
        }
        answers = []
        for each in steps:
            asked = _asked_step(sheet, task=each.task, place=each.step)
            _check_seen(row, step=asked, seen=each.seen, person=doing.person)
            value = _value_row(row, step=asked, written=each, doing=doing, plant=plant)
            value.save()
            standing[asked.key] += 1
            answers.append(
                {
                    "pk": value.pk,
                    "is_within": value.is_within,
                    "needs_reason": value.is_within is False
                    and not value.reason
                    and standing[asked.key] < 2,
                }
            )
        return {"steps": answers}

    answer = once(doing, "record_steps", body, do)
    return tuple(RecordedStep(**each) for each in answer["steps"])


def undo_step(doing: Doing, *, order: Order, task: OrderTask | None, step: int) -> None:
    """Open a step again. What was written stays; a row behind it says that it was undone."""
    require(doing.person, Right.LOG_WORK)

    def do() -> dict[str, Any]:
        row = open_order(order)
        asked = _asked_step(sheet_of(row), task=task, place=step)
        if asked.value is None:
            return {}
        StepValue.objects.create(
            order=row,
            task=asked.task,
            step=asked.place,
            text=asked.text,
            kind=asked.kind,
            is_undone=True,
            at=doing.at,
            person=doing.person,
            written_at=doing.now,
        )
        return {}

    body = {"order": order.pk, "task": task.pk if task else None, "step": step}
    once(doing, "undo_step", body, do)


def record_look(
    doing: Doing,
    *,
    order: Order,
    grades: Mapping[int, str],
    brought_forward: Mapping[int, bool] | None = None,
    photo: File | None = None,
    without_photo: str = "",
    at: datetime | None = None,
    seen: int | None = None,
) -> None:
    """Write down the look before cleaning: the photo, and how each rule was found.

    Parameters
    ----------
    grades : mapping
        As-found grade by the number of the order's line, covered lines too.
    brought_forward : mapping, optional
        By the number of the order's line: whether signs were seen that its interval had not waited
        for. Lines that are not named stay as they are.
    without_photo : str
        Why there is no photo, where there is none.
    seen : int, optional
        The newest row of the look that whoever writes has seen.
    """
    require(doing.person, Right.LOG_WORK)
    if at is not None:
        check_happened(at, doing=doing, plant=the_plant())
    look = StepWritten(task=None, step=LOOK_STEP, value=without_photo, photo=photo, at=at)
    body = {
        "order": order.pk,
        "grades": dict(grades),
        "brought_forward": dict(brought_forward or {}),
        "photo": photo.sha256 if photo else None,
        "without_photo": without_photo,
        "at": at,
    }

    def do() -> dict[str, Any]:
        row = open_order(order)
        begin_now(row, doing=doing)
        set_grades(row, grades=grades)
        _set_brought_forward(row, said=brought_forward or {})
        sheet = sheet_of(row)
        _check_seen(row, step=sheet.look, seen=seen, person=doing.person)
        _value_row(row, step=sheet.look, written=look, doing=doing, plant=the_plant()).save()
        return {}

    once(doing, "record_look", body, do)


def grade_tasks(doing: Doing, *, order: Order, grades: Mapping[int, str]) -> None:
    """Say how rules were found before the work, by the number of the order's line."""
    require(doing.person, Right.LOG_WORK)

    def do() -> dict[str, Any]:
        set_grades(open_order(order), grades=grades)
        return {}

    once(doing, "grade_tasks", {"order": order.pk, "grades": dict(grades)}, do)


def set_grades(order: Order, *, grades: Mapping[int, str]) -> None:
    """Put the grades on the locked order's lines."""
    lines = {line.pk: line for line in OrderTask.objects.filter(order=order, pk__in=grades)}
    for pk, grade in grades.items():
        if grade not in Grade.values:
            raise DoesNotFit(_("%(grade)s is no as-found grade.") % {"grade": grade or "-"})
        if pk not in lines:
            raise NotFound(_("A task that was graded is not in this order any more."))
        lines[pk].grade = grade
    OrderTask.objects.bulk_update(lines.values(), ["grade"])


def _set_brought_forward(order: Order, *, said: Mapping[int, bool]) -> None:
    lines = {line.pk: line for line in OrderTask.objects.filter(order=order, pk__in=said)}
    for pk, is_brought_forward in said.items():
        if pk not in lines:
            raise NotFound(_("A task that was brought forward is not in this order any more."))
        lines[pk].is_brought_forward = is_brought_forward
    OrderTask.objects.bulk_update(lines.values(), ["is_brought_forward"])


def leave_task(doing: Doing, *, task: OrderTask, reason: str) -> None:
    """Leave a task undone, with a reason that the logbook keeps. Its rule stays due."""
    reason_given(reason)
    _set_outcome(doing, task=task, outcome=OrderTaskOutcome.LEFT, reason=reason)


def not_needed(doing: Doing, *, task: OrderTask, reason: str = "") -> None:
    """Say that a task was found not needed. Only an inspection's count restarts by that."""
    _set_outcome(doing, task=task, outcome=OrderTaskOutcome.NOT_NEEDED, reason=reason)


def take_up_task(doing: Doing, *, task: OrderTask) -> None:
    """Take up again what was left or found not needed."""
    _set_outcome(doing, task=task, outcome=OrderTaskOutcome.OPEN, reason="")


def bring_forward(doing: Doing, *, task: OrderTask, is_brought_forward: bool = True) -> None:
    """Say whether a task is done before its time because signs were seen."""
    require(doing.person, Right.LOG_WORK)

    def do() -> dict[str, Any]:
        open_order(task.order)
        row = OrderTask.objects.get(pk=task.pk)
        row.is_brought_forward = is_brought_forward
        row.save(update_fields=["is_brought_forward"])
        return {}

    body = {"task": task.pk, "is_brought_forward": is_brought_forward}
    once(doing, "bring_forward", body, do)


def set_minutes(doing: Doing, *, order: Order, minutes: int) -> None:
    """Write down how many minutes the work took."""
    require(doing.person, Right.LOG_WORK)
    check_minutes(minutes)

    def do() -> dict[str, Any]:
        row = open_order(order)
        row.minutes = minutes
        row.save(update_fields=["minutes"])
        return {}

    once(doing, "set_minutes", {"order": order.pk, "minutes": minutes}, do)


def check_minutes(minutes: int) -> None:
    """Raise DoesNotFit unless the minutes can be those of one order."""
    if not 0 <= minutes <= MOST_MINUTES:
        raise DoesNotFit(
            _("%(minutes)d minutes cannot be: give 0 to %(most)d.")
            % {"minutes": minutes, "most": MOST_MINUTES}
        )


def _set_outcome(doing: Doing, *, task: OrderTask, outcome: str, reason: str) -> None:
    require(doing.person, Right.LOG_WORK)

    def do() -> dict[str, Any]:
        order = open_order(task.order)
        row = OrderTask.objects.filter(pk=task.pk, order=order).first()
        if row is None:
            raise NotFound(_("This task is not in the order any more."))
        if row.covered_by_id is not None:
            raise DoesNotFit(_("This task is covered by another: tick or untick it."))
        row.outcome = outcome
        row.reason = tidy(reason)
        checked(row, exclude=("order", "rule", "covered_by"))
        row.save(update_fields=["outcome", "reason"])
        return {}

    once(doing, "set_outcome", {"task": task.pk, "outcome": outcome, "reason": reason}, do)


def _asked_step(sheet: Sheet, *, task: OrderTask | None, place: int) -> SheetStep:
    pk = task.pk if task else None
    for step in (*sheet.steps, sheet.after):
        if (step.task.pk if step.task else None, step.place) == (pk, place):
            return step
    raise NotFound(_("This step is not on the sheet any more. Load the sheet again."))


def _check_seen(order: Order, *, step: SheetStep, seen: int | None, person: Person) -> None:
    """Refuse to write over what somebody else wrote since this copy of the sheet was made."""
    if seen is None or step.newest <= seen:
        return
    other = (
        StepValue.objects.filter(
            order=order, task=step.task, step=step.place, pk__gt=seen, is_undone=False
        )
        .exclude(person=person)
        .select_related("person")
        .order_by("id")
        .last()
    )
    if other is not None and step.value is not None:
        raise DoesNotFit(
            _(
                "%(name)s wrote this step down meanwhile: %(step)s, %(value)s. That stands; open "
                "the step again on a fresh sheet if yours is the right one."
            )
            % {
                "name": other.person.name,
                "step": step.text,
                "value": f"{other.value or '–'} {other.unit}".strip(),
            }
        )


def _value_row(
    order: Order, *, step: SheetStep, written: StepWritten, doing: Doing, plant: Plant
) -> StepValue:
    """Return the row to be stored; refuse what the step does not ask for."""
    value, number, within = tidy(written.value), None, None
    match step.kind:
        case StepKind.TICK:
            value = value or TICKED
        case StepKind.VALUE:
            number = number_from_text(value, language=doing.person.language or plant.language)
            value = plain_decimal(number)
            within = is_within(number, low=step.low, high=step.high)
        case StepKind.CHOICE:
            if value not in step.choices:
                raise DoesNotFit(
                    _("Choose one of: %(choices)s.") % {"choices": ", ".join(step.choices)}
                )
        case StepKind.PHOTO:
            if written.photo is None and not value:
                raise Incomplete(_("Take the photo, or say why there is none."))
        case _:
            if not value:
                raise Incomplete(_("Say where: the position or the cavity."))
    row = StepValue(
        order=order,
        task=step.task,
        step=step.place,
        text=step.text,
        kind=step.kind,
        value=value,
        number=number,
        unit=step.unit,
        is_within=within,
        reason=tidy(written.reason),
        photo=written.photo,
        at=written.at or doing.at,
        person=doing.person,
        written_at=doing.now,
    )
    checked(row, exclude=("order", "task", "photo", "person", "number", "is_within"))
    return row
