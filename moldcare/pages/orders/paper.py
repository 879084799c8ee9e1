"""An order on paper: printing it, and typing in what was written by hand."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters

from moldcare.acts.rights import Right
from moldcare.acts.signing import SignedFrom, SignedOrder, sign_order
from moldcare.pages.access import doing, page, person_of, plant_of
from moldcare.pages.acting import attempt, filled, sent
from moldcare.pages.device import device_of
from moldcare.pages.orders.finding import order_or_404
from moldcare.pages.orders.paper_form import PaperForm
from moldcare.pages.pdf import paper_size, pdf_answer
from moldcare.pages.printing import order_document
from moldcare.pages.sheet.supplies import supply_lines
from moldcare.pages.sheet.writing import override_of
from moldcare.pages.signers import signer_of
from moldcare.paper.work_order import work_order_pdf
from moldcare.work.models import Order
from moldcare.work.queries import parts_out, sheet_of


@page()
def order_print(request: HttpRequest, number: int) -> HttpResponse:
    """Give the order as a PDF, as it stands now."""
    order = order_or_404(number)
    document = order_document(
        order,
        at=timezone.now(),
        printed_by=person_of(request).name,
        code_text=request.build_absolute_uri(reverse("sheet", kwargs={"number": number})),
    )
    paper = work_order_pdf(document, paper_size=paper_size(request, plant=plant_of(request)))
    return pdf_answer(paper.content, name=f"order-{number}.pdf")


@sensitive_post_parameters("pin", "override_pin")
@page(looks=Right.LOG_WORK, writes=Right.LOG_WORK)
def order_paper(request: HttpRequest, number: int) -> HttpResponse:
    """Type in a sheet that was filled in by hand, and sign it."""
    order = order_or_404(number)
    sheet = sheet_of(order)
    form = PaperForm(
        sent(request), sheet=sheet, signs=person_of(request), supplies=supply_lines(sheet)
    )
    signed = attempt(form, lambda: _signed(request, order=order, form=form))
    if signed is not None:
        said = _("Order %(number)d is signed: entry no. %(entry)d.")
        messages.success(request, said % {"number": number, "entry": signed.entry_number})
        return redirect("order", number=number)
    context = {
        "page_title": _("Order %(number)d from paper") % {"number": number},
        "nav_here": "orders",
        "order": order,
        "parts_out": parts_out(order=order),
    }
    return filled(request, "orders/paper.html", context, form=form)


def _signed(request: HttpRequest, *, order: Order, form: PaperForm) -> SignedOrder:
    data = form.cleaned_data
    signer = signer_of(request, badge=data["badge"], pin=data["pin"])
    return sign_order(
        doing(request),
        order=order,
        signer=signer.person,
        minutes=data["minutes"],
        pin=signer.pin,
        device=device_of(request),
        happened_at=data["happened_at"],
        results=form.results(),
        source=SignedFrom.PAPER,
        override=override_of(request, data=data),
        note=data["note"],
        supplies=form.spent(),
        parts_stay_out=data["stay_out"],
    )
