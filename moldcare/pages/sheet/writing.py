"""From a form of the sheet to its act; what is refused comes back with its form."""

from collections.abc import Callable, Mapping

from django import forms
from django.http import HttpRequest
from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing
from moldcare.acts.errors import NotFound
from moldcare.acts.half_done import pass_on, take_in
from moldcare.acts.sheet import (
    bring_forward,
    grade_tasks,
    leave_task,
    not_needed,
    record_look,
    record_step,
    take_up_task,
    undo_step,
)
from moldcare.acts.signing import Override, sign_order
from moldcare.care.models import StepKind
from moldcare.core.errors import DomainError
from moldcare.pages.access import doing, person_of
from moldcare.pages.acting import refuse
from moldcare.pages.device import device_of
from moldcare.pages.photos import keep_photo
from moldcare.pages.sheet.forms import (
    AfterForm,
    FoundForm,
    LookForm,
    PassOnForm,
    ReasonForm,
    SignForm,
    StepForm,
)
from moldcare.pages.sheet.mold_map import mold_map
from moldcare.pages.sheet.present import Refused, lines_to_grade
from moldcare.pages.sheet.reasons import ready_reason
from moldcare.pages.sheet.supplies import supply_lines
from moldcare.pages.signers import signer_of
from moldcare.work.convert import Sheet, SheetStep
from moldcare.work.models import Order, OrderTask, PartOut
from moldcare.work.queries import sheet_of

SIGN = "sign"


def write(request: HttpRequest, order: Order) -> Refused | str:
    """Do what a form of the sheet asks for; return what to announce, or the refused form."""
    sheet = sheet_of(order)
    # leave:no_time is a leave with one of the ready reasons
    do = request.POST.get("do", "").partition(":")[0]
    handler = _HANDLERS.get(do)
    if handler is None:
        form = forms.Form(request.POST)
        form.add_error(None, _("This form could not be read. Load the sheet again."))
        return Refused(form=form, where="")
    return handler(request, sheet)


def _refused(form: forms.Form, *, where: str, act: Callable[[], str]) -> Refused | str:
    """Do the act of a valid form; what it refuses is put on the form."""
    if not form.is_valid():
        return Refused(form=form, where=where)
    try:
        said = act()
    except DomainError as error:
        refuse(form, error)
        return Refused(form=form, where=where)
    return said if form.is_valid() else Refused(form=form, where=where)


def _look(request: HttpRequest, sheet: Sheet) -> Refused | str:
    has_grades = sheet.order.mold_id is not None
    form = LookForm(
        request.POST,
        request.FILES,
        lines=lines_to_grade(sheet) if has_grades else [],
        tasks=[task.task for task in sheet.tasks],
    )
    done = doing(request)

    def act() -> str:
        photo = keep_photo(form, name="photo", doing=done)
        if not form.is_valid():
            return ""
        record_look(
            done,
            order=sheet.order,
            grades=form.grades(),
            brought_forward=form.brought_forward(),
            photo=photo,
            without_photo="" if photo else form.cleaned_data["without_photo"],
            seen=_seen(request),
        )
        return _("Written down: %(step)s") % {"step": sheet.look.text}

    return _keeping_photo(form, where="look", act=act, done=done)


def _keeping_photo(
    form: forms.Form, *, where: str, act: Callable[[], str], done: Doing
) -> Refused | str:
    """Keep a picture that came with a form that is refused for something else."""
    refused = _refused(form, where=where, act=act)
    if isinstance(refused, Refused) and "photo" in form.fields and "photo" not in form.errors:
        try:
            keep_photo(form, name="photo", doing=done)
        except DomainError as error:
            form.add_error("photo", str(error))
    return refused


def _found(request: HttpRequest, sheet: Sheet) -> Refused | str:
    graded = lines_to_grade(sheet)
    form = FoundForm(request.POST, lines=list(sheet.ungraded) or graded)

    def act() -> str:
        grade_tasks(doing(request), order=sheet.order, grades=form.grades())
        return _("Written down: as found")

    return _refused(form, where="found", act=act)


def _step(request: HttpRequest, sheet: Sheet) -> Refused | str:
    step = _step_named(request.POST, sheet=sheet)
    if step is None:
        return _lost(request)
    places = mold_map(sheet.order.mold) if step.kind == StepKind.POSITION else None
    form = StepForm(request.POST, request.FILES, step=step, places=places)
    done = doing(request)

    def act() -> str:
        photo = None
        if "photo" in form.fields:
            photo = keep_photo(form, name="photo", doing=done)
            if not form.is_valid():
                return ""
        written = record_step(
            done,
            order=sheet.order,
            task=step.task,
            step=step.place,
            value="" if photo else str(form.cleaned_data.get("value", "")),
            reason=str(form.cleaned_data.get("reason", "")),
            photo=photo,
            seen=_seen(request),
        )
        if written.needs_reason:
            return _("Written down, and outside its limits: run it again, or say why it stays.")
        return _("Written down: %(step)s") % {"step": step.text}

    return _keeping_photo(form, where=step.key, act=act, done=done)


def _after(request: HttpRequest, sheet: Sheet) -> Refused | str:
    form = AfterForm(request.POST, request.FILES)
    done = doing(request)

    def act() -> str:
        photo = keep_photo(form, name="photo", doing=done)
        if photo is None:
            return ""
        record_step(done, order=sheet.order, task=None, step=sheet.after.place, photo=photo)
        return _("Written down: %(step)s") % {"step": sheet.after.text}

    return _refused(form, where="after", act=act)


def _pass_on(request: HttpRequest, sheet: Sheet) -> Refused | str:
    form = PassOnForm(request.POST, places=mold_map(sheet.order.mold))

    def act() -> str:
        pass_on(
            doing(request),
            order=sheet.order,
            note=form.cleaned_data["note"],
            parts=form.parts(),
        )
        return _("Passed on to whoever goes on with it.")

    return _refused(form, where="pass_on", act=act)


def _take_in(request: HttpRequest, sheet: Sheet) -> Refused | str:
    part = part_named(request.POST, order=sheet.order)
    if part is None:
        return _lost(request)

    def act() -> str:
        take_in(doing(request), part=part)
        return _("In again: %(part)s") % {"part": part.what}

    return _refused(forms.Form(request.POST), where="", act=act)


def part_named(sent: Mapping[str, str], *, order: Order) -> PartOut | None:
    """Return the part that was out, or is in again by now, of what the order is for."""
    asked = sent.get("part", "")
    if not (asked.isascii() and asked.isdigit() and len(asked) < 16):
        return None
    parts = PartOut.objects.filter(
        order__mold=order.mold_id, order__auxiliary=order.auxiliary_id, pk=int(asked)
    )
    return parts.first()


def _seen(request: HttpRequest) -> int | None:
    """Return the newest row of the step that the form had seen; None where it does not say."""
    text = request.POST.get("seen", "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 16 else None


def _again(request: HttpRequest, sheet: Sheet) -> Refused | str:
    step = _step_named(request.POST, sheet=sheet)
    if step is None:
        return _lost(request)

    def act() -> str:
        undo_step(doing(request), order=sheet.order, task=step.task, step=step.place)
        return _("Open again: %(step)s") % {"step": step.text}

    return _refused(forms.Form(request.POST), where="", act=act)


def _on_task(
    act: Callable[[Doing, OrderTask, str], str],
) -> Callable[[HttpRequest, Sheet], Refused | str]:
    def handler(request: HttpRequest, sheet: Sheet) -> Refused | str:
        asked = request.POST.get("task", "")
        task = next((each.task for each in sheet.tasks if str(each.task.pk) == asked), None)
        if task is None:
            return _lost(request)
        sent = request.POST.copy()
        ready = ready_reason(sent.get("do", ""))
        if ready:
            sent["reason"] = ready
        form = ReasonForm(sent, auto_id=f"task_{task.pk}_%s")
        return _refused(
            form,
            where=f"task-{task.pk}",
            act=lambda: act(doing(request), task, form.cleaned_data["reason"]),
        )

    return handler


def _leave(done: Doing, task: OrderTask, reason: str) -> str:
    leave_task(done, task=task, reason=reason)
    return _("Left: %(task)s") % {"task": task.rule.name}


def _not_needed(done: Doing, task: OrderTask, reason: str) -> str:
    not_needed(done, task=task, reason=reason)
    return _("Found not needed: %(task)s") % {"task": task.rule.name}


def _take_up(done: Doing, task: OrderTask, _reason: str) -> str:
    take_up_task(done, task=task)
    return _("Taken up again: %(task)s") % {"task": task.rule.name}


def _forward(done: Doing, task: OrderTask, _reason: str) -> str:
    bring_forward(done, task=task, is_brought_forward=True)
    return _("Brought forward, signs seen: %(task)s") % {"task": task.rule.name}


def _not_forward(done: Doing, task: OrderTask, _reason: str) -> str:
    bring_forward(done, task=task, is_brought_forward=False)
    return _("Not brought forward: %(task)s") % {"task": task.rule.name}


def _sign(request: HttpRequest, sheet: Sheet) -> Refused | str:
    form = SignForm(request.POST, signs=person_of(request), supplies=supply_lines(sheet))

    def act() -> str:
        data = form.cleaned_data
        signer = signer_of(request, badge=data["badge"], pin=data["pin"])
        signed = sign_order(
            doing(request),
            order=sheet.order,
            signer=signer.person,
            minutes=data["minutes"],
            pin=signer.pin,
            device=device_of(request),
            override=override_of(request, data=data),
            note=data["note"],
            supplies=form.spent(),
            parts_stay_out=data["stay_out"],
        )
        return _("Order %(number)d is signed: entry no. %(entry)d.") % {
            "number": signed.number,
            "entry": signed.entry_number,
        }

    return _refused(form, where=SIGN, act=act)


def override_of(request: HttpRequest, *, data: Mapping[str, str]) -> Override | None:
    """Return the lead who lets work be signed without a qualification, where one does."""
    if not data.get("override_reason"):
        return None
    reason, device = data["override_reason"], device_of(request)
    if not data["override_badge"]:
        return Override(person=person_of(request), reason=reason, pin="", device=device)
    lead = signer_of(request, badge=data["override_badge"], pin=data["override_pin"])
    return Override(person=lead.person, reason=reason, pin=lead.pin, device=device)


def _step_named(sent: Mapping[str, str], *, sheet: Sheet) -> SheetStep | None:
    return next((step for step in sheet.steps if step.key == sent.get("step", "")), None)


def _lost(request: HttpRequest) -> Refused:
    form = forms.Form(request.POST)
    form.add_error(None, str(NotFound(_("This is not on the sheet any more. Look at it anew."))))
    return Refused(form=form, where="")


_HANDLERS: dict[str, Callable[[HttpRequest, Sheet], Refused | str]] = {
    "look": _look,
    "found": _found,
    "step": _step,
    "again": _again,
    "after": _after,
    "pass_on": _pass_on,
    "take_in": _take_in,
    "leave": _on_task(_leave),
    "not_needed": _on_task(_not_needed),
    "take_up": _on_task(_take_up),
    "forward": _on_task(_forward),
    "not_forward": _on_task(_not_forward),
    SIGN: _sign,
}
