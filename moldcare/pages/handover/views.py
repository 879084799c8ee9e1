"""The pages of handovers: giving and taking a shift, looking at one, putting it right, paper."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone, translation
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters

from moldcare.acts.answers import Written
from moldcare.acts.handover import correct_handover, give_handover, take_handover
from moldcare.acts.rights import Right, may
from moldcare.pages.access import calendar_of, page, person_of, plant_of
from moldcare.pages.acting import attempt, doing_again, filled, sent
from moldcare.pages.device import device_of
from moldcare.pages.handover.forms import CorrectForm, GiveForm, TakeForm
from moldcare.pages.handover.gathering import gathered
from moldcare.pages.handover.paper import handover_document
from moldcare.pages.handover.shown import sections_of, shifts_to_hand_over, shown_sections
from moldcare.pages.pdf import paper_size, pdf_answer
from moldcare.pages.signers import secret_of, signer_of
from moldcare.paper.handover import handover_pdf
from moldcare.work.handover_queries import handover_numbered, handovers, untaken_handover
from moldcare.work.models import Handover

LISTED = 12


@sensitive_post_parameters("pin")
@page(writes=Right.LOG_WORK)
def handover(request: HttpRequest) -> HttpResponse:
    """Show what the next shift must know as it stands now; hand the shift over."""
    now, calendar = timezone.now(), calendar_of(request)
    shifts = shifts_to_hand_over(now=now, calendar=calendar)
    form = GiveForm(sent(request), shifts=shifts, secret=secret_of(person_of(request)))
    written = attempt(form, lambda: _given(request, form))
    if written is not None:
        messages.success(
            request, _("The shift is handed over. Whoever comes signs that they take it.")
        )
        return redirect("handover-one", pk=written.row_id)
    context = {
        "page_title": _("Handover"),
        "nav_here": "shift",
        "sections": shown_sections(gathered(now=now, calendar=calendar)),
        "waiting": untaken_handover(),
        "earlier": handovers()[:LISTED],
        "may_write": may(person_of(request), Right.LOG_WORK),
        "now": now,
    }
    return filled(request, "handover/handover.html", context, form=form)


def _given(request: HttpRequest, form: GiveForm) -> Written:
    data, done = form.cleaned_data, doing_again(request)
    signer = signer_of(request, badge=data["badge"], pin=data["pin"])
    with translation.override(plant_of(request).language):
        sections = gathered(now=done.now, calendar=calendar_of(request))
    return give_handover(
        done,
        giver=signer.person,
        pin=signer.pin,
        shift_name=data["shift"],
        sections=sections,
        note=data["note"],
        device=device_of(request),
    )


@sensitive_post_parameters("pin")
@page(writes=Right.LOG_WORK)
def handover_one(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a handover as it was signed; take it."""
    row = _row_or_404(pk)
    form = TakeForm(sent(request), secret=secret_of(person_of(request)))
    written = attempt(form, lambda: _taken(request, form, row=row))
    if written is not None:
        messages.success(request, _("The shift is taken."))
        return redirect("handover-one", pk=row.pk)
    context = {
        "page_title": _("Handover"),
        "nav_here": "shift",
        "row": row,
        "taken": getattr(row, "taken", None),
        "newer": getattr(row, "corrected_by", None),
        "sections": sections_of(row),
        "may_write": may(person_of(request), Right.LOG_WORK),
        "now": timezone.now(),
    }
    return filled(request, "handover/one.html", context, form=form)


def _taken(request: HttpRequest, form: TakeForm, *, row: Handover) -> Written:
    data = form.cleaned_data
    signer = signer_of(request, badge=data["badge"], pin=data["pin"])
    return take_handover(
        doing_again(request),
        handover=row,
        taker=signer.person,
        pin=signer.pin,
        note=data["note"],
        device=device_of(request),
    )


@sensitive_post_parameters("pin")
@page(looks=Right.LOG_WORK, writes=Right.LOG_WORK)
def handover_correct(request: HttpRequest, pk: int) -> HttpResponse:
    """Put the note of a handover right by a new one."""
    row = _row_or_404(pk)
    secret = secret_of(person_of(request))
    form = CorrectForm(sent(request), initial={"note": row.note}, secret=secret)
    written = attempt(form, lambda: _corrected(request, form, row=row))
    if written is not None:
        messages.success(request, _("The handover is put right. It is to be taken anew."))
        return redirect("handover-one", pk=written.row_id)
    context = {
        "page_title": _("Put a handover right"),
        "nav_here": "shift",
        "row": row,
        "now": timezone.now(),
    }
    return filled(request, "handover/correct.html", context, form=form)


def _corrected(request: HttpRequest, form: CorrectForm, *, row: Handover) -> Written:
    data = form.cleaned_data
    signer = signer_of(request, badge=data["badge"], pin=data["pin"])
    return correct_handover(
        doing_again(request),
        handover=row,
        signer=signer.person,
        pin=signer.pin,
        note=data["note"],
        reason=data["reason"],
        device=device_of(request),
    )


@page()
def handover_print(request: HttpRequest, pk: int) -> HttpResponse:
    """Print a handover as it was signed."""
    row, plant = _row_or_404(pk), plant_of(request)
    with translation.override(plant.language):
        document = handover_document(row, plant=plant, now=timezone.now())
    paper = handover_pdf(document, paper_size=paper_size(request, plant=plant))
    return pdf_answer(paper.content, name=f"handover-{row.pk}.pdf")


def _row_or_404(pk: int) -> Handover:
    row = handover_numbered(pk)
    if row is None:
        raise Http404(_("There is no handover %(number)d.") % {"number": pk})
    return row
