"""The list of orders, and one order."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters

from moldcare.acts.rights import Right, may
from moldcare.pages.access import answer, calendar_of, page, person_of
from moldcare.pages.orders.doing import Refused, do_to_order
from moldcare.pages.orders.finding import order_or_404
from moldcare.pages.orders.listing import orders_page, state_choices, wanted
from moldcare.pages.orders.order import order_page


@page()
def orders(request: HttpRequest) -> HttpResponse:
    """List the orders in the order of when."""
    now, ask, person = timezone.now(), wanted(request.GET), person_of(request)
    shown, rows = orders_page(
        ask,
        number=request.GET.get("page", "1"),
        person=person,
        now=now,
        calendar=calendar_of(request),
    )
    context = {
        "page_title": _("Orders"),
        "nav_here": "orders",
        "now": now,
        "ask": ask,
        "rows": rows,
        "page": shown,
        "states": state_choices(),
        "may_work": may(person, Right.LOG_WORK),
    }
    return answer(request, "orders/orders.html", context)


@sensitive_post_parameters("pin")
@page(writes=Right.LOG_WORK)
def order(request: HttpRequest, number: int) -> HttpResponse:
    """Show an order; hand it out, hold it up, go on, change it, strike it out, sign it further."""
    row = order_or_404(number)
    refused = None
    if request.method == "POST":
        said = do_to_order(request, row)
        if not isinstance(said, Refused):
            messages.success(request, said)
            then = "sheet" if request.POST.get("then") == "sheet" else "order"
            return redirect(then, number=number)
        if said.form is None:
            messages.error(request, said.sentence)
            return redirect("order", number=number)
        refused = (said.name, said.form)
    shown = order_page(
        row,
        person=person_of(request),
        now=timezone.now(),
        calendar=calendar_of(request),
        refused=refused,
    )
    title = _("Order %(number)d") % {"number": row.number}
    context = {"page_title": title, "nav_here": "orders", "shown": shown}
    return answer(request, "orders/order.html", context, status=422 if refused else 200)
