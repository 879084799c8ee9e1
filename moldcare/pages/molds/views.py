"""The list of molds, and the page of one mold."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _

from moldcare.acts.rights import Right, may
from moldcare.core.errors import DomainError
from moldcare.molds.models import Mold
from moldcare.pages.access import answer, calendar_of, page, person_of
from moldcare.pages.acting import mold_or_404, ticked
from moldcare.pages.molds.listing import (
    molds_page,
    needs_choices,
    place_choices,
    state_choices,
    wanted,
)
from moldcare.pages.molds.mold import mold_page
from moldcare.pages.orders.choosing import make_chosen


@page()
def molds(request: HttpRequest) -> HttpResponse:
    """List molds in the order of when something is due on them."""
    now, ask = timezone.now(), wanted(request.GET)
    shown, rows = molds_page(
        ask, number=request.GET.get("page", "1"), now=now, calendar=calendar_of(request)
    )
    context = {
        "page_title": _("Molds"),
        "nav_here": "molds",
        "now": now,
        "ask": ask,
        "rows": rows,
        "page": shown,
        "places": place_choices(),
        "states": state_choices(),
        "needs": needs_choices(),
        "may_edit": may(person_of(request), Right.EDIT_MOLDS),
    }
    return answer(request, "molds/molds.html", context)


@page(writes=Right.HAND_OUT_ORDERS)
def mold(request: HttpRequest, number: str) -> HttpResponse:
    """Show everything about one mold; make an order of what is ticked."""
    row = mold_or_404(number)
    if request.method == "POST":
        return _order(request, row)
    shown = mold_page(row, now=timezone.now(), calendar=calendar_of(request))
    person = person_of(request)
    context = {
        "page_title": f"{row.number} {row.name}",
        "nav_here": "molds",
        "shown": shown,
        "may": {right.value: may(person, right) for right in Right},
    }
    return answer(request, "molds/mold.html", context)


def _order(request: HttpRequest, row: Mold) -> HttpResponse:
    """Write and hand out an order of the ticked rules of this mold."""
    asked = ticked(request, "task")
    rules = list(row.care_rules.filter(pk__in=asked).values_list("pk", flat=True))
    if not rules:
        messages.error(request, _("Tick at least one rule first. Nothing was written."))
        return redirect("mold", number=row.number)
    try:
        made = make_chosen(request, rules=rules)
    except DomainError as error:
        messages.error(request, str(error))
        return redirect("mold", number=row.number)
    name = "sheet" if request.POST.get("then") == "sheet" else "order"
    return redirect(name, number=made.numbers[0])
