"""A work order put together for paper."""

import re
from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django.utils import timezone, translation
from django.utils.translation import gettext as _

from moldcare.care.models import Family, Reach, Standing
from moldcare.core import due
from moldcare.core.shifts import ShiftCalendar
from moldcare.core.units import Units
from moldcare.counters.models import Life
from moldcare.files import store
from moldcare.files.models import File
from moldcare.molds.models import Auxiliary
from moldcare.molds.queries import place_of
from moldcare.pages.rule_lines import RuleLine, rule_line
from moldcare.paper import numbers
from moldcare.paper.marks import StripFigures
from moldcare.paper.photo import SmallPhoto, small_photo
from moldcare.paper.work_order import (
    AS_FOUND_GRADES,
    DueState,
    Grade,
    Meaning,
    PicturePair,
    PlannedSupply,
    StepKind,
    WorkOrderDocument,
    WorkOrderStep,
    WorkOrderTask,
)
from moldcare.plant.models import Plant, Spot
from moldcare.plant.queries import cautions_in_force, the_calendar, the_plant
from moldcare.work.convert import Sheet, SheetStep, SheetTask
from moldcare.work.models import Order
from moldcare.work.numbers import plain_decimal
from moldcare.work.queries import parts_out, passed_on, sheet_of

_STEP_KINDS = {
    "tick": StepKind.TICK,
    "value": StepKind.VALUE,
    "choice": StepKind.CHOICE,
    "photo": StepKind.PHOTO,
    "position": StepKind.TEXT,
}
_DUE_STATES = {
    due.State.DUE_SOON: DueState.DUE_SOON,
    due.State.DUE: DueState.DUE,
    due.State.OVERDUE: DueState.OVERDUE,
    due.State.PAST_LIMIT: DueState.PAST_LIMIT,
    due.State.UNSURE: DueState.UNSURE,
}


def order_document(
    order: Order, *, at: datetime, printed_by: str, code_text: str = ""
) -> WorkOrderDocument:
    """Put a work order together as it stands at an instant.

    Parameters
    ----------
    at : datetime
        When it is printed: places, counts and standings are those of this instant.
    code_text : str
        What the code to scan opens.
    """
    plant = the_plant()
    zone = ZoneInfo(plant.zone)
    with translation.override(plant.language), timezone.override(zone):
        sheet = sheet_of(order)
        calendar = the_calendar(plant)
        rules = [task.task.rule_id for task in sheet.tasks]
        lines = {
            row.rule_id: rule_line(row, at=at, calendar=calendar)
            for row in Standing.objects.filter(rule__in=rules).select_related("rule__family")
        }
        return WorkOrderDocument(
            language=plant.language,
            order_number=str(order.number),
            planned_shift=_planned_words(order, calendar=calendar, plant=plant),
            people=[person.name for person in order.people.all()],
            note=order.note,
            code_text=code_text,
            families=_families(sheet),
            own_cautions=[row.text for row in cautions_in_force(_families(sheet))],
            lockout_procedure=plant.lockout_procedure,
            tasks=[
                # the look comes before all work: it is the first step of the first task
                _order_task(
                    task,
                    line=lines.get(task.task.rule_id),
                    steps=[sheet.look, *task.steps] if task is sheet.tasks[0] else task.steps,
                )
                for task in sheet.tasks
            ],
            passed_on=_passed_on(order, plant=plant),
            parts_out=[f"{part.what}: {part.lies}" for part in parts_out(order=order)],
            pairs=_pairs(sheet, plant=plant),
            signatures=_signatures(sheet),
            printed_at=numbers.moment_text(at.astimezone(zone), locale=plant.language),
            printed_by=printed_by,
            plant_name=plant.name,
            **_subject_words(order, at=at, plant=plant),
        )


def place_words(spot: Spot) -> str:
    """Return a place as a heading says it."""
    return f"{spot.get_kind_display()} {spot.number}"


def _subject_words(order: Order, *, at: datetime, plant: Plant) -> dict[str, Any]:
    """Return what the order is for, where it is, and its counts."""
    if order.mold is None:
        subject: Auxiliary | None = order.auxiliary
        return {
            "mold_number": subject.number if subject else "",
            "mold_name": subject.name if subject else "",
            "place": "–",
            "total_cycles": None,
        }
    mold = order.mold
    stay = place_of(mold, at=at)
    life = Life.objects.filter(mold=mold).first()
    newest = life.newest_at if life else None
    zone = ZoneInfo(plant.zone)
    return {
        "mold_number": mold.number,
        "mold_name": mold.name,
        "place": place_words(stay.spot) if stay else _("not known"),
        "total_cycles": life.cycles if life else None,
        # where dry cycles are not known apart, shots are cycles, and one figure says both
        "total_shots": life.shots if life and life.has_dry_cycles else None,
        "is_estimated": bool(life and (life.is_estimated or life.is_unsure)),
        "total_as_of": (
            numbers.moment_text(newest.astimezone(zone), locale=plant.language) if newest else ""
        ),
        "is_customer_property": bool(mold.owner and mold.owner.is_customer),
        "owner": mold.owner.name if mold.owner else "",
        "half_masses_kg": (_plain(mold.mass_a_kg), _plain(mold.mass_b_kg)),
        "units": Units(plant.units),
    }


def _planned_words(order: Order, *, calendar: ShiftCalendar, plant: Plant) -> str:
    if order.planned_at is None:
        return ""
    local = order.planned_at.astimezone(ZoneInfo(plant.zone))
    shift = calendar.shift_at(order.planned_at)
    on = shift.belongs_to if shift else local.date()
    day = numbers.weekday_text(on, locale=plant.language)
    said = f"{day} {numbers.date_text(on, locale=plant.language)}"
    return f"{said}, {shift.name if shift else numbers.time_text(local)}"


def _order_task(
    task: SheetTask, *, line: RuleLine | None, steps: Sequence[SheetStep]
) -> WorkOrderTask:
    rule = task.task.rule
    is_shown = line is not None and not task.task.order.signed_at
    why = [task.task.why] if task.task.why else [line.say] if line and is_shown else []
    if task.task.is_brought_forward:
        why.append(_("Brought forward: signs seen."))
    return WorkOrderTask(
        name=rule.name,
        reason=" ".join(why),
        state=_DUE_STATES.get(line.state, DueState.NOT_DUE)
        if line and is_shown
        else DueState.NOT_DUE,
        state_text=_state_words(line.state) if line and is_shown else "",
        reach=str(Reach(rule.reach).label),
        standard_minutes=rule.minutes,
        strip=_strip(line) if line and is_shown else None,
        steps=[_order_step(step) for step in steps],
        supplies=[
            PlannedSupply(name=name.strip())
            for name in re.split(r"[;\n]", rule.supplies)
            if name.strip()
        ],
        covers=[each.rule.name for each in task.covers if each.is_ticked],
        signs=rule.signs_known,
        has_grade=task.task.order.mold_id is not None,
        grades=_grades(rule.family),
    )


def _order_step(step: SheetStep) -> WorkOrderStep:
    return WorkOrderStep(
        text=step.text,
        kind=_STEP_KINDS.get(step.kind, StepKind.TEXT),
        unit=step.unit,
        at_least=_plain(step.low),
        at_most=_plain(step.high),
        choices=step.choices,
    )


def _plain(quantity: Decimal | None) -> Decimal | None:
    """Return a quantity without the zeros that its column adds behind it."""
    return None if quantity is None else Decimal(plain_decimal(quantity))


def _strip(line: RuleLine) -> StripFigures | None:
    drawn = line.strip
    if drawn.percent is None:
        return None
    return StripFigures(
        share=drawn.percent / 100,
        margin_share=None if drawn.margin_percent is None else drawn.margin_percent / 100,
        hard_limit_share=(
            None if drawn.hard_limit_percent is None else drawn.hard_limit_percent / 100
        ),
        is_unsure=drawn.is_unsure,
    )


def _state_words(state: due.State) -> str:
    return {
        due.State.NOT_DUE: _("not due"),
        due.State.WAITING: _("waiting"),
        due.State.DUE_SOON: _("due soon"),
        due.State.UNSURE: _("unsure"),
        due.State.DEFERRED: _("deferred"),
        due.State.DUE: _("due"),
        due.State.OVERDUE: _("overdue"),
        due.State.PAST_LIMIT: _("past limit"),
    }[state]


def _passed_on(order: Order, *, plant: Plant) -> str:
    if order.signed_at or order.struck_out_at:
        return ""
    word = passed_on([order.pk]).get(order.pk)
    return f"{word.note} ({word.person.name}, {_at(word.at, plant=plant)})" if word else ""


def _pairs(sheet: Sheet, *, plant: Plant) -> list[PicturePair]:
    """Return what can be seen before and after; without a pair whose picture is not there."""
    found = []
    for pair in sheet.pairs:
        pictures = [
            _small(step.value.photo)
            for step in pair.shown
            if step.value is not None and step.value.photo is not None
        ]
        before, after = pictures if len(pictures) == 2 else (None, None)
        if before is None or after is None:
            continue
        notes = [
            f"{step.text}, {_at(step.at, plant=plant)}" if step.at else step.text
            for step in pair.shown
        ]
        found.append(
            PicturePair(
                about=pair.about,
                before=before,
                after=after,
                before_note=notes[0],
                after_note=notes[1],
            )
        )
    return found


def _small(photo: File) -> SmallPhoto | None:
    try:
        return small_photo(store.content(photo.sha256))
    except OSError:
        return None


def _at(instant: datetime, *, plant: Plant) -> str:
    return numbers.moment_text(instant.astimezone(ZoneInfo(plant.zone)), locale=plant.language)


def _families(sheet: Sheet) -> list[str]:
    keys = [line.rule.family.key for task in sheet.tasks for line in (task.task, *task.covers)]
    return list(dict.fromkeys(keys))


def _grades(family: Family) -> Sequence[Grade]:
    """Return the four grades, in the family's own words where it has them."""
    own = (family.grade_clean, family.grade_light, family.grade_heavy, family.grade_failed)
    if not all(own):
        return AS_FOUND_GRADES
    return [
        Grade(name=grade.name, meaning=words)
        for grade, words in zip(AS_FOUND_GRADES, own, strict=True)
    ]


def _signatures(sheet: Sheet) -> list[Meaning]:
    rules = [task.task.rule for task in sheet.tasks]
    asked = [Meaning.DONE]
    if any(rule.asks_checked for rule in rules):
        asked.append(Meaning.CHECKED)
    if any(rule.asks_accepted for rule in rules):
        asked.append(Meaning.ACCEPTED)
    return asked
