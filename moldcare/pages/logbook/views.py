"""The logbook: its list, one entry, corrections, whether a chain is whole, and the month as PDF."""

from zoneinfo import ZoneInfo

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from moldcare.acts.corrections import correct_entry, take_back_completion
from moldcare.acts.rights import Right
from moldcare.care.queries import completions_of
from moldcare.logbook.queries import kinds_of_entries
from moldcare.logbook.verify import verify_one_chain
from moldcare.molds.queries import mold_numbered
from moldcare.pages.access import answer, doing, page, person_of, plant_of
from moldcare.pages.acting import attempt, filled, sent
from moldcare.pages.logbook.entry import chain_or_404, entry_or_404, entry_page
from moldcare.pages.logbook.forms import CorrectionForm, TakeBackForm
from moldcare.pages.logbook.listing import (
    chain_of,
    family_choices,
    kind_choices,
    logbook_page,
    month_of,
    people_choices,
    wanted,
)
from moldcare.pages.pdf import paper_size, pdf_answer
from moldcare.pages.printing import logbook_month
from moldcare.paper.logbook import logbook_pdf


@page()
def logbook(request: HttpRequest) -> HttpResponse:
    """List the entries, the last written first."""
    kinds, families = kinds_of_entries(), family_choices()
    ask = wanted(request.GET, kinds=[*kinds, *(key for key, _name in families)])
    shown, days = logbook_page(
        ask, number=request.GET.get("page", "1"), zone=ZoneInfo(plant_of(request).zone)
    )
    context = {
        "page_title": _("Logbook"),
        "nav_here": "logbook",
        "now": timezone.now(),
        "ask": ask,
        "days": days,
        "page": shown,
        "kinds": kind_choices(kinds),
        "families": families,
        "people": people_choices(),
        "chain": chain_of(ask),
        "this_month": timezone.localdate(),
    }
    return answer(request, "logbook/logbook.html", context)


@page()
def logbook_entry(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one entry with all that it holds."""
    shown = entry_page(
        entry_or_404(pk), person=person_of(request), plant=plant_of(request), now=timezone.now()
    )
    context = {"page_title": str(shown.title), "nav_here": "logbook", "shown": shown}
    return answer(request, "logbook/entry.html", context)


@page()
def logbook_whole(request: HttpRequest, chain: int) -> HttpResponse:
    """Verify one chain now, and say what came out."""
    row = chain_or_404(chain)
    context = {
        "page_title": _("Is the chain whole?"),
        "nav_here": "logbook",
        "chain": row,
        "found": verify_one_chain(row),
        "now": timezone.now(),
    }
    return answer(request, "logbook/whole.html", context)


@page(looks=Right.CORRECT_OWN_ENTRY, writes=Right.CORRECT_OWN_ENTRY)
def logbook_correct(request: HttpRequest, pk: int) -> HttpResponse:
    """Correct an entry by a further one; both stay."""
    entry = entry_or_404(pk)
    form = CorrectionForm(sent(request), entry=entry)
    done = attempt(
        form,
        lambda: correct_entry(
            doing(request),
            entry=entry,
            sentence=form.cleaned_data["sentence"],
            reason=form.cleaned_data["reason"],
        ),
    )
    if done is not None:
        said = _("Entry no. %(number)d corrects it.") % {"number": done.entry_number}
        messages.success(request, said)
        return redirect("logbook-entry", pk=done.entry_pk)
    context = {"page_title": _("Correct an entry"), "nav_here": "logbook", "entry": entry}
    context["now"] = timezone.now()
    return filled(request, "logbook/correct.html", context, form=form)


@page(looks=Right.CORRECT_OWN_ENTRY, writes=Right.CORRECT_OWN_ENTRY)
def logbook_take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Take back what an entry says was done; what it covered goes with it."""
    entry = entry_or_404(pk)
    rows = completions_of(entry)
    if not rows:
        raise Http404(_("Nothing of this entry can be taken back."))
    form = TakeBackForm(sent(request), completions=rows)
    done = attempt(
        form,
        lambda: take_back_completion(
            doing(request), completion=form.chosen, reason=form.cleaned_data["reason"]
        ),
    )
    if done is not None:
        messages.success(request, _("Taken back by entry no. %(n)d.") % {"n": done.entry_number})
        return redirect("logbook-entry", pk=done.entry_pk)
    context = {"page_title": _("Take back work"), "nav_here": "logbook", "entry": entry}
    context["now"] = timezone.now()
    return filled(request, "logbook/take_back.html", context, form=form)


@page()
def logbook_print(request: HttpRequest) -> HttpResponse:
    """Give a month of one mold's logbook, or of all chains, as a PDF."""
    month, number = month_of(request.GET.get("month", "")), request.GET.get("mold", "").strip()
    mold = mold_numbered(number) if number and "\0" not in number else None
    if month is None or (number and mold is None):
        messages.error(request, _("Choose a month, and a mold that is in use, to print."))
        return redirect(f"{reverse('logbook')}")
    paper = logbook_pdf(
        logbook_month(month, mold=mold), paper_size=paper_size(request, plant=plant_of(request))
    )
    label = f"{mold.pk}-" if mold else ""
    return pdf_answer(paper.content, name=f"logbook-{label}{month:%Y-%m}.pdf")
