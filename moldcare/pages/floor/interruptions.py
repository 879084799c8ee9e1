"""Reporting that a run stopped, and that it goes on."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from moldcare.acts.interruptions import end_interruption, report_interruption
from moldcare.acts.rights import Right
from moldcare.pages.access import is_pack, page
from moldcare.pages.acting import attempt, doing_again, filled, mold_or_404, sent
from moldcare.pages.floor.heads import head_of, running_molds
from moldcare.pages.floor.interruption_forms import (
    EndForm,
    InterruptionForm,
    WhichInterruptionForm,
)
from moldcare.pages.words import moment_words
from moldcare.production.models import Interruption
from moldcare.production.queries import interruptions, lasting


@page(looks=Right.REPORT_INTERRUPTION, writes=Right.REPORT_INTERRUPTION, waits=True)
def interruption(request: HttpRequest) -> HttpResponse:
    """Report that a run stopped: which mold, since when, what was seen, what it traced back to."""
    done = doing_again(request)
    running = running_molds()
    initial = {"mold": request.GET.get("mold", "")}
    form = WhichInterruptionForm(sent(request), running=running, initial=initial)
    written = attempt(
        form,
        lambda: report_interruption(
            done, mold=form.cleaned_data["found"], **form.told(now=done.at)
        ),
    )
    if written is not None:
        number = form.cleaned_data["found"].number
        messages.success(request, _("The interruption of %(mold)s is reported.") % {"mold": number})
        return redirect("mold", number=number)
    context = {
        "page_title": _("Report an interruption"),
        "nav_here": "molds",
        "pack": is_pack(request),
        "lasting": lasting(),
        "now": timezone.now(),
    }
    return filled(request, "floor/which_interruption.html", context, form=form)


@page(looks=Right.REPORT_INTERRUPTION, writes=Right.REPORT_INTERRUPTION, waits=True)
def mold_interruption(request: HttpRequest, number: str) -> HttpResponse:
    """Report that a mold's run stopped: since when, what was seen, what it traced back to."""
    mold, done = mold_or_404(number), doing_again(request)
    form = InterruptionForm(sent(request))
    written = attempt(form, lambda: report_interruption(done, mold=mold, **form.told(now=done.at)))
    if written is not None:
        messages.success(
            request, _("The interruption of %(mold)s is reported.") % {"mold": mold.number}
        )
        return redirect("mold", number=mold.number)
    title = _("Interruption of %(mold)s") % {"mold": mold.number}
    context = {**head_of(mold, title=title, now=timezone.now()), "submit": _("Report it")}
    return filled(request, "floor/interruption.html", context, form=form)


@page(looks=Right.REPORT_INTERRUPTION, writes=Right.REPORT_INTERRUPTION, waits=True)
def interruption_end(request: HttpRequest, pk: int) -> HttpResponse:
    """Say that a mold runs again."""
    row = interruptions().filter(pk=pk).first()
    if row is None:
        raise Http404
    form, done, now = EndForm(sent(request)), doing_again(request), timezone.now()
    written = attempt(
        form, lambda: end_interruption(done, interruption=row, **form.told(now=done.at))
    )
    if written is not None:
        messages.success(request, _("%(mold)s runs again.") % {"mold": row.mold.number})
        return redirect("mold", number=row.mold.number)
    title = _("%(mold)s runs again") % {"mold": row.mold.number}
    since = _("Interrupted since %(when)s: %(finding)s") % {
        "when": moment_words(row.from_at, now=now),
        "finding": row.finding,
    }
    context = {
        **head_of(row.mold, title=title, now=now),
        "against": _has_ended(row),
        "lead": since,
        "interruption": row.pk,
        "submit": _("Write it down"),
    }
    return filled(request, "floor/end.html", context, form=form)


def _has_ended(row: Interruption) -> dict[str, str] | None:
    """Return what speaks against ending an interruption: it has ended."""
    if row.to_at is None and getattr(row, "end", None) is None:
        return None
    return {
        "head": _("It has ended already."),
        "say": _("Its end is in the logbook; what was wrong there is corrected there."),
        "href": reverse("mold", kwargs={"number": row.mold.number}),
        "label": _("To the mold"),
    }
