"""Adding a mold with all that belongs to it, copying, changing and withdrawing it."""

from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing
from moldcare.acts.molds import copy_mold, edit_mold, withdraw_mold
from moldcare.acts.rights import Right, may
from moldcare.care.models import CareRule
from moldcare.care.set_queries import sets_in_use, traits_of
from moldcare.molds.models import Mold
from moldcare.molds.queries import mold_numbered, place_of
from moldcare.pages.access import answer, page, person_of
from moldcare.pages.acting import (
    attempt,
    doing_again,
    filled,
    is_second_tap,
    mold_or_404,
    sent,
)
from moldcare.pages.floor.heads import head_of
from moldcare.pages.mold_setup.adding import add_with_all, owner_of, proposed_sets
from moldcare.pages.mold_setup.forms import CopyForm, MoldForm, NewMoldForm
from moldcare.pages.rule_sets.proposing import set_choices
from moldcare.pages.rules.forms import ReasonForm
from moldcare.pages.seen import refuse_if_changed, seen_of


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def mold_add(request: HttpRequest) -> HttpResponse:
    """Add a mold: what it is, then a look at the rule sets that fit it."""
    done, given = doing_again(request), sent(request)
    form = NewMoldForm(given)
    is_first = given is not None and "add" not in given and sets_in_use().exists()
    if is_first and form.is_valid() and mold_numbered(form.cleaned_data["number"]) is not None:
        form.add_error("number", _("There is a mold with this number already."))
    if given is not None and form.is_valid():
        sets, fitting = proposed_sets(form.cleaned_data)
        form = NewMoldForm(_ticked(given, fitting) if is_first else given, sets=sets)
        if not is_first:
            added = attempt(form, lambda: add_with_all(done, data=form.cleaned_data))
            if added is not None:
                return redirect("mold-added", number=added.number)
    title = _("Add a mold")
    context = {"page_title": title, "nav_here": "setup", "title": title}
    return filled(request, "mold_setup/add.html", context, form=form)


def _ticked(given: QueryDict, keys: list[str]) -> QueryDict:
    """Return what was sent with the sets ticked that fit."""
    data = given.copy()
    data.setlist("rule_sets", keys)
    return data


@page(looks=Right.EDIT_MOLDS)
def mold_added(request: HttpRequest, number: str) -> HttpResponse:
    """Say that a mold is there, and what to do with it next: its label first."""
    mold = mold_or_404(number)
    context = {
        "page_title": _("Mold %(number)s is added") % {"number": mold.number},
        "nav_here": "setup",
        "mold": mold,
        "place": place_of(mold),
        "rules": CareRule.objects.filter(mold=mold, withdrawn_at__isnull=True).count(),
    }
    return answer(request, "mold_setup/added.html", context)


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def mold_copy(request: HttpRequest, number: str) -> HttpResponse:
    """Add a mold that is built like this one."""
    mold, form, done = mold_or_404(number), CopyForm(sent(request)), doing_again(request)
    added = attempt(form, lambda: _copied(done, mold=mold, data=form.cleaned_data))
    if added is not None:
        return redirect("mold-added", number=added)
    title = _("A mold built like %(number)s") % {"number": mold.number}
    context = {**head_of(mold, title=title, now=timezone.now()), "submit": _("Add the copy")}
    return filled(request, "mold_setup/copy.html", context, form=form)


def _copied(done: Doing, *, mold: Mold, data: dict[str, Any]) -> str:
    count = data["opening_count"]
    source = f"as entered by {done.person.name}" if count else ""
    return copy_mold(done, source=mold, opening_source=source, **data).number


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def mold_edit(request: HttpRequest, number: str) -> HttpResponse:
    """Change what is said of a mold."""
    if is_second_tap(request):
        # the first tap may have given it another number
        return redirect("mold", number=request.POST.get("number", "").strip() or number)
    mold, done = mold_or_404(number), doing_again(request)
    form = MoldForm(sent(request), mold=mold)
    refuse_if_changed(request, form, done=done)
    changed = attempt(form, lambda: _edit(done, mold=mold, form=form))
    if changed is not None:
        messages.success(request, _("Mold %(number)s is changed.") % {"number": changed.number})
        return _to_its_sets(request, changed) or redirect("mold", number=changed.number)
    title = _("Change mold %(number)s") % {"number": mold.number}
    context = {
        **head_of(mold, title=title, now=timezone.now()),
        "submit": _("Change the mold"),
        "seen": seen_of(form),
    }
    return filled(request, "mold_setup/edit.html", context, form=form)


def _to_its_sets(request: HttpRequest, mold: Mold) -> HttpResponse | None:
    """Return the way to the rule sets of a mold where they ask otherwise since it changed."""
    otherwise = [
        each
        for each in set_choices(traits_of([mold])[mold.pk], mold=mold)
        if each.otherwise and not each.is_behind
    ]
    if not otherwise or not may(person_of(request), Right.EDIT_RULES):
        return None
    messages.success(request, _("Its rules stay as they are. See what its rule sets ask now."))
    return redirect("mold-rules", number=mold.number)


def _edit(done: Doing, *, mold: Mold, form: MoldForm) -> Mold:
    with transaction.atomic():
        changes = form.changes
        owner = owner_of(done, name=form.cleaned_data["owner"])
        if owner != mold.owner:
            changes["owner"] = owner
        edit_mold(done, mold=mold, changes=changes, reason=form.cleaned_data["reason"])
    return Mold.objects.get(pk=mold.pk)


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def mold_withdraw(request: HttpRequest, number: str) -> HttpResponse:
    """Take a mold out of our care; its logbook stays."""
    if is_second_tap(request):
        return redirect("molds")
    mold, form, done = mold_or_404(number), ReasonForm(sent(request)), doing_again(request)
    written = attempt(
        form, lambda: withdraw_mold(done, mold=mold, reason=form.cleaned_data["reason"])
    )
    if written is not None:
        messages.success(request, _("Mold %(number)s is withdrawn.") % {"number": mold.number})
        return redirect("molds")
    title = _("Withdraw mold %(number)s") % {"number": mold.number}
    context = {
        **head_of(mold, title=title, now=timezone.now()),
        "submit": _("Withdraw the mold"),
        "back": reverse("mold-edit", kwargs={"number": mold.number}),
    }
    return filled(request, "floor/act.html", context, form=form)
