"""The task sheet of one order."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django_htmx.http import HttpResponseClientRedirect

from moldcare.acts.rights import Right, may
from moldcare.pages.access import answer, calendar_of, page, person_of
from moldcare.pages.orders.finding import order_or_404
from moldcare.pages.sheet.present import Refused, sheet_page
from moldcare.pages.sheet.writing import SIGN, write
from moldcare.work.models import Order


@sensitive_post_parameters("pin", "override_pin")
@page(writes=Right.LOG_WORK, waits=True)
def sheet(request: HttpRequest, number: int) -> HttpResponse:
    """Show the sheet; write down a step, what becomes of a task, or the signature."""
    order = order_or_404(number)
    if request.method != "POST":
        return _shown(request, order)
    said = write(request, order)
    if isinstance(said, Refused):
        return _shown(request, order_or_404(number), refused=said)
    if request.POST.get("do") == SIGN:
        messages.success(request, said)
        address = reverse("order", kwargs={"number": number})
        return HttpResponseClientRedirect(address) if _is_part(request) else redirect(address)
    if _is_part(request):
        return _shown(request, order_or_404(number), said=said)
    messages.success(request, said)
    return redirect(f"{reverse('sheet', kwargs={'number': number})}#now")


def _is_part(request: HttpRequest) -> bool:
    """Return whether only the changed part is asked for."""
    htmx = request.htmx  # type: ignore[attr-defined]
    return bool(htmx) and not htmx.boosted and not htmx.history_restore_request


def _shown(
    request: HttpRequest, order: Order, *, refused: Refused | None = None, said: str = ""
) -> HttpResponse:
    # a copy that lies on a tablet knows no person: whoever takes it in hand signs it
    is_pack = getattr(request, "is_pack", False)
    person = None if is_pack else person_of(request)
    shown = sheet_page(
        order,
        person=person,
        may_write=person is None or may(person, Right.LOG_WORK),
        now=timezone.now(),
        calendar=calendar_of(request),
        refused=refused,
    )
    is_part = _is_part(request)
    context = {
        "page_title": _("Sheet of order %(number)d") % {"number": order.number},
        "nav_here": "orders",
        "shown": shown,
        "said": said,
        "is_part": is_part,
        "pack": is_pack,
        "zone": str(timezone.get_current_timezone()),
    }
    template = "sheet/_sheet.html" if is_part else "sheet/sheet.html"
    response = answer(request, template, context, status=422 if refused else 200)
    response.headers["Vary"] = "HX-Request, Cookie"
    return response
