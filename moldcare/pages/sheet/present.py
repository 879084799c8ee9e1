"""What the task sheet shows of an order, and of a form that was refused."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar

from django import forms
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from moldcare.care.models import Family, Grade, Reach, StepKind
from moldcare.core.shifts import ShiftCalendar
from moldcare.molds.queries import place_of, places_to_name
from moldcare.pages.sheet.forms import FoundForm, LookForm, SignForm, StepForm, grade_name
from moldcare.paper.cautions import DEFERENCE, Caution, cautions_for
from moldcare.plant.models import Person, Spot
from moldcare.plant.queries import cautions_in_force
from moldcare.work.convert import Sheet, SheetStep, SheetTask
from moldcare.work.models import Order, OrderTask
from moldcare.work.queries import missing_qualifications, sheet_of

Form = TypeVar("Form", bound=forms.Form)
# longer than a shift: work lay in between, and nobody knows how much
LONGEST_PROPOSED_MINUTES = 12 * 60
GRADE_MEANS = {
    Grade.CLEAN: gettext_lazy("Less than a third of what would make it fail."),
    Grade.LIGHT: gettext_lazy("From a third: some, and far from failing."),
    Grade.HEAVY: gettext_lazy(
        "From three quarters: it would not have lasted half an interval more."
    ),
    Grade.FAILED: gettext_lazy("It no longer did its work."),
}


@dataclass(frozen=True, kw_only=True, slots=True)
class GradeChoice:
    """One of the four grades, as a card to tap."""

    value: str
    word: str
    means: str
    is_chosen: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class FoundLine:
    """A line whose grade is asked for."""

    line: OrderTask
    name: str
    chosen: str
    grades: Sequence[GradeChoice]
    is_covered: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Refused:
    """A form that was not written, and where on the sheet it stands."""

    form: forms.Form
    where: str


@dataclass(frozen=True, kw_only=True, slots=True)
class TaskPart:
    """A task with how much of it is done."""

    sheet_task: SheetTask
    signs: Sequence[str]
    form: forms.Form | None

    @property
    def line(self) -> OrderTask:
        """The order's line."""
        return self.sheet_task.task

    @property
    def steps(self) -> Sequence[SheetStep]:
        """Its steps."""
        return self.sheet_task.steps

    @property
    def done_count(self) -> int:
        """How many steps are done."""
        return sum(step.is_done for step in self.steps)

    @property
    def has_turn(self) -> bool:
        """Whether the present step is one of its steps."""
        return any(step.state == "now" for step in self.steps)


@dataclass(frozen=True, kw_only=True, slots=True)
class SheetPage:
    """Everything that the sheet shows."""

    now: datetime
    order: Order
    sheet: Sheet
    spot: Spot | None
    reach: str
    cautions: Sequence[Caution]
    deference: str
    is_open: bool
    may_write: bool
    tasks: Sequence[TaskPart]
    step_form: forms.Form | None
    look_form: LookForm | None
    found_form: FoundForm | None
    found_lines: Sequence[FoundLine]
    sign_form: SignForm | None
    missing: Sequence[str]
    refused: Refused | None
    place_names: Sequence[str]

    @property
    def steps_count(self) -> int:
        """How many steps the sheet has."""
        return len(self.sheet.steps)

    @property
    def place_in_work(self) -> int:
        """Which of them is the present one."""
        return next((at for at, step in enumerate(self.sheet.steps, 1) if step.state == "now"), 0)

    @property
    def is_begun(self) -> bool:
        """Whether the look was written down."""
        return self.sheet.look.is_done


def sheet_page(
    order: Order,
    *,
    person: Person,
    may_write: bool,
    now: datetime,
    calendar: ShiftCalendar,
    refused: Refused | None = None,
) -> SheetPage:
    """Read the sheet as it stands now, in a number of queries that its length does not change."""
    sheet = sheet_of(order)
    is_open = order.signed_at is None and order.struck_out_at is None
    writes = is_open and may_write
    asks_grade = order.mold_id is not None
    ungraded = sheet.ungraded if asks_grade else ()
    is_look = writes and sheet.look.state == "now"
    graded = lines_to_grade(sheet) if asks_grade and sheet.tasks else []
    found_form: FoundForm | None = None
    look_form: LookForm | None = None
    if is_look:
        look_form = _or_refused(refused, where="look", kind=LookForm) or LookForm(
            lines=graded, tasks=[task.task for task in sheet.tasks]
        )
    elif writes and asks_grade and graded:
        found_form = _or_refused(refused, where="found", kind=FoundForm) or FoundForm(
            lines=list(ungraded) or graded
        )
    is_ready = writes and sheet.is_ready_to_sign and not ungraded
    sign_form: SignForm | None = None
    missing: list[str] = []
    if is_ready:
        missing = missing_qualifications(
            person,
            subjects=[task.task.rule.qualification for task in sheet.tasks if task.is_done],
            on=timezone.localtime(now).date(),
        )
        sign_form = _or_refused(refused, where="sign", kind=SignForm) or SignForm(
            signs=person,
            initial={"minutes": proposed_minutes(order, now=now, calendar=calendar)},
        )
    shown = look_form or found_form
    families = _families(sheet)
    place = place_of(order.mold) if order.mold else None
    return SheetPage(
        now=now,
        order=order,
        sheet=sheet,
        spot=place.spot if place else None,
        reach=str(Reach(sheet.reach).label),
        cautions=cautions_for(families, own=[row.text for row in cautions_in_force(families)]),
        deference=str(DEFERENCE),
        is_open=is_open,
        may_write=writes,
        tasks=[_part(task, refused=refused) for task in sheet.tasks],
        step_form=_step_form(sheet, refused=refused) if writes and not is_look else None,
        look_form=look_form,
        found_form=found_form,
        found_lines=_found_lines(shown) if shown else [],
        sign_form=sign_form,
        missing=missing,
        refused=refused,
        place_names=_place_names(sheet, order=order),
    )


def lines_to_grade(sheet: Sheet) -> list[OrderTask]:
    """Return the lines whose as-found grade is asked for: open tasks, and ticked lines covered."""
    return [
        line
        for task in sheet.tasks
        if task.is_open
        for line in (task.task, *(each for each in task.covers if each.is_ticked))
    ]


def proposed_minutes(order: Order, *, now: datetime, calendar: ShiftCalendar) -> int | None:
    """Return the minutes since the sheet was begun; None where a shift lay in between."""
    if order.minutes:
        return order.minutes
    if order.begun_at is None or order.begun_at > now:
        return None
    began, runs = calendar.shift_at(order.begun_at), calendar.shift_at(now)
    if began is not None and runs is not None and began.starts_at != runs.starts_at:
        return None
    minutes = max(1, round((now - order.begun_at).total_seconds() / 60))
    return minutes if minutes <= LONGEST_PROPOSED_MINUTES else None


def grade_choices(family: Family | None, *, chosen: str = "") -> list[GradeChoice]:
    """Return the four grades, in the family's own words where it has them."""
    own = (
        (family.grade_clean, family.grade_light, family.grade_heavy, family.grade_failed)
        if family
        else ("", "", "", "")
    )
    return [
        GradeChoice(
            value=grade.value,
            word=str(grade.label),
            means=words or str(GRADE_MEANS[grade]),
            is_chosen=grade.value == chosen,
        )
        for grade, words in zip(Grade, own, strict=True)
    ]


def _found_lines(form: FoundForm) -> list[FoundLine]:
    found = []
    for place, line in enumerate(form.lines):
        name = grade_name(line)
        chosen = line.grade
        if place and form.is_bound:
            chosen = str(form.data.get(name, ""))
        elif not place and form.is_bound:
            chosen = str(form.data.get("grade", ""))
        found.append(
            FoundLine(
                line=line,
                name=name,
                chosen=chosen,
                grades=grade_choices(line.rule.family, chosen=chosen),
                is_covered=line.covered_by_id is not None,
            )
        )
    return found


def _part(task: SheetTask, *, refused: Refused | None) -> TaskPart:
    is_refused = refused is not None and refused.where == f"task-{task.task.pk}"
    return TaskPart(
        sheet_task=task,
        signs=task.task.rule.signs_known,
        form=refused.form if refused is not None and is_refused else None,
    )


def _step_form(sheet: Sheet, *, refused: Refused | None) -> forms.Form | None:
    step = sheet.now
    if step is None or step.task is None:
        return None
    if refused is not None and refused.where == step.key:
        return refused.form
    return StepForm(step=step)


def _or_refused(refused: Refused | None, *, where: str, kind: type[Form]) -> Form | None:
    if refused is not None and refused.where == where and isinstance(refused.form, kind):
        return refused.form
    return None


def _families(sheet: Sheet) -> list[str]:
    keys = [line.rule.family.key for task in sheet.tasks for line in (task.task, *task.covers)]
    return list(dict.fromkeys(keys))


def _place_names(sheet: Sheet, *, order: Order) -> list[str]:
    """Return what a step that asks for a place may be filled in with, where one does."""
    asks = any(step.kind == StepKind.POSITION for step in sheet.steps)
    if not asks or order.mold is None:
        return []
    positions, cavities = places_to_name(order.mold)
    return [*positions, *(_("cavity %(ident)s") % {"ident": ident} for ident in cavities)]
