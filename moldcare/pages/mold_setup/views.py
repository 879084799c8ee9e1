"""Adding a mold with all that belongs to it, changing it, and withdrawing it."""

from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _

from moldcare.acts.counters import add_counter, fit_counter
from moldcare.acts.doing import Doing
from moldcare.acts.molds import (
    add_circuit,
    add_mold,
    add_owner,
    add_position,
    edit_mold,
    withdraw_mold,
)
from moldcare.acts.rights import Right
from moldcare.acts.rules import copy_rule_set
from moldcare.acts.words import tidy
from moldcare.counters.models import Counter
from moldcare.molds.models import Mold, Owner
from moldcare.molds.queries import owner_named
from moldcare.pages.access import page
from moldcare.pages.acting import attempt, beside, doing_again, filled, mold_or_404, sent
from moldcare.pages.floor.heads import head_of
from moldcare.pages.mold_setup.forms import CircuitForm, MoldForm, NewMoldForm, PositionForm
from moldcare.pages.rules.forms import ReasonForm
from moldcare.pages.seen import refuse_if_changed, seen_of


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def mold_add(request: HttpRequest) -> HttpResponse:
    """Add a mold with its rules and its counter."""
    form, done = NewMoldForm(sent(request)), doing_again(request)
    added = attempt(form, lambda: _add(done, data=form.cleaned_data))
    if added is not None:
        messages.success(request, _("Mold %(number)s is added.") % {"number": added.number})
        return redirect("mold", number=added.number)
    context = {
        "page_title": _("Add a mold"),
        "nav_here": "setup",
        "title": _("Add a mold"),
        "submit": _("Add the mold"),
    }
    return filled(request, "mold_setup/add.html", context, form=form)


def _add(done: Doing, *, data: dict[str, Any]) -> Mold:
    """Add the mold, its owner, rules and counter: all of it or nothing."""
    with transaction.atomic():
        added = add_mold(
            done,
            number=data["number"],
            name=data["name"],
            standard_cycle_s=data["standard_cycle_s"],
            place=data["place"],
            cavity_count=data["cavity_count"],
            opening_count=data["opening_count"],
            opening_source=f"as entered by {done.person.name}" if data["opening_count"] else "",
            owner=_owner(done, name=data["owner"]),
            resin_group=data["resin_group"],
            filler=data["filler"],
        )
        mold = Mold.objects.get(pk=added.row_id)
        if data["rule_set"] is not None:
            copy_rule_set(beside(done, name="rules"), mold=mold, rule_set=data["rule_set"])
        if data["counter"]:
            _counter(done, mold=mold, label=data["counter"], value=data["counter_value"])
    return mold


def _owner(done: Doing, *, name: str) -> Owner | None:
    """Return the owner with this name, added where there is none."""
    if not tidy(name):
        return None
    found = owner_named(name)
    if found is not None:
        return found
    return Owner.objects.get(pk=add_owner(beside(done, name="owner"), name=name).row_id)


def _counter(done: Doing, *, mold: Mold, label: str, value: int | None) -> None:
    added = add_counter(beside(done, name="counter"), label=label)
    counter = Counter.objects.get(pk=added.row_id)
    fit_counter(beside(done, name="fit"), counter=counter, on=mold, at=done.now, value_shown=value)


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def mold_edit(request: HttpRequest, number: str) -> HttpResponse:
    """Change what is said of a mold."""
    mold, done = mold_or_404(number), doing_again(request)
    form = MoldForm(sent(request), mold=mold)
    refuse_if_changed(request, form, done=done)
    changed = attempt(form, lambda: _edit(done, mold=mold, form=form))
    if changed is not None:
        messages.success(request, _("Mold %(number)s is changed.") % {"number": changed.number})
        return redirect("mold", number=changed.number)
    title = _("Change mold %(number)s") % {"number": mold.number}
    context = {
        **head_of(mold, title=title, now=timezone.now()),
        "submit": _("Change the mold"),
        "seen": seen_of(form),
    }
    return filled(request, "mold_setup/edit.html", context, form=form)


def _edit(done: Doing, *, mold: Mold, form: MoldForm) -> Mold:
    with transaction.atomic():
        changes = form.changes
        owner = _owner(done, name=form.cleaned_data["owner"])
        if owner != mold.owner:
            changes["owner"] = owner
        edit_mold(done, mold=mold, changes=changes, reason=form.cleaned_data["reason"])
    return Mold.objects.get(pk=mold.pk)


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def mold_withdraw(request: HttpRequest, number: str) -> HttpResponse:
    """Take a mold out of our care; its logbook stays."""
    mold, form, done = mold_or_404(number), ReasonForm(sent(request)), doing_again(request)
    written = attempt(
        form, lambda: withdraw_mold(done, mold=mold, reason=form.cleaned_data["reason"])
    )
    if written is not None:
        messages.success(request, _("Mold %(number)s is withdrawn.") % {"number": mold.number})
        return redirect("molds")
    title = _("Withdraw mold %(number)s") % {"number": mold.number}
    context = {**head_of(mold, title=title, now=timezone.now()), "submit": _("Withdraw the mold")}
    return filled(request, "floor/act.html", context, form=form)


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def position_add(request: HttpRequest, number: str) -> HttpResponse:
    """Add a position that a part can sit in."""
    mold, done = mold_or_404(number), doing_again(request)
    form = PositionForm(sent(request), mold=mold)
    if attempt(form, lambda: add_position(done, mold=mold, **form.cleaned_data)) is not None:
        messages.success(request, _("The position is added."))
        return redirect("mold-edit", number=mold.number)
    title = _("Add a position to %(number)s") % {"number": mold.number}
    context = {**head_of(mold, title=title, now=timezone.now()), "submit": _("Add the position")}
    return filled(request, "floor/act.html", context, form=form)


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def circuit_add(request: HttpRequest, number: str) -> HttpResponse:
    """Add a water circuit."""
    mold, form, done = mold_or_404(number), CircuitForm(sent(request)), doing_again(request)
    if attempt(form, lambda: add_circuit(done, mold=mold, **form.cleaned_data)) is not None:
        messages.success(request, _("The circuit is added."))
        return redirect("mold-edit", number=mold.number)
    title = _("Add a circuit to %(number)s") % {"number": mold.number}
    context = {**head_of(mold, title=title, now=timezone.now()), "submit": _("Add the circuit")}
    return filled(request, "floor/act.html", context, form=form)
