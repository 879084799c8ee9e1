"""What is typed in from a sheet of paper: what became of each line, and the signature."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from moldcare.acts.signing import TaskResult
from moldcare.care.models import Grade
from moldcare.pages.fields import MomentField, TextField, boxes
from moldcare.pages.sheet.forms import MOST_REASON, SignForm
from moldcare.work.convert import Sheet
from moldcare.work.models import OrderTask, OrderTaskOutcome

OUTCOMES = (OrderTaskOutcome.DONE, OrderTaskOutcome.LEFT, OrderTaskOutcome.NOT_NEEDED)


class PaperForm(SignForm):
    """A sheet of paper: each line with its outcome and grade, when it was finished, by whom."""

    happened_at = MomentField(happened=True, label=gettext_lazy("When the work was finished"))

    def __init__(self, *args: Any, sheet: Sheet, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.sheet = sheet
        has_grade = sheet.order.mold_id is not None
        for task in sheet.tasks:
            line = task.task
            self.fields[f"outcome-{line.pk}"] = boxes(
                [(each.value, each.label) for each in OUTCOMES], label=_("What came of it")
            )
            if has_grade:
                self.fields[f"grade-{line.pk}"] = boxes(
                    Grade.choices, label=_("As found"), required=False
                )
            self.fields[f"reason-{line.pk}"] = TextField(
                most=MOST_REASON, required=False, label=_("Why it was left or not needed")
            )
            for covered in task.covers:
                self.fields[f"ticked-{covered.pk}"] = forms.BooleanField(
                    required=False,
                    initial=covered.is_ticked,
                    label=_("Covered: %(task)s") % {"task": covered.rule.name},
                )

    def clean(self) -> dict[str, Any]:
        """Ask for the grade of what was done, and for why something was left."""
        data: dict[str, Any] = super().clean() or {}
        for task in self.sheet.tasks:
            pk = task.task.pk
            outcome = data.get(f"outcome-{pk}")
            grade = f"grade-{pk}"
            is_done = outcome == OrderTaskOutcome.DONE
            if is_done and grade in self.fields and not data.get(grade):
                self.add_error(grade, _("Say how it was found, as the paper has it."))
            if outcome == OrderTaskOutcome.LEFT and not data.get(f"reason-{pk}"):
                self.add_error(f"reason-{pk}", _("Say why it was left."))
        return data

    def results(self) -> dict[int, TaskResult]:
        """Return what the paper says of each line."""
        data = self.cleaned_data
        found: dict[int, TaskResult] = {}
        for task in self.sheet.tasks:
            pk = task.task.pk
            found[pk] = TaskResult(
                outcome=data[f"outcome-{pk}"],
                reason=data[f"reason-{pk}"],
                grade=data.get(f"grade-{pk}", ""),
            )
            for covered in task.covers:
                found[covered.pk] = TaskResult(
                    is_ticked=data[f"ticked-{covered.pk}"], grade=data.get(f"grade-{pk}", "")
                )
        return found

    @property
    def lines(self) -> list[tuple[OrderTask, list[forms.BoundField]]]:
        """Each task with its fields, in the order of the paper."""
        found = []
        for task in self.sheet.tasks:
            pk = task.task.pk
            names = [f"outcome-{pk}", f"grade-{pk}", f"reason-{pk}"]
            names += [f"ticked-{covered.pk}" for covered in task.covers]
            found.append((task.task, [self[name] for name in names if name in self.fields]))
        return found
