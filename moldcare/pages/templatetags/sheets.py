"""Steps, values and fresh hand-in numbers, for templates of orders and sheets."""

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal

from django import forms, template
from django.utils import timezone
from django.utils.formats import get_format, number_format
from django.utils.translation import gettext as _

from moldcare.care.models import StepKind
from moldcare.pages.access import new_hand_in
from moldcare.pages.sheet.forms import forward_name
from moldcare.pages.sheet.present import FoundLine
from moldcare.work.convert import SheetStep
from moldcare.work.models import OrderTask, StepValue
from moldcare.work.numbers import plain_decimal

register = template.Library()


@register.simple_tag
def fresh_hand_in() -> str:
    """Give each form of a page a number of its own, so that a double tap sends it twice."""
    return new_hand_in()


@register.simple_tag
def decimal_sign() -> str:
    """Return the sign between ones and tenths in the reader's language."""
    return str(get_format("DECIMAL_SEPARATOR"))


@register.filter
def may_be_negative(step: SheetStep) -> bool:
    """Return whether the limits of a step allow a number below nought, so that its pad does."""
    return (step.low is None or step.low < 0) and (step.high is None or step.low is not None)


@register.filter
def limits_said(step: SheetStep) -> str:
    """Say the limits of a step; nothing where it has none."""
    behind = f" {step.unit}" if step.unit else ""
    low = "" if step.low is None else _number(step.low)
    high = "" if step.high is None else _number(step.high)
    if low and high:
        return _("%(low)s to %(high)s%(unit)s") % {"low": low, "high": high, "unit": behind}
    if low:
        return _("at least %(low)s%(unit)s") % {"low": low, "unit": behind}
    return _("at most %(high)s%(unit)s") % {"high": high, "unit": behind} if high else ""


@register.filter
def plain_limit(step: SheetStep, side: str) -> str:
    """Return a limit as script reads it: with a point; empty where there is none."""
    limit = step.low if side == "low" else step.high
    return "" if limit is None else plain_decimal(limit)


@register.filter
def value_said(value: StepValue) -> str:
    """Say what was written down at a step."""
    if value.kind == StepKind.TICK:
        return _("ticked")
    if value.number is not None:
        return f"{number_said(value)} {value.unit}".strip()
    return value.value


@register.filter
def number_said(value: StepValue) -> str:
    """Say a measured number with the reader's decimal sign, and no zeros that say nothing."""
    return value.value if value.number is None else _number(value.number)


@register.filter
def earlier_said(step: SheetStep) -> str:
    """Say what was measured before the value that counts; a value that stayed is not repeated."""
    before = [each for each in step.earlier if step.value and each.number != step.value.number]
    return ", ".join(number_said(each) for each in before)


def _number(number: Decimal) -> str:
    plain = plain_decimal(number)
    return number_format(plain, decimal_pos=len(plain.partition(".")[2]), use_l10n=True)


@register.filter
def side_of(step: SheetStep) -> str:
    """Return on which side of its limits a step's value lies: low, high, or nothing."""
    value = step.value
    if value is None or value.number is None or value.is_within is not False:
        return ""
    return "low" if step.low is not None and value.number < step.low else "high"


@register.filter
def forward_field(line: OrderTask) -> str:
    """Return the name of the field that says that a line was brought forward."""
    return forward_name(line)


@register.filter
def field_named(form: forms.BaseForm, name: str) -> forms.BoundField:
    """Return a field of a form whose name is made up as the form is."""
    return form[name]


@register.filter
def any_chosen(lines: Sequence[FoundLine]) -> bool:
    """Return whether a line beside the first has a grade of its own that differs from it."""
    return any(line.chosen and line.chosen != lines[0].chosen for line in lines[1:])


@register.filter
def is_other_day(instant: datetime, now: datetime) -> bool:
    """Return whether an instant is of another day than now, on the plant's clocks."""
    return timezone.localtime(instant).date() != timezone.localtime(now).date()
