"""The serial-numbered pieces of a mold and of the shelf, and the photo of the plate."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _

from moldcare.acts import molds as acts
from moldcare.acts.doing import Doing
from moldcare.acts.rights import Right
from moldcare.molds.models import Component, Mold
from moldcare.pages.access import page
from moldcare.pages.acting import (
    at_or_now,
    attempt,
    doing_again,
    filled,
    mold_or_404,
    sent,
)
from moldcare.pages.floor.heads import head_of
from moldcare.pages.mold_setup.part_forms import ComponentForm, MarkingForm
from moldcare.pages.mold_setup.parts import part_or_404, part_page
from moldcare.pages.photos import keep_photo


@page(looks=Right.MOVE_MOLDS, writes=Right.MOVE_MOLDS)
def component_add(request: HttpRequest, number: str) -> HttpResponse:
    """Add a piece to the shelf, with what it ran before."""
    mold, form, done = mold_or_404(number), ComponentForm(sent(request)), doing_again(request)
    return part_page(
        request,
        mold,
        form,
        act=lambda: acts.add_component(done, **form.cleaned_data),
        said=_("The piece lies on the shelf; fit it where it belongs."),
        title=_("Add a piece"),
        submit=_("Add the piece"),
    )


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def component_edit(request: HttpRequest, number: str, component: int) -> HttpResponse:
    """Change a piece, or correct what it ran before our records."""
    mold, done = mold_or_404(number), doing_again(request)
    row = part_or_404(Component.objects.all(), component)
    form = ComponentForm(sent(request), component=row)
    return part_page(
        request,
        mold,
        form,
        act=lambda: acts.edit_component(done, component=row, changes=form.cleaned_data),
        said=_("%(piece)s is changed.") % {"piece": row},
        title=_("Change %(piece)s") % {"piece": row},
        submit=_("Change the piece"),
        changes_what_is=True,
    )


@page(looks=Right.LOG_WORK, writes=Right.LOG_WORK)
def mold_marking(request: HttpRequest, number: str) -> HttpResponse:
    """Keep a photo of a mold's plate."""
    mold, done = mold_or_404(number), doing_again(request)
    form = MarkingForm(sent(request), request.FILES if request.method == "POST" else None)
    if attempt(form, lambda: _marked(done, mold=mold, form=form)):
        messages.success(request, _("The photo of the plate is kept."))
        return redirect("mold", number=mold.number)
    title = _("Photo of the plate of %(number)s") % {"number": mold.number}
    context = {**head_of(mold, title=title, now=timezone.now()), "submit": _("Keep the photo")}
    return filled(request, "floor/act.html", context, form=form)


def _marked(done: Doing, *, mold: Mold, form: MarkingForm) -> bool:
    photo = keep_photo(form, name="photo", doing=done)
    if photo is None:
        return False
    data = form.cleaned_data
    at = at_or_now(data, now=done.now)
    acts.attach_marking(done, mold=mold, photo=photo, at=at, shows=data["shows"])
    return True
