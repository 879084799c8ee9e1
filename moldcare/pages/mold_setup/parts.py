"""What a mold is made of, on one page, and the forms that change it."""

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.db import models
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from moldcare.acts import molds as acts
from moldcare.acts.rights import Right
from moldcare.molds.models import Circuit, Configuration, Mold, Position
from moldcare.pages.access import answer, page
from moldcare.pages.acting import (
    Record,
    attempt,
    doing_again,
    filled,
    is_second_tap,
    mold_or_404,
    row_or_404,
    sent,
)
from moldcare.pages.floor.heads import head_of
from moldcare.pages.mold_setup.part_forms import (
    CavitiesForm,
    CircuitForm,
    ConfigurationForm,
    ItemsForm,
    PositionForm,
)
from moldcare.pages.mold_setup.shown import parts_of
from moldcare.pages.rules.forms import ReasonForm
from moldcare.pages.seen import refuse_if_changed, seen_of


@page(looks=Right.EDIT_MOLDS)
def mold_parts(request: HttpRequest, number: str) -> HttpResponse:
    """Show everything that a mold is made of, each with the way to change it."""
    mold = mold_or_404(number)
    title = _("What %(number)s is made of") % {"number": mold.number}
    context = {
        **head_of(mold, title=title, now=timezone.now()),
        "parts": parts_of(mold, piece=request.GET.get("piece", "")[:120]),
    }
    return answer(request, "mold_setup/parts.html", context)


def part_or_404(rows: models.QuerySet[Record], pk: int) -> Record:
    """Return a part of a mold, or the page that says that there is none."""
    return row_or_404(rows, pk, missing=_("This part is not on the mold, or not any more."))


def part_page(
    request: HttpRequest,
    mold: Mold,
    form: forms.Form,
    *,
    act: Callable[[], object],
    said: str,
    title: str,
    submit: str,
    changes_what_is: bool = False,
    template: str = "floor/act.html",
) -> HttpResponse:
    """Show a form about a part of a mold; do its act and go back to all parts."""
    if changes_what_is:
        refuse_if_changed(request, form, done=doing_again(request))
    if attempt(form, act) is not None:
        messages.success(request, said)
        return redirect("mold-parts", number=mold.number)
    context = {
        **head_of(mold, title=title, now=timezone.now()),
        "submit": submit,
        "back": reverse("mold-parts", kwargs={"number": mold.number}),
        "seen": seen_of(form) if changes_what_is else "",
    }
    return filled(request, template, context, form=form)


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def mold_cavities(request: HttpRequest, number: str) -> HttpResponse:
    """Name cavities and the parts they form, and add further ones."""
    mold, done = mold_or_404(number), doing_again(request)
    form = CavitiesForm(sent(request), mold=mold)
    return part_page(
        request,
        mold,
        form,
        act=lambda: acts.name_cavities(
            done, mold=mold, named=form.named, cavity_count=form.cleaned_data["cavity_count"]
        ),
        said=_("The cavities are changed."),
        title=_("Cavities of %(number)s") % {"number": mold.number},
        submit=_("Change the cavities"),
        changes_what_is=True,
        template="mold_setup/cavities.html",
    )


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def position_add(request: HttpRequest, number: str) -> HttpResponse:
    """Add a position that a part can sit in."""
    mold, done = mold_or_404(number), doing_again(request)
    form = PositionForm(sent(request), mold=mold)
    return part_page(
        request,
        mold,
        form,
        act=lambda: acts.add_position(done, mold=mold, **form.cleaned_data),
        said=_("The position is added."),
        title=_("Add a position to %(number)s") % {"number": mold.number},
        submit=_("Add the position"),
    )


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def position_edit(request: HttpRequest, number: str, position: int) -> HttpResponse:
    """Change a position."""
    mold, done = mold_or_404(number), doing_again(request)
    row = part_or_404(Position.objects.filter(mold=mold), position)
    form = PositionForm(sent(request), mold=mold, position=row)
    return part_page(
        request,
        mold,
        form,
        act=lambda: acts.edit_position(done, position=row, changes=form.cleaned_data),
        said=_("Position %(ident)s is changed.") % {"ident": row.ident},
        title=_("Change position %(ident)s") % {"ident": row.ident},
        submit=_("Change the position"),
        changes_what_is=True,
    )


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def circuit_add(request: HttpRequest, number: str) -> HttpResponse:
    """Add a water circuit."""
    mold, done = mold_or_404(number), doing_again(request)
    form = CircuitForm(sent(request), mold=mold)
    return part_page(
        request,
        mold,
        form,
        act=lambda: acts.add_circuit(done, mold=mold, **form.cleaned_data),
        said=_("The circuit is added."),
        title=_("Add a circuit to %(number)s") % {"number": mold.number},
        submit=_("Add the circuit"),
        template="mold_setup/circuit.html",
    )


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def circuit_edit(request: HttpRequest, number: str, circuit: int) -> HttpResponse:
    """Change a circuit."""
    mold, done = mold_or_404(number), doing_again(request)
    row = part_or_404(Circuit.objects.filter(mold=mold), circuit)
    form = CircuitForm(sent(request), mold=mold, circuit=row)
    return part_page(
        request,
        mold,
        form,
        act=lambda: acts.edit_circuit(done, circuit=row, changes=form.cleaned_data),
        said=_("Circuit %(ident)s is changed.") % {"ident": row.ident},
        title=_("Change circuit %(ident)s") % {"ident": row.ident},
        submit=_("Change the circuit"),
        changes_what_is=True,
        template="mold_setup/circuit.html",
    )


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def circuit_items(request: HttpRequest, number: str, circuit: int) -> HttpResponse:
    """Say what sits in a circuit, from IN to OUT."""
    mold, done = mold_or_404(number), doing_again(request)
    row = part_or_404(Circuit.objects.filter(mold=mold), circuit)
    form = ItemsForm(sent(request), circuit=row, items=acts.items_of(row))
    return part_page(
        request,
        mold,
        form,
        act=lambda: acts.set_circuit_items(done, circuit=row, items=form.items),
        said=_("What sits in circuit %(ident)s is listed.") % {"ident": row.ident},
        title=_("In circuit %(ident)s, from IN to OUT") % {"ident": row.ident},
        submit=_("Keep the list"),
        changes_what_is=True,
        template="mold_setup/items.html",
    )


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def configuration_add(request: HttpRequest, number: str) -> HttpResponse:
    """Add a configuration."""
    mold, done = mold_or_404(number), doing_again(request)
    form = ConfigurationForm(sent(request))
    return part_page(
        request,
        mold,
        form,
        act=lambda: acts.add_configuration(done, mold=mold, name=form.cleaned_data["name"]),
        said=_("The configuration is added."),
        title=_("Add a configuration to %(number)s") % {"number": mold.number},
        submit=_("Add the configuration"),
    )


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def configuration_edit(request: HttpRequest, number: str, configuration: int) -> HttpResponse:
    """Give a configuration another name."""
    mold, done = mold_or_404(number), doing_again(request)
    row = part_or_404(Configuration.objects.filter(mold=mold), configuration)
    form = ConfigurationForm(sent(request), configuration=row)
    return part_page(
        request,
        mold,
        form,
        act=lambda: acts.edit_configuration(done, configuration=row, changes=form.cleaned_data),
        said=_("Configuration %(name)s is changed.") % {"name": row.name},
        title=_("Change configuration %(name)s") % {"name": row.name},
        submit=_("Change the configuration"),
        changes_what_is=True,
    )


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def position_take_off(request: HttpRequest, number: str, position: int) -> HttpResponse:
    """Take a position off its mold."""
    return _take_off(request, number, Position, position, title=_("Take position %(name)s off"))


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def circuit_take_off(request: HttpRequest, number: str, circuit: int) -> HttpResponse:
    """Take a circuit off its mold."""
    return _take_off(request, number, Circuit, circuit, title=_("Take circuit %(name)s off"))


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def configuration_take_off(request: HttpRequest, number: str, configuration: int) -> HttpResponse:
    """Take a configuration off its mold."""
    title = _("Take configuration %(name)s off")
    return _take_off(request, number, Configuration, configuration, title=title)


def _take_off(
    request: HttpRequest,
    number: str,
    kind: type[Position] | type[Circuit] | type[Configuration],
    pk: int,
    *,
    title: str,
) -> HttpResponse:
    mold = mold_or_404(number)
    if is_second_tap(request):
        return redirect("mold-parts", number=mold.number)
    rows: models.QuerySet[Any] = kind._default_manager.filter(mold=mold)
    row = part_or_404(rows, pk)
    name = row.name if isinstance(row, Configuration) else row.ident
    done, form = doing_again(request), ReasonForm(sent(request))
    return part_page(
        request,
        mold,
        form,
        act=lambda: acts.take_off(done, part=row, reason=form.cleaned_data["reason"]),
        said=_("It is taken off; the logbook keeps what it was."),
        title=title % {"name": name},
        submit=_("Take it off"),
    )
