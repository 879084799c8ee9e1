"""Mend a kept row; take a whole import back."""

from typing import Any
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _

from moldcare.acts.rights import Right
from moldcare.core.errors import DomainError
from moldcare.feeds.models import ImportBatch
from moldcare.feeds.queries import kept_row, mended_by
from moldcare.feeds.undo import undo_import
from moldcare.pages.access import doing, page, person_of, plant_of
from moldcare.pages.acting import attempt, doing_again, filled, sent
from moldcare.pages.imports.forms import UndoForm
from moldcare.pages.imports.kinds import words_of_kind
from moldcare.pages.imports.mending import bring_in_mended, mending_of, reasons_of
from moldcare.pages.imports.views import batch_or_404
from moldcare.pages.imports.words import given_before, is_undone, undone_lines


@page(looks=Right.IMPORT, writes=Right.IMPORT)
def import_mend(request: HttpRequest, kept: int) -> HttpResponse:
    """Show a kept row with its cells; read it again as typed; bring it in once it is good."""
    row = kept_row(kept)
    if row is None:
        raise Http404(_("There is no such row to mend."))
    if mended_by(row) is not None:
        # a second tap is answered as the first one was
        if given_before(request.POST.get("hand_in", ""), person=person_of(request)) is None:
            messages.info(request, _("This row was mended already."))
        return redirect("import-batch", pk=row.batch_id)
    if is_undone(row.batch):
        messages.info(request, _("The import of this row was taken back."))
        return redirect("import-batch", pk=row.batch_id)
    zone = ZoneInfo(plant_of(request).zone)
    mending = mending_of(doing(request), row=row, data=sent(request), zone=zone)
    form = mending.form(sent(request))
    if request.method == "POST" and form.is_valid() and mending.is_good:
        try:
            bring_in_mended(doing_again(request), mending=mending)
        except DomainError as error:
            mending.refused = str(error)
        else:
            messages.success(request, _("The row is brought in."))
            return redirect("import-batch", pk=row.batch_id)
    if request.method == "POST" and form.is_valid():
        for reason in reasons_of(mending):
            form.add_error(None, reason)
        if not form.errors:
            form.add_error(None, _("Answer what is asked first; nothing was written."))
    context: dict[str, Any] = {
        "page_title": _("Mend a row"),
        "nav_here": words_of_kind(row.batch.kind).nav_here,
        "now": timezone.now(),
        "row": row,
        "mending": mending,
        "cells": [form[name] for name in form.cell_names],
        "asked": [form[name] for name in form.fields if name not in form.cell_names],
    }
    return filled(request, "imports/mend.html", context, form=form)


@page(looks=Right.IMPORT, writes=Right.IMPORT)
def import_undo(request: HttpRequest, pk: int) -> HttpResponse:
    """Say what taking an import back does, ask why, and do it."""
    batch = batch_or_404(pk)
    form = UndoForm(sent(request))
    done = attempt(
        form,
        lambda: undo_import(doing_again(request), batch=batch, reason=form.cleaned_data["reason"]),
    )
    if done is not None:
        said = _("The import is taken back.")
        if done.stayed:
            said += " " + _("What has later facts on it stayed; it is listed here.")
        messages.success(request, said)
        return redirect("import-batch", pk=batch.pk)
    context: dict[str, Any] = {
        "page_title": _("Take an import back"),
        "nav_here": words_of_kind(batch.kind).nav_here,
        "now": timezone.now(),
        "batch": batch,
        "is_register": batch.kind != ImportBatch.Kind.READINGS,
        "undone": undone_lines(batch),
    }
    return filled(request, "imports/undo.html", context, form=form)
