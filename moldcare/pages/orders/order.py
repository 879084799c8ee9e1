"""What the page of one order shows."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django import forms
from django.utils.translation import gettext as _

from moldcare.acts.rights import Right, may
from moldcare.care.models import Standing
from moldcare.core.shifts import ShiftCalendar
from moldcare.logbook.models import Entry, EntryMeaning
from moldcare.molds.queries import place_of
from moldcare.pages.orders.forms import (
    FurtherForm,
    PlanForm,
    WordForm,
    further_form,
    initial_of,
    planned_words,
)
from moldcare.pages.rule_lines import RuleLine, rule_line
from moldcare.plant.models import Person, Spot
from moldcare.work.convert import Sheet
from moldcare.work.models import (
    Order,
    OrderState,
    OrderTask,
    OrderTaskOutcome,
    PartOut,
    PassedOn,
)
from moldcare.work.queries import (
    accepted_as_done,
    parts_out,
    passed_on,
    sheet_of,
    signatures_of,
    wanted_signatures,
)


@dataclass(frozen=True, kw_only=True, slots=True)
class TaskLine:
    """A task with where its rule stands, and what it covers."""

    task: OrderTask
    rule_line: RuleLine | None
    covers: Sequence[OrderTask]
    accept_form: FurtherForm | None


@dataclass(frozen=True, kw_only=True, slots=True)
class OrderPage:
    """Everything that the page of an order shows."""

    now: datetime
    order: Order
    sheet: Sheet
    state: str
    spot: Spot | None
    planned: str
    people: Sequence[Person]
    tasks: Sequence[TaskLine]
    minutes: int
    signatures: Sequence[Entry]
    may_work: bool
    may_lead: bool
    is_open: bool
    may_untick: bool
    forms: Mapping[str, forms.BaseForm]
    wanted: Sequence[tuple[str, FurtherForm]]
    refused: str
    parts_out: Sequence[PartOut]
    passed_on: PassedOn | None

    @property
    def is_unwritten(self) -> bool:
        """Whether the order is still being written."""
        return self.state == OrderState.WRITTEN


def order_page(
    order: Order,
    *,
    person: Person,
    now: datetime,
    calendar: ShiftCalendar,
    refused: tuple[str, forms.BaseForm] | None = None,
) -> OrderPage:
    """Read an order as it stands, in a number of queries that its length does not change."""
    sheet = sheet_of(order)
    is_open = order.signed_at is None and order.struck_out_at is None
    may_work, may_lead = may(person, Right.LOG_WORK), may(person, Right.HAND_OUT_ORDERS)
    people = list(order.people.all())
    place = place_of(order.mold) if order.mold else None
    signatures = signatures_of(order)
    missing = _missing(order, signatures=signatures) if may_work else []
    return OrderPage(
        now=now,
        order=order,
        sheet=sheet,
        state=order.state,
        spot=place.spot if place else None,
        planned=planned_words(order.planned_at, calendar=calendar),
        people=people,
        tasks=_task_lines(
            sheet,
            order=order,
            person=person,
            may_lead=may_lead,
            now=now,
            calendar=calendar,
            refused=refused,
        ),
        minutes=sum(task.task.rule.minutes for task in sheet.tasks),
        signatures=signatures,
        may_work=may_work,
        may_lead=may_lead,
        is_open=is_open,
        may_untick=is_open and may_work and order.begun_at is None,
        forms=_forms(
            order,
            people=people,
            may_work=may_work and is_open,
            may_lead=may_lead and is_open,
            now=now,
            calendar=calendar,
            refused=refused,
        ),
        wanted=[
            (meaning, _further(meaning, signs=person, refused=refused))
            for meaning in missing
            if meaning != EntryMeaning.ACCEPTED or may_lead
        ],
        refused=refused[0] if refused else "",
        parts_out=parts_out(order=order),
        passed_on=passed_on([order.pk]).get(order.pk) if is_open else None,
    )


def _missing(order: Order, *, signatures: Sequence[Entry]) -> list[str]:
    if order.entry is None:
        return []
    return sorted(wanted_signatures(order) - {entry.meaning for entry in signatures}, reverse=True)


def _further(
    name: str,
    *,
    signs: Person,
    refused: tuple[str, forms.BaseForm] | None,
    is_reason: bool = False,
) -> FurtherForm:
    if refused and refused[0] == name and isinstance(refused[1], FurtherForm):
        return refused[1]
    return further_form(name=name, signs=signs, is_reason=is_reason)


def _task_lines(
    sheet: Sheet,
    *,
    order: Order,
    person: Person,
    may_lead: bool,
    now: datetime,
    calendar: ShiftCalendar,
    refused: tuple[str, forms.BaseForm] | None,
) -> list[TaskLine]:
    rules = [task.task.rule_id for task in sheet.tasks]
    rows = Standing.objects.filter(rule__in=rules).select_related("rule__family")
    lines = {row.rule_id: rule_line(row, at=now, calendar=calendar) for row in rows}
    accepted = accepted_as_done(order) if order.entry else set()
    return [
        TaskLine(
            task=task.task,
            rule_line=None if order.signed_at else lines.get(task.task.rule_id),
            covers=task.covers,
            accept_form=(
                _further(f"accept-{task.task.pk}", signs=person, refused=refused, is_reason=True)
                if may_lead
                and order.entry is not None
                and task.task.outcome == OrderTaskOutcome.NOT_NEEDED
                and not task.task.rule.family.is_inspection
                and task.task.rule_id not in accepted
                else None
            ),
        )
        for task in sheet.tasks
    ]


def _forms(
    order: Order,
    *,
    people: Sequence[Person],
    may_work: bool,
    may_lead: bool,
    now: datetime,
    calendar: ShiftCalendar,
    refused: tuple[str, forms.BaseForm] | None,
) -> dict[str, forms.BaseForm]:
    found: dict[str, forms.BaseForm] = {}
    if may_lead:
        found["plan"] = PlanForm(
            initial=initial_of(order, people=people),
            calendar=calendar,
            now=now,
            planned_at=order.planned_at,
        )
        found["strike_out"] = strike_out_form()
    if may_work:
        found["hold_up"] = hold_up_form()
    if refused:
        found[refused[0]] = refused[1]
    return found


def hold_up_form(data: object = None) -> WordForm:
    """Return the form for what holds the order up."""
    return WordForm(
        data,
        auto_id="hold_%s",
        label=_("Held up by: a part, a person, a decision, outside work"),
    )


def strike_out_form(data: object = None) -> WordForm:
    """Return the form for why the order is struck out."""
    return WordForm(data, auto_id="strike_%s", label=_("Why it is struck out"))
