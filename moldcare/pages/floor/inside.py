"""A mold's condition, the parts in it, its cavities, and changes of it."""

from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing
from moldcare.acts.floor import (
    Change,
    block_cavity,
    fit_component,
    free_cavity,
    note_change,
    note_condition,
    take_out_component,
)
from moldcare.acts.molds import add_component
from moldcare.acts.rights import Right
from moldcare.molds.models import Component, Mold
from moldcare.molds.queries import component_in
from moldcare.pages.access import page
from moldcare.pages.acting import at_or_now, attempt, beside, doing_again, filled, mold_or_404, sent
from moldcare.pages.floor.forms import BlockForm, ChangeForm, ConditionForm, FitForm, TakeOutForm
from moldcare.pages.floor.heads import head_of


@page(looks=Right.LOG_WORK, writes=Right.LOG_WORK)
def mold_condition(request: HttpRequest, number: str) -> HttpResponse:
    """Note what state a mold is in."""
    mold, form, done = mold_or_404(number), ConditionForm(sent(request)), doing_again(request)

    def act() -> str:
        data = form.cleaned_data
        note_condition(
            done,
            mold=mold,
            at=at_or_now(data, now=done.now),
            condition=data["condition"],
            needs_next=data["needs_next"],
            note=data["note"],
        )
        return _("The condition of %(mold)s is noted.") % {"mold": mold.number}

    said = attempt(form, act)
    if said is not None:
        return _back(request, mold, said=said)
    title = _("Condition of %(mold)s") % {"mold": mold.number}
    context = {**head_of(mold, title=title, now=timezone.now()), "submit": _("Note it")}
    return filled(request, "floor/act.html", context, form=form)


@page(looks=Right.MOVE_MOLDS, writes=Right.MOVE_MOLDS)
def mold_fit(request: HttpRequest, number: str) -> HttpResponse:
    """Fit a part from the shelf or a new one, in the place of another where asked."""
    mold, done = mold_or_404(number), doing_again(request)
    form = FitForm(sent(request), mold=mold)
    said = attempt(form, lambda: _fit(done, data=form.cleaned_data))
    if said is not None:
        return _back(request, mold, said=said)
    title = _("Fit a part in %(mold)s") % {"mold": mold.number}
    context = {**head_of(mold, title=title, now=timezone.now()), "submit": _("Write it down")}
    return filled(request, "floor/fit.html", context, form=form)


def _fit(done: Doing, *, data: dict[str, Any]) -> str:
    """Fit the chosen piece: what comes out and goes in is written together or not at all."""
    position, at = data["position"], at_or_now(data, now=done.now)
    with transaction.atomic():
        piece = data["component"] or _new_piece(done, data=data)
        sits = component_in(position, at=at)
        if data.get("takes_out") and sits is not None:
            take_out_component(beside(done, name="take out"), component=sits, at=at)
        fitted = fit_component(done, component=piece, position=position, at=at, note=data["note"])
    said = _("%(piece)s is fitted in %(position)s.") % {"piece": piece, "position": position.ident}
    if fitted.completed:
        said += " " + _("This completes: %(rules)s.") % {"rules": ", ".join(fitted.completed)}
    return said


def _new_piece(done: Doing, *, data: dict[str, Any]) -> Component:
    added = add_component(beside(done, name="piece"), serial=data["serial"], name=data["name"])
    return Component.objects.get(pk=added.row_id)


@page(looks=Right.MOVE_MOLDS, writes=Right.MOVE_MOLDS)
def mold_take_out(request: HttpRequest, number: str) -> HttpResponse:
    """Take a part out of a mold, to the shelf."""
    mold, done = mold_or_404(number), doing_again(request)
    form = TakeOutForm(sent(request), mold=mold)

    def act() -> str:
        data = form.cleaned_data
        at = at_or_now(data, now=done.now)
        take_out_component(done, component=data["component"], at=at, note=data["note"])
        return _("%(piece)s is taken out.") % {"piece": data["component"]}

    said = attempt(form, act)
    if said is not None:
        return _back(request, mold, said=said)
    title = _("Take a part out of %(mold)s") % {"mold": mold.number}
    context = {**head_of(mold, title=title, now=timezone.now()), "submit": _("Write it down")}
    return filled(request, "floor/take_out.html", context, form=form)


@page(looks=Right.MOVE_MOLDS, writes=Right.MOVE_MOLDS)
def mold_block(request: HttpRequest, number: str) -> HttpResponse:
    """Block a cavity, or free one that is blocked."""
    mold, done = mold_or_404(number), doing_again(request)
    form = BlockForm(sent(request), mold=mold)
    said = attempt(form, lambda: _block(done, form=form))
    if said is not None:
        return _back(request, mold, said=said)
    title = _("Block or free a cavity of %(mold)s") % {"mold": mold.number}
    context = {**head_of(mold, title=title, now=timezone.now()), "submit": _("Write it down")}
    return filled(request, "floor/act.html", context, form=form)


def _block(done: Doing, *, form: BlockForm) -> str:
    data = form.cleaned_data
    cavity, at, words = data["cavity"], at_or_now(data, now=done.now), data["reason"]
    if form.is_freeing:
        answer = free_cavity(done, cavity=cavity, at=at, note=words)
        said = _("Cavity %(cavity)s is free again: %(active)s of %(all)s run.")
    else:
        answer = block_cavity(done, cavity=cavity, at=at, reason=words)
        said = _(
            "Cavity %(cavity)s is blocked: %(active)s of %(all)s run, and the same parts take "
            "%(all)s cycles for every %(active)s before."
        )
    return said % {"cavity": cavity.ident, "active": answer.active, "all": answer.cavities}


@page(looks=Right.LOG_WORK, writes=Right.LOG_WORK)
def mold_note(request: HttpRequest, number: str) -> HttpResponse:
    """Note a change of the resin, or of the mold itself."""
    mold, form, done = mold_or_404(number), ChangeForm(sent(request)), doing_again(request)

    def act() -> str:
        data = form.cleaned_data
        note_change(
            done,
            mold=mold,
            at=at_or_now(data, now=done.now),
            change=Change(data["change"]),
            text=data["text"],
            resin=data["resin"] or None,
            resin_group=data["resin_group"] or None,
            filler=data["filler"] or None,
        )
        return _("The change of %(mold)s is noted.") % {"mold": mold.number}

    said = attempt(form, act)
    if said is not None:
        return _back(request, mold, said=said)
    title = _("Note a change of %(mold)s") % {"mold": mold.number}
    context = {**head_of(mold, title=title, now=timezone.now()), "submit": _("Note it")}
    return filled(request, "floor/act.html", context, form=form)


def _back(request: HttpRequest, mold: Mold, *, said: str) -> HttpResponse:
    messages.success(request, said)
    return redirect("mold", number=mold.number)
