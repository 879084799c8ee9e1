"""Sets one task of a work order: the rows of its ledger."""

from collections.abc import Iterator
from decimal import Decimal

from django.utils.translation import gettext as _
from reportlab.platypus import CondPageBreak, Flowable, Spacer

from moldcare.paper import marks, numbers
from moldcare.paper.blocks import Drawn
from moldcare.paper.handwriting import (
    Answers,
    Blank,
    Blanks,
    GradeBoxes,
    numbered_box,
    ruled_lines,
    value_box,
)
from moldcare.paper.ledger import LedgerRow
from moldcare.paper.styles import (
    BODY,
    HEAD,
    MARGIN,
    MARGIN_SMALL,
    SMALL,
    SMALL_STRONG,
    STRONG,
    paragraph,
    paragraphs,
)
from moldcare.paper.typefaces import Typesetter
from moldcare.paper.work_order.document import (
    EDGES,
    PlannedSupply,
    StepKind,
    WorkOrderDocument,
    WorkOrderStep,
    WorkOrderTask,
)

SIDE_WIDTH = 160.0
STRIP_WIDTH = 146.0
OUTCOME_HEIGHT = 62


class TaskRows:
    """The tasks of one work order being set."""

    def __init__(self, document: WorkOrderDocument, *, typesetter: Typesetter) -> None:
        self.document, self.typesetter = document, typesetter

    def _set(self, text: object, *, style: object = BODY) -> Flowable:
        return paragraph(self.typesetter, str(text), style=style)

    def _number(self, value: Decimal | int) -> str:
        return numbers.decimal_number(Decimal(value), locale=self.document.language)

    def _quantity(self, value: Decimal | int, *, unit: str) -> str:
        return numbers.quantity(value, unit=unit, locale=self.document.language)

    def task(self, task: WorkOrderTask, *, number: int) -> Iterator[Flowable]:
        """Give the rows of one task: why it is due, as found, steps, supplies, outcome."""
        yield CondPageBreak(150)
        yield self._task_head(task, number=number)
        if task.has_grade:
            yield LedgerRow(
                [
                    GradeBoxes(
                        [(str(grade.name), str(grade.meaning)) for grade in task.grades],
                        typesetter=self.typesetter,
                    )
                ],
                margin=[
                    self._set(_("as found"), style=STRONG),
                    self._set(_("before the work"), style=MARGIN_SMALL),
                ],
            )
        for at, step in enumerate(task.steps, start=1):
            yield self._step(step, number=f"{number}.{at}")
        for at, supply in enumerate(task.supplies):
            yield self._supply(supply, is_first=at == 0)
        yield CondPageBreak(OUTCOME_HEIGHT)  # what is ticked and why stay on one page
        yield self._outcome()
        yield Spacer(0, 12)

    def _task_head(self, task: WorkOrderTask, *, number: int) -> Flowable:
        margin: list[Flowable] = [self._set(f"{number}", style=HEAD)]
        if task.state_text:
            margin.append(self._set(task.state_text, style=SMALL_STRONG))
        if task.standard_minutes is not None:
            minutes = self._quantity(task.standard_minutes, unit=_("min"))
            margin.append(self._set(minutes, style=MARGIN_SMALL))
        body: list[Flowable] = [
            self._set(task.name, style=HEAD),
            *paragraphs(self.typesetter, task.reason),
        ]
        if task.reach:
            body.append(
                self._set(
                    _("Mold opened as far as: %(reach)s.") % {"reach": task.reach}, style=SMALL
                )
            )
        if task.covers:
            also = _("Also completes: %(names)s.") % {"names": ", ".join(task.covers)}
            body.append(self._set(also, style=SMALL))
        if task.signs:
            late = _("Overdue shows as: %(signs)s.") % {"signs": "; ".join(task.signs)}
            body.append(self._set(late, style=SMALL))
        side: list[Flowable] = []
        if task.strip is not None:
            figures = task.strip

            def draw(canvas: object, width: float) -> None:
                marks.draw_strip(canvas, x=0, y=9, width=width, figures=figures)

            side.append(Drawn(24, draw))
        return LedgerRow(
            body,
            margin=margin,
            side=side,
            side_width=STRIP_WIDTH,
            edge=EDGES[task.state],
            pad=6,
            carried=lambda: [
                self._set(f"{number}", style=HEAD),
                self._set(_("continued"), style=MARGIN_SMALL),
            ],
        )

    def _step(self, step: WorkOrderStep, *, number: str) -> Flowable:
        side: list[Flowable] = []
        body: list[Flowable] = list(paragraphs(self.typesetter, step.text))
        match step.kind:
            case StepKind.VALUE:
                side.append(value_box(step.unit, self._limits(step), typesetter=self.typesetter))
                if step.reference:
                    body.append(self._set(step.reference, style=SMALL))
            case StepKind.CHOICE:
                side.append(Answers(step.choices, typesetter=self.typesetter))
            case StepKind.PHOTO:
                side.append(Answers([_("photo taken")], typesetter=self.typesetter))
            case StepKind.TEXT:
                body.append(ruled_lines(2))
        return LedgerRow(
            body,
            margin=[numbered_box(number, typesetter=self.typesetter)],
            side=side,
            side_width=SIDE_WIDTH,
            carried=lambda: [
                self._set(number, style=MARGIN),
                self._set(_("continued"), style=MARGIN_SMALL),
            ],
        )

    def _limits(self, step: WorkOrderStep) -> str:
        least, most = step.at_least, step.at_most
        if least is not None and most is not None:
            return _("%(least)s to %(most)s") % {
                "least": self._number(least),
                "most": self._quantity(most, unit=step.unit),
            }
        if least is not None:
            return _("at least %(value)s") % {"value": self._quantity(least, unit=step.unit)}
        if most is not None:
            return _("at most %(value)s") % {"value": self._quantity(most, unit=step.unit)}
        return ""

    def _supply(self, supply: PlannedSupply, *, is_first: bool) -> Flowable:
        body: list[Flowable] = [self._set(supply.name)]
        notes = []
        if supply.planned is not None:
            notes.append(
                _("planned: %(amount)s")
                % {"amount": self._quantity(supply.planned, unit=supply.unit)}
            )
        if supply.storage_place:
            notes.append(_("kept at %(place)s") % {"place": supply.storage_place})
        if notes:
            body.append(self._set("  ·  ".join(notes), style=SMALL))
        used = _("used, %(unit)s") % {"unit": supply.unit} if supply.unit else _("used")
        return LedgerRow(
            body,
            margin=[self._set(_("supplies"), style=STRONG)] if is_first else [],
            side=[
                Blanks(
                    [Blank(label=used), Blank(label=_("batch"))],
                    typesetter=self.typesetter,
                    line_height=17,
                )
            ],
            side_width=SIDE_WIDTH + 30,
            pad=3.5,
            carried=lambda: [self._set(_("supplies"), style=MARGIN_SMALL)],
        )

    def _outcome(self) -> Flowable:
        blanks = Blanks(
            [
                Blank(label=_("left, because"), weight=3),
                Blank(label=_("minutes"), weight=0.6),
                Blank(label=_("done at"), weight=0.9),
            ],
            typesetter=self.typesetter,
        )
        answers = Answers(
            [_("done"), _("found not needed"), _("left")],
            typesetter=self.typesetter,
            is_strong=True,
        )
        return LedgerRow([answers, blanks], margin=[self._set(_("outcome"), style=STRONG)])
