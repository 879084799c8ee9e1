"""What becomes of each line of an order at its signature."""

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.doing import checked
from moldcare.acts.errors import DoesNotFit, Incomplete, NotFound
from moldcare.acts.signing.values import TaskResult
from moldcare.acts.words import tidy
from moldcare.care.models import Grade
from moldcare.work.convert import Sheet, SheetTask
from moldcare.work.models import OrderTask, OrderTaskOutcome


def all_lines(sheet: Sheet) -> list[OrderTask]:
    """Return all lines of an order, each followed by those it covers."""
    return [line for task in sheet.tasks for line in (task.task, *task.covers)]


def completes(line: OrderTask) -> bool:
    """Return whether the line restarts its rule. *Not needed* does so for an inspection only."""
    if line.outcome == OrderTaskOutcome.NOT_NEEDED:
        return line.rule.family.is_inspection
    return line.outcome == OrderTaskOutcome.DONE


def result_body(result: TaskResult) -> list[Any]:
    """Return a result as it stands in the hashed body of a hand-in."""
    return [
        result.outcome, result.reason, result.grade, result.is_brought_forward, result.is_ticked,
    ]  # fmt: skip


def apply_results(sheet: Sheet, *, results: Mapping[int, TaskResult]) -> None:
    """Put what the signature says onto the lines; a line that is not there is refused."""
    lines = {line.pk: line for line in all_lines(sheet)}
    for pk, result in results.items():
        line = lines.get(pk)
        if line is None:
            raise NotFound(_("A task that was signed is not in the order any more. Load it again."))
        if result.outcome and result.outcome not in OrderTaskOutcome.values:
            raise DoesNotFit(_("A task is done, left or found not needed."))
        if result.grade and result.grade not in Grade.values:
            raise DoesNotFit(_("%(grade)s is no as-found grade.") % {"grade": result.grade})
        if result.outcome and line.covered_by_id is None:
            line.outcome = result.outcome
            line.reason = tidy(result.reason)
        line.grade = result.grade or line.grade
        if result.is_brought_forward is not None:
            line.is_brought_forward = result.is_brought_forward
        if result.is_ticked is not None:
            line.is_ticked = result.is_ticked
        if line.outcome == OrderTaskOutcome.LEFT and not line.reason:
            raise Incomplete(_("Say why this was left: %(task)s.") % {"task": line.rule.name})
        checked(line, exclude=("order", "rule", "covered_by"))


def settle_outcomes(sheet: Sheet, *, results: Mapping[int, TaskResult], is_paper: bool) -> None:
    """Make every line done, left, or found not needed; refuse while something is open."""
    if not is_paper and not sheet.look.is_done:
        raise Incomplete(_("Look before cleaning first: take the photo, or say why there is none."))
    for task in sheet.tasks:
        line = task.task
        if line.outcome in {OrderTaskOutcome.LEFT, OrderTaskOutcome.NOT_NEEDED}:
            continue
        if not is_paper:
            _check_done(task)
        elif results.get(line.pk, TaskResult()).outcome != OrderTaskOutcome.DONE:
            raise Incomplete(
                _("Say of every line of the paper what became of it: %(task)s is open.")
                % {"task": line.rule.name}
            )
        line.outcome = OrderTaskOutcome.DONE
    for task in sheet.tasks:
        for covered in task.covers:
            is_done = covered.is_ticked and task.task.outcome == OrderTaskOutcome.DONE
            covered.outcome = OrderTaskOutcome.DONE if is_done else OrderTaskOutcome.OPEN
            covered.reason = ""


def _check_done(task: SheetTask) -> None:
    name = task.task.rule.name
    for step in task.steps:
        if step.needs_reason:
            raise Incomplete(
                _(
                    "%(task)s, step %(place)d: the value is outside its limits. Give a reason "
                    "or measure again."
                )
                % {"task": name, "place": step.place}
            )
        if not step.is_done:
            raise Incomplete(
                _(
                    "%(task)s, step %(place)d is open: %(step)s. Do it, or leave the task with "
                    "a reason."
                )
                % {"task": name, "place": step.place, "step": step.text}
            )
    if task.task.order.mold_id and not task.task.grade:
        raise Incomplete(
            _("Say how %(task)s was found: clean, light, heavy or failed.") % {"task": name}
        )
