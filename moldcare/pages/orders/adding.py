"""Writing an order for a mold: which rules, with where they stand; and adding to one."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _

from moldcare.acts.orders import add_tasks, hand_out, write_order
from moldcare.acts.rights import Right, may
from moldcare.care.models import CareRule
from moldcare.core.errors import DomainError
from moldcare.molds.models import Auxiliary, Mold
from moldcare.pages.access import answer, calendar_of, doing, page, person_of
from moldcare.pages.acting import beside, mold_or_404, sent, ticked
from moldcare.pages.orders.choosing import choices_of, why_of
from moldcare.pages.orders.finding import order_or_404
from moldcare.pages.orders.forms import PlanForm
from moldcare.work.models import Order
from moldcare.work.queries import unsigned_order_of


@page(looks=Right.LOG_WORK, writes=Right.LOG_WORK)
def order_add(request: HttpRequest, number: str) -> HttpResponse:
    """Write an order for a mold; one that is not signed yet gets the tasks instead."""
    mold, now = mold_or_404(number), timezone.now()
    earlier = unsigned_order_of(mold=mold)
    if earlier is not None and request.method != "POST":
        return redirect("order-tasks", number=earlier.number)
    form = PlanForm(sent(request), calendar=calendar_of(request), now=now)
    asked = ticked(request, "task")
    if form.is_bound and form.is_valid():
        written = _written(request, mold=mold, form=form, asked=asked)
        if written is not None:
            return redirect("order", number=written)
    context = {
        "page_title": _("New order for %(mold)s") % {"mold": mold.number},
        "nav_here": "orders",
        "mold": mold,
        "form": form,
        "lines": choices_of(mold, now=now, calendar=calendar_of(request), asked=asked),
        "may_hand_out": may(person_of(request), Right.HAND_OUT_ORDERS),
    }
    return answer(request, "orders/add.html", context, status=422 if form.is_bound else 200)


def _written(request: HttpRequest, *, mold: Mold, form: PlanForm, asked: set[int]) -> int | None:
    """Write the order and hand it out where that was asked; put what is refused on the form."""
    done = doing(request)
    rules = list(CareRule.objects.filter(mold=mold, pk__in=asked).order_by("pk"))
    try:
        written = write_order(
            done,
            rules=rules,
            mold=mold,
            planned_at=form.planned_at,
            people=list(form.cleaned_data["people"]),
            note=form.cleaned_data["note"],
            why=why_of([rule.pk for rule in rules], now=done.now, calendar=calendar_of(request)),
        )
        if request.POST.get("then") == "hand_out":
            hand_out(beside(done, name="hand out"), order=Order.objects.get(pk=written.pk))
    except DomainError as error:
        form.add_error(None, str(error))
        return None
    messages.success(request, _("Order %(number)d is written.") % {"number": written.number})
    return written.number


@page(looks=Right.LOG_WORK, writes=Right.LOG_WORK)
def order_tasks(request: HttpRequest, number: int) -> HttpResponse:
    """Add tasks to an order that is not signed."""
    order, now = order_or_404(number), timezone.now()
    subject: Mold | Auxiliary | None = order.mold or order.auxiliary
    asked = ticked(request, "task")
    if request.method == "POST" and _added(request, order=order, asked=asked):
        return redirect("order", number=number)
    context = {
        "page_title": _("Add tasks to order %(number)d") % {"number": order.number},
        "nav_here": "orders",
        "order": order,
        "lines": choices_of(
            subject, now=now, calendar=calendar_of(request), asked=asked, order=order
        ),
    }
    return answer(
        request, "orders/tasks.html", context, status=422 if request.method == "POST" else 200
    )


def _added(request: HttpRequest, *, order: Order, asked: set[int]) -> bool:
    rules = list(
        CareRule.objects.filter(mold=order.mold, auxiliary=order.auxiliary, pk__in=asked).order_by(
            "pk"
        )
    )
    done = doing(request)
    try:
        added = add_tasks(
            done,
            order=order,
            rules=rules,
            why=why_of([rule.pk for rule in rules], now=done.now, calendar=calendar_of(request)),
            is_brought_forward=request.POST.get("forward") == "1",
        )
    except DomainError as error:
        messages.error(request, str(error))
        return False
    messages.success(request, _("Added: %(count)d tasks.") % {"count": len(added)})
    return True
