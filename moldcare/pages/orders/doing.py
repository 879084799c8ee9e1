"""From a form on an order's page to its act."""

from collections.abc import Callable
from dataclasses import dataclass

from django import forms
from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext as _

from moldcare.acts.half_done import take_in
from moldcare.acts.orders import (
    go_on,
    hand_out,
    hold_up,
    plan_order,
    remove_task,
    strike_out,
    tick_covered,
)
from moldcare.acts.signing import accept_as_done, sign_accepted, sign_checked
from moldcare.core.errors import DomainError
from moldcare.pages.access import calendar_of, doing, person_of
from moldcare.pages.device import device_of
from moldcare.pages.orders.forms import PlanForm, further_form
from moldcare.pages.orders.order import hold_up_form, strike_out_form
from moldcare.pages.sheet.writing import part_named
from moldcare.pages.signers import signer_of
from moldcare.work.models import Order, OrderTask
from moldcare.work.queries import lines_of


@dataclass(frozen=True, kw_only=True, slots=True)
class Refused:
    """What was not done: a form with its errors, or only a sentence."""

    name: str = ""
    form: forms.BaseForm | None = None
    sentence: str = ""


def do_to_order(request: HttpRequest, order: Order) -> str | Refused:
    """Do what a form of the page asks for; return what to say, or why it was not done."""
    handler = _HANDLERS.get(request.POST.get("do", ""))
    if handler is None:
        return Refused(sentence=_("This form could not be read. Nothing was written."))
    return handler(request, order)


def _by_form(form: forms.BaseForm, *, name: str, act: Callable[[], str]) -> str | Refused:
    if not form.is_valid():
        return Refused(name=name, form=form)
    try:
        return act()
    except DomainError as error:
        form.add_error(None, str(error))
        return Refused(name=name, form=form)


def _plainly(act: Callable[[], str]) -> str | Refused:
    try:
        return act()
    except DomainError as error:
        return Refused(sentence=str(error))


def _hand_out(request: HttpRequest, order: Order) -> str | Refused:
    def act() -> str:
        hand_out(doing(request), order=order)
        return _("Order %(number)d is handed out.") % {"number": order.number}

    return _plainly(act)


def _go_on(request: HttpRequest, order: Order) -> str | Refused:
    def act() -> str:
        go_on(doing(request), order=order)
        return _("Order %(number)d goes on.") % {"number": order.number}

    return _plainly(act)


def _hold_up(request: HttpRequest, order: Order) -> str | Refused:
    form = hold_up_form({"words": request.POST.get("by") or request.POST.get("words")})

    def act() -> str:
        by = form.cleaned_data["words"]
        hold_up(doing(request), order=order, by=by)
        return _("Order %(number)d is held up by: %(by)s.") % {"number": order.number, "by": by}

    return _by_form(form, name="hold_up", act=act)


def _strike_out(request: HttpRequest, order: Order) -> str | Refused:
    form = strike_out_form(request.POST)

    def act() -> str:
        strike_out(doing(request), order=order, reason=form.cleaned_data["words"])
        return _("Order %(number)d is struck out.") % {"number": order.number}

    return _by_form(form, name="strike_out", act=act)


def _plan(request: HttpRequest, order: Order) -> str | Refused:
    form = PlanForm(
        request.POST,
        calendar=calendar_of(request),
        now=timezone.now(),
        planned_at=order.planned_at,
    )

    def act() -> str:
        plan_order(
            doing(request),
            order=order,
            planned_at=form.planned_at,
            people=list(form.cleaned_data["people"]),
            note=form.cleaned_data["note"],
        )
        return _("The plan of order %(number)d is written down.") % {"number": order.number}

    return _by_form(form, name="plan", act=act)


def _line(request: HttpRequest, order: Order) -> OrderTask | None:
    asked = request.POST.get("task", "")
    return next((line for line in lines_of(order) if str(line.pk) == asked), None)


def _on_line(
    act: Callable[[HttpRequest, OrderTask], str],
) -> Callable[[HttpRequest, Order], str | Refused]:
    def handler(request: HttpRequest, order: Order) -> str | Refused:
        line = _line(request, order)
        if line is None:
            return Refused(sentence=_("This task is not in the order any more."))
        return _plainly(lambda: act(request, line))

    return handler


def _tick(request: HttpRequest, line: OrderTask) -> str:
    tick_covered(doing(request), task=line, is_ticked=True)
    return _("Ticked: %(task)s") % {"task": line.rule.name}


def _untick(request: HttpRequest, line: OrderTask) -> str:
    tick_covered(doing(request), task=line, is_ticked=False)
    return _("Unticked: %(task)s") % {"task": line.rule.name}


def _remove(request: HttpRequest, line: OrderTask) -> str:
    remove_task(doing(request), task=line)
    return _("Taken out of the order: %(task)s") % {"task": line.rule.name}


def _take_in(request: HttpRequest, order: Order) -> str | Refused:
    part = part_named(request.POST, order=order)
    if part is None:
        return Refused(sentence=_("This part is not out any more."))

    def act() -> str:
        take_in(doing(request), part=part)
        return _("In again: %(part)s") % {"part": part.what}

    return _plainly(act)


def _checked(request: HttpRequest, order: Order) -> str | Refused:
    form = further_form(request.POST, name="checked", signs=person_of(request))

    def act() -> str:
        data = form.cleaned_data
        signer = signer_of(request, badge=data["badge"], pin=data["pin"])
        entry = sign_checked(
            doing(request),
            order=order,
            signer=signer.person,
            pin=signer.pin,
            device=device_of(request),
            note=data["note"],
        )
        return _("Signed as checked: entry no. %(entry)d.") % {"entry": entry.number}

    return _by_form(form, name="checked", act=act)


def _accepted(request: HttpRequest, order: Order) -> str | Refused:
    form = further_form(request.POST, name="accepted", signs=person_of(request))

    def act() -> str:
        data = form.cleaned_data
        signer = signer_of(request, badge=data["badge"], pin=data["pin"])
        entry = sign_accepted(
            doing(request),
            order=order,
            signer=signer.person,
            pin=signer.pin,
            device=device_of(request),
            note=data["note"],
        )
        return _("Signed as accepted: entry no. %(entry)d.") % {"entry": entry.number}

    return _by_form(form, name="accepted", act=act)


def _accept_as_done(request: HttpRequest, order: Order) -> str | Refused:
    line = _line(request, order)
    if line is None:
        return Refused(sentence=_("This task is not in the order any more."))
    form = further_form(
        request.POST, name=f"accept-{line.pk}", signs=person_of(request), is_reason=True
    )

    def act() -> str:
        data = form.cleaned_data
        signer = signer_of(request, badge=data["badge"], pin=data["pin"])
        accept_as_done(
            doing(request),
            task=line,
            signer=signer.person,
            reason=data["note"],
            pin=signer.pin,
            device=device_of(request),
        )
        return _("Accepted as done: %(task)s") % {"task": line.rule.name}

    return _by_form(form, name=f"accept-{line.pk}", act=act)


_HANDLERS: dict[str, Callable[[HttpRequest, Order], str | Refused]] = {
    "hand_out": _hand_out,
    "go_on": _go_on,
    "hold_up": _hold_up,
    "strike_out": _strike_out,
    "plan": _plan,
    "tick": _on_line(_tick),
    "untick": _on_line(_untick),
    "remove": _on_line(_remove),
    "take_in": _take_in,
    "checked": _checked,
    "accepted": _accepted,
    "accept_as_done": _accept_as_done,
}
