"""What waits on this tablet, what tablets could not hand in, and signing on without a net."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from moldcare.acts.files import add_file
from moldcare.acts.rights import Right
from moldcare.acts.tablets import Stuck, give_to_lead, see_to_lost, settle_stuck
from moldcare.files.queries import file_of
from moldcare.handin.models import StuckEntry, Tablet
from moldcare.handin.queries import stuck_entries
from moldcare.pages.access import answer, doing, page
from moldcare.pages.acting import attempt, beside, filled
from moldcare.pages.tablet.forms import MOST_PHOTOS, PHOTO, SettleForm, StuckForm
from moldcare.pages.tablet.pack import pages_of_pack
from moldcare.pages.tablet.present import tablet_lines
from moldcare.pages.tablet.version import version_of


@page()
def tablet(request: HttpRequest) -> HttpResponse:
    """Show what waits on the tablet that shows this; the tablet fills it in by itself."""
    return answer(request, "tablet/tablet.html", {"page_title": _("On this tablet")})


@require_safe
def sign_on(request: HttpRequest) -> HttpResponse:
    """Show the page on which somebody signs on while there is no net; only script handles it."""
    return render(request, "tablet/sign_on.html")


@page(looks=Right.LOG_WORK)
def pack(request: HttpRequest) -> HttpResponse:
    """Name the pages that a tablet keeps."""
    return JsonResponse({"version": version_of(), "pages": pages_of_pack()})


@page(writes=Right.LOOK, waits=True)
def stuck_given(request: HttpRequest) -> HttpResponse:
    """Take what a tablet could not hand in, for a lead, or the word that it was discarded."""
    form = StuckForm(request.POST if request.method == "POST" else None)
    if request.method != "POST":
        return redirect("tablet")
    if attempt(form, lambda: _give(request, form)) is None:
        return filled(request, "tablet/tablet.html", {}, form=form)
    messages.success(request, _("A lead has it now."))
    return redirect("tablet")


def _give(request: HttpRequest, form: StuckForm) -> StuckEntry:
    done, data = doing(request), form.cleaned_data
    photos = []
    for name in sorted(request.FILES)[:MOST_PHOTOS]:
        upload = request.FILES[name]
        if name.startswith(PHOTO) and isinstance(upload, UploadedFile):
            added = add_file(beside(done, name=name), content=upload.read(), name=upload.name or "")
            photos.append(added.sha256)
    stuck = Stuck(
        hand_in=form.stuck_id,
        author_said=data["author_said"],
        address=data["address"],
        said=data["said"],
        why=data["why"],
        fields=data["content"],
        photos=photos,
        worked_at=data["worked_at"],
    )
    return give_to_lead(done, stuck=stuck, discarded=data["discarded"])


@page(looks=Right.HAND_OUT_ORDERS, writes=Right.HAND_OUT_ORDERS)
def tablets(request: HttpRequest) -> HttpResponse:
    """Show the plant's tablets and what they could not hand in; see to what was lost on one."""
    if request.method == "POST":
        asked = request.POST.get("tablet", "")
        key = int(asked) if asked.isascii() and asked.isdecimal() and len(asked) < 18 else 0
        row = Tablet.objects.filter(pk=key).first()
        if row is None:
            raise Http404
        see_to_lost(doing(request), tablet=row)
        messages.success(request, _("Seen to."))
        return redirect("tablets")
    now = timezone.now()
    context: dict[str, Any] = {
        "page_title": _("Tablets"),
        "now": now,
        "stuck": list(stuck_entries()[:100]),
        "lines": tablet_lines(now=now),
    }
    return answer(request, "tablet/tablets.html", context)


@page(looks=Right.HAND_OUT_ORDERS, writes=Right.HAND_OUT_ORDERS)
def stuck(request: HttpRequest, hand_in: UUID) -> HttpResponse:
    """Show an entry that could not be handed in, with all that was typed; say what became of it."""
    row = StuckEntry.objects.select_related("person", "settled__person").filter(pk=hand_in).first()
    if row is None:
        raise Http404
    form = SettleForm(request.POST if request.method == "POST" else None)

    def act() -> bool:
        settle_stuck(doing(request), stuck=row, note=form.cleaned_data["note"])
        return True

    if request.method == "POST" and attempt(form, act):
        messages.success(request, _("Seen to: %(said)s") % {"said": row.said})
        return redirect("tablets")
    context = {
        "page_title": row.said,
        "now": timezone.now(),
        "row": row,
        "settled": getattr(row, "settled", None),
        "photos": [file for sha256 in row.photos if (file := file_of(sha256)) is not None],
    }
    return filled(request, "tablet/stuck.html", context, form=form)
