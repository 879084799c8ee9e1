"""What the task sheet shows of an order, and of a form that was refused."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy

from moldcare.care.models import Family, Grade, Reach
from moldcare.core.shifts import ShiftCalendar
from moldcare.molds.queries import place_of
from moldcare.pages.sheet.forms import (
    GRADE_BUTTON,
    AfterForm,
    FoundForm,
    LookForm,
    PassOnForm,
    SignForm,
    StepForm,
    grade_name,
)
from moldcare.pages.sheet.mold_map import MoldMap, mold_map
from moldcare.pages.sheet.reasons import ready_reasons
from moldcare.pages.sheet.supplies import supply_lines
from moldcare.paper.cautions import DEFERENCE, Caution, cautions_for
from moldcare.plant.models import Person, Spot
from moldcare.plant.queries import cautions_in_force
from moldcare.work.convert import Sheet, SheetStep, SheetTask
from moldcare.work.models import Order, OrderTask, OrderTaskOutcome, PartOut, PassedOn
from moldcare.work.queries import missing_qualifications, parts_out, passed_on, sheet_of

Form = TypeVar("Form", bound=forms.Form)
# longer than a shift: work lay in between, and nobody knows how much
LONGEST_PROPOSED_MINUTES = 12 * 60
_NOT_DONE = {OrderTaskOutcome.LEFT, OrderTaskOutcome.NOT_NEEDED}
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
    id: str
    chosen: str
    grades: Sequence[GradeChoice]
    is_covered: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Refused:
    """A form that was not written, and where on the sheet it stands."""

    form: forms.Form
    where: str


@dataclass(frozen=True, kw_only=True, slots=True)
class StepPart:
    """A step with its place in the work and the form that writes it down."""

    step: SheetStep
    number: int
    form: forms.Form | None

    @property
    def has_turn(self) -> bool:
        """Whether it is the present one."""
        return self.step.state == "now"


@dataclass(frozen=True, kw_only=True, slots=True)
class TaskPart:
    """A task with how much of it is done."""

    sheet_task: SheetTask
    steps: Sequence[StepPart]
    signs: Sequence[str]
    form: forms.Form | None

    @property
    def line(self) -> OrderTask:
        """The order's line."""
        return self.sheet_task.task

    @property
    def done_count(self) -> int:
        """How many steps are done."""
        return sum(part.step.is_done for part in self.steps)


@dataclass(frozen=True, kw_only=True, slots=True)
class SheetPage:
    """Everything that the sheet shows.

    The forms of all steps are there, so that the work goes on where no server answers; which of
    them is shown follows from the steps' states, and without script the server moves them on.
    """

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
    look_form: LookForm | None
    look_lines: Sequence[FoundLine]
    found_form: FoundForm | None
    found_lines: Sequence[FoundLine]
    otherwise_form: FoundForm | None
    otherwise_lines: Sequence[FoundLine]
    after_form: AfterForm | None
    pass_form: PassOnForm | None
    sign_form: SignForm | None
    sign_state: str
    missing: Sequence[str]
    refused: Refused | None
    places: MoldMap
    parts_out: Sequence[PartOut]
    passed_on: PassedOn | None
    leave_reasons: Sequence[tuple[str, str]]
    unneeded_reasons: Sequence[tuple[str, str]]

    @property
    def steps_count(self) -> int:
        """How many steps the sheet has."""
        return len(self.sheet.steps)

    @property
    def is_begun(self) -> bool:
        """Whether the look was written down."""
        return self.sheet.look.is_done

    @property
    def subject(self) -> str:
        """What a tablet calls the order whose forms wait on it."""
        return f"order-{self.order.number}"

    @property
    def version(self) -> int:
        """The newest row that was written on the sheet: what a copy of it has seen."""
        return max(step.newest for step in (*self.sheet.steps, self.sheet.after))

    @property
    def found_state(self) -> str:
        """Where asking how later tasks were found stands: before the signature."""
        return "later" if self.sheet.now else "now"


def sheet_page(
    order: Order,
    *,
    person: Person | None,
    may_write: bool,
    now: datetime,
    calendar: ShiftCalendar,
    refused: Refused | None = None,
) -> SheetPage:
    """Read the sheet as it stands now, in a number of queries that its length does not change.

    Without a person it is a copy that lies on a tablet for whoever takes it in hand.
    """
    sheet = sheet_of(order)
    is_open = order.signed_at is None and order.struck_out_at is None
    writes = is_open and may_write
    asks_grade = order.mold_id is not None
    graded = lines_to_grade(sheet) if asks_grade and writes else []
    ungraded = list(sheet.ungraded) if asks_grade else []
    is_look_open = writes and not sheet.look.is_done
    places = mold_map(order.mold) if writes else MoldMap()
    look_form = found_form = otherwise_form = None
    if writes:
        look_form = _or_refused(refused, where="look", kind=LookForm) or LookForm(
            lines=graded, tasks=[task.task for task in sheet.tasks]
        )
    if graded and not is_look_open:
        found = _or_refused(refused, where="found", kind=FoundForm)
        if ungraded:
            found_form = found or FoundForm(lines=ungraded)
        else:
            otherwise_form = found or FoundForm(lines=graded, auto_id="otherwise_%s")
    missing: list[str] = []
    sign_form: SignForm | None = None
    if writes and sheet.tasks:
        if person is not None:
            missing = missing_qualifications(
                person,
                subjects=[
                    task.task.rule.qualification
                    for task in sheet.tasks
                    if task.task.outcome not in _NOT_DONE
                ],
                on=timezone.localtime(now).date(),
            )
        sign_form = _or_refused(refused, where="sign", kind=SignForm) or SignForm(
            signs=person,
            supplies=supply_lines(sheet),
            initial={"minutes": proposed_minutes(order, now=now, calendar=calendar)},
        )
    families = _families(sheet)
    place = place_of(order.mold) if order.mold else None
    is_ready = sheet.is_ready_to_sign and not ungraded
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
        tasks=_task_parts(sheet, writes=writes, places=places, refused=refused),
        look_form=look_form,
        look_lines=_found_lines(look_form, prefix="look"),
        found_form=found_form,
        found_lines=_found_lines(found_form, prefix="found"),
        otherwise_form=otherwise_form,
        otherwise_lines=_found_lines(otherwise_form, prefix="otherwise"),
        after_form=(_or_refused(refused, where="after", kind=AfterForm) or AfterForm())
        if writes
        else None,
        pass_form=(
            _or_refused(refused, where="pass_on", kind=PassOnForm) or PassOnForm(places=places)
        )
        if writes
        else None,
        sign_form=sign_form,
        sign_state="now" if is_ready else "later",
        missing=missing,
        refused=refused,
        places=places,
        parts_out=parts_out(order=order),
        passed_on=passed_on([order.pk]).get(order.pk) if is_open else None,
        leave_reasons=ready_reasons("leave"),
        unneeded_reasons=ready_reasons("not_needed"),
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


def _found_lines(form: FoundForm | None, *, prefix: str) -> list[FoundLine]:
    """Return the lines of a form that asks for grades; `prefix` keeps its ids apart."""
    found: list[FoundLine] = []
    for place, line in enumerate(form.lines if form else ()):
        name = grade_name(line)
        chosen = line.grade
        if form is not None and form.is_bound:
            chosen = str(form.data.get(name if place else GRADE_BUTTON, ""))
        found.append(
            FoundLine(
                line=line,
                name=name,
                id=f"{prefix}-{line.pk}",
                chosen=chosen,
                grades=grade_choices(line.rule.family, chosen=chosen),
                is_covered=line.covered_by_id is not None,
            )
        )
    return found


def _task_parts(
    sheet: Sheet, *, writes: bool, places: MoldMap, refused: Refused | None
) -> list[TaskPart]:
    numbers = {step.key: number for number, step in enumerate(sheet.steps, 1)}

    def form_of(step: SheetStep) -> forms.Form | None:
        if not writes:
            return None
        if refused is not None and refused.where == step.key:
            return refused.form
        return StepForm(step=step, places=places)

    return [
        TaskPart(
            sheet_task=task,
            steps=[
                StepPart(step=step, number=numbers[step.key], form=form_of(step))
                for step in task.steps
            ],
            signs=task.task.rule.signs_known,
            form=refused.form
            if refused is not None and refused.where == f"task-{task.task.pk}"
            else None,
        )
        for task in sheet.tasks
    ]


def _or_refused(refused: Refused | None, *, where: str, kind: type[Form]) -> Form | None:
    if refused is not None and refused.where == where and isinstance(refused.form, kind):
        return refused.form
    return None


def _families(sheet: Sheet) -> list[str]:
    keys = [line.rule.family.key for task in sheet.tasks for line in (task.task, *task.covers)]
    return list(dict.fromkeys(keys))
