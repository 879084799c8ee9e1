"""An order's rows as the sheet that a technician works through."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from enum import StrEnum

from django.utils.translation import gettext as _

from moldcare.care.models import Reach, Step, StepKind
from moldcare.work.models import Order, OrderTask, OrderTaskOutcome, StepValue

# the look comes before all tasks, the picture of the finished work after them; neither is of a task
LOOK_STEP = 0
AFTER_STEP = 1


class StepState(StrEnum):
    """Where a step of a sheet stands."""

    DONE = "done"
    NOW = "now"
    NEXT = "next"
    LATER = "later"
    LEFT_OUT = "left_out"


@dataclass(frozen=True, kw_only=True, slots=True)
class SheetStep:
    """One step of a sheet.

    Parameters
    ----------
    task : OrderTask or None
        The task it belongs to; None for the look step.
    place : int
        Its number within the task.
    state : StepState
        Where it stands.
    value : StepValue or None
        What counts: the newest row, unless that one undid the step.
    earlier : tuple of StepValue
        What was written before it since the step was last open.
    needs_reason : bool
        A value outside the limits stands there without a reason and without a second value.
    newest : int
        The newest row written at the step, whatever it says; 0 for none. What a form has seen.
    """

    task: OrderTask | None
    place: int
    text: str
    kind: str
    unit: str = ""
    low: Decimal | None = None
    high: Decimal | None = None
    choices: tuple[str, ...] = ()
    state: StepState = StepState.LATER
    value: StepValue | None = None
    earlier: tuple[StepValue, ...] = ()
    needs_reason: bool = False
    newest: int = 0

    @property
    def key(self) -> str:
        """Return what names the step within its order."""
        return step_key(task=self.task.pk if self.task else None, place=self.place)

    @property
    def is_done(self) -> bool:
        """Return whether the step is done."""
        return self.state is StepState.DONE

    @property
    def has_picture(self) -> bool:
        """Return whether a picture was taken at it."""
        return self.is_done and self.value is not None and self.value.photo_id is not None

    @property
    def at(self) -> datetime | None:
        """Return when it was done, for the margin."""
        return self.value.at if self.value else None


@dataclass(frozen=True, kw_only=True, slots=True)
class SheetTask:
    """One task of a sheet with its steps, and the lines that it covers."""

    task: OrderTask
    steps: tuple[SheetStep, ...]
    covers: tuple[OrderTask, ...]

    @property
    def is_open(self) -> bool:
        """Return whether nothing was said yet about what becomes of the task."""
        return self.task.outcome == OrderTaskOutcome.OPEN

    @property
    def is_done(self) -> bool:
        """Return whether all steps are done, or the task is signed as done."""
        if self.task.outcome == OrderTaskOutcome.DONE:
            return True
        return self.is_open and all(step.is_done for step in self.steps)


@dataclass(frozen=True, kw_only=True, slots=True)
class PhotoPair:
    """The same thing before the work and after it, in pictures; `about` says what it is."""

    about: str
    before: SheetStep
    after: SheetStep

    @property
    def shown(self) -> tuple[SheetStep, SheetStep]:
        """Return both, in the order of time."""
        return self.before, self.after


@dataclass(frozen=True, kw_only=True, slots=True)
class Sheet:
    """An order as it is worked through: the look first, then every task's steps in order.

    `after` is the picture of the finished work: nobody has to take it, so it is none of the steps.
    """

    order: Order
    look: SheetStep
    tasks: tuple[SheetTask, ...]
    after: SheetStep

    @property
    def steps(self) -> tuple[SheetStep, ...]:
        """Return all steps in the order of the work."""
        return (self.look, *(step for task in self.tasks for step in task.steps))

    @property
    def now(self) -> SheetStep | None:
        """Return the step that is to be done now; None when all are done."""
        return next((step for step in self.steps if step.state is StepState.NOW), None)

    @property
    def ungraded(self) -> tuple[OrderTask, ...]:
        """Return the lines that still want an as-found grade."""
        return tuple(
            line
            for task in self.tasks
            if task.is_open
            for line in (task.task, *(each for each in task.covers if each.is_ticked))
            if not line.grade
        )

    @property
    def grade_before(self) -> str:
        """Return the first grade that was given: what the others are filled in with to begin."""
        lines = (line for task in self.tasks for line in (task.task, *task.covers))
        return next((line.grade for line in lines if line.grade), "")

    @property
    def pairs(self) -> tuple[PhotoPair, ...]:
        """Return what can be seen before and after, side by side.

        A task's first picture and its last; the picture before cleaning with a task's only one,
        and with the one of the finished work.
        """
        found = []
        for task in self.tasks:
            pictured = [step for step in task.steps if step.has_picture]
            if len(pictured) == 1 and self.look.has_picture:
                pictured = [self.look, *pictured]
            if len(pictured) > 1:
                found.append(
                    PhotoPair(about=task.task.rule.name, before=pictured[0], after=pictured[-1])
                )
        if self.look.has_picture and self.after.has_picture:
            found.append(PhotoPair(about=self.after.text, before=self.look, after=self.after))
        return tuple(found)

    @property
    def open_steps(self) -> tuple[SheetStep, ...]:
        """Return what is neither done nor left out."""
        return tuple(
            step
            for step in self.steps
            if step.state in {StepState.NOW, StepState.NEXT, StepState.LATER}
        )

    @property
    def is_ready_to_sign(self) -> bool:
        """Return whether nothing is open any more."""
        return bool(self.tasks) and not self.open_steps

    @property
    def reach(self) -> str:
        """Return how far the mold must be opened for all of it."""
        order = list(Reach.values)
        return max(
            (task.task.rule.reach for task in self.tasks), key=order.index, default=Reach.CLOSED
        )


def step_key(*, task: int | None, place: int) -> str:
    """Return what names a step within its order."""
    if task:
        return f"{task}-{place}"
    return "after" if place == AFTER_STEP else "look"


def sheet_from_rows(
    order: Order,
    *,
    lines: Sequence[OrderTask],
    steps: Mapping[int, Sequence[Step]],
    values: Sequence[StepValue],
) -> Sheet:
    """Lay an order's rows out as its sheet.

    Parameters
    ----------
    order : Order
        The order.
    lines : sequence of OrderTask
        All its lines in order, covered ones among them.
    steps : mapping
        The steps of every rule, by the rule's number.
    values : sequence of StepValue
        Everything written down, oldest first.
    """
    written: dict[tuple[int | None, int], list[StepValue]] = {}
    for value in values:
        written.setdefault((value.task_id, value.step), []).append(value)
    covers: dict[int, list[OrderTask]] = {}
    for line in lines:
        if line.covered_by_id:
            covers.setdefault(line.covered_by_id, []).append(line)
    own = [line for line in lines if not line.covered_by_id]

    look = _with_values(
        SheetStep(
            task=None,
            place=LOOK_STEP,
            text=_("Look and photograph before cleaning"),
            kind=StepKind.PHOTO,
        ),
        values=written.get((None, LOOK_STEP), []),
        is_left_out=False,
    )
    tasks = [
        SheetTask(
            task=line,
            steps=tuple(
                _with_values(
                    step,
                    values=written.get((line.pk, step.place), []),
                    is_left_out=line.outcome
                    in {OrderTaskOutcome.LEFT, OrderTaskOutcome.NOT_NEEDED},
                )
                for step in _steps_of(line, steps=steps.get(line.rule_id, ()))
            ),
            covers=tuple(covers.get(line.pk, [])),
        )
        for line in own
    ]
    after = _with_values(
        SheetStep(task=None, place=AFTER_STEP, text=_("Photo after the work"), kind=StepKind.PHOTO),
        values=written.get((None, AFTER_STEP), []),
        is_left_out=False,
    )
    return _with_turns(order, look=look, tasks=tasks, after=after)


def _steps_of(line: OrderTask, *, steps: Sequence[Step]) -> list[SheetStep]:
    """Return the steps of a line; a rule without steps is one tick."""
    if not steps:
        return [SheetStep(task=line, place=1, text=line.rule.name, kind=StepKind.TICK)]
    return [
        SheetStep(
            task=line,
            place=step.place,
            text=step.text,
            kind=step.kind,
            unit=step.unit,
            low=step.low,
            high=step.high,
            choices=tuple(str(choice) for choice in step.choices),
        )
        for step in steps
    ]


def _with_values(step: SheetStep, *, values: Sequence[StepValue], is_left_out: bool) -> SheetStep:
    """Return the step with what counts of its rows, and whether that makes it done.

    Rows written under another wording or kind of the step do not count for it.
    """
    since_open: list[StepValue] = []
    for value in values:
        if value.is_undone:
            since_open = []
        elif value.kind == step.kind and (step.task is None or value.text == step.text):
            since_open.append(value)
    counting = since_open[-1] if since_open else None
    needs_reason = (
        counting is not None
        and counting.is_within is False
        and not counting.reason
        and len(since_open) < 2
    )
    state = StepState.LATER
    if is_left_out:
        state = StepState.LEFT_OUT
    elif counting is not None and not needs_reason:
        state = StepState.DONE
    return _replaced(
        step,
        state=state,
        value=counting,
        earlier=tuple(since_open[:-1]),
        needs_reason=needs_reason and not is_left_out,
        newest=values[-1].pk if values else 0,
    )


def _with_turns(
    order: Order, *, look: SheetStep, tasks: Sequence[SheetTask], after: SheetStep
) -> Sheet:
    """Return the sheet with the first open step as the present one and the one after it named."""
    turns = iter((StepState.NOW, StepState.NEXT))

    def turned(step: SheetStep) -> SheetStep:
        if step.state is not StepState.LATER:
            return step
        return _replaced(step, state=next(turns, StepState.LATER))

    look = turned(look)
    return Sheet(
        order=order,
        look=look,
        tasks=tuple(
            SheetTask(
                task=task.task,
                steps=tuple(turned(step) for step in task.steps),
                covers=task.covers,
            )
            for task in tasks
        ),
        after=after,
    )


def _replaced(step: SheetStep, **changes: object) -> SheetStep:
    fields = {name: getattr(step, name) for name in SheetStep.__dataclass_fields__}
    return SheetStep(**{**fields, **changes})
