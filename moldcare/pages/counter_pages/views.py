"""The page of one counter, and what can be done with it."""

from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from moldcare.acts.counters import (
    add_counter,
    exchange_counter,
    fit_counter,
    remove_counter,
)
from moldcare.acts.doing import Doing
from moldcare.acts.rights import Right, may
from moldcare.counters.models import Counter
from moldcare.molds.queries import mold_numbered
from moldcare.pages.access import answer, page, person_of
from moldcare.pages.acting import (
    at_or_now,
    attempt,
    beside,
    doing_again,
    filled,
    row_or_404,
    sent,
)
from moldcare.pages.counter_pages.counter import CounterPage, counter_page
from moldcare.pages.counter_pages.forms import AddForm, ExchangeForm, FitForm, RemoveForm


def _head(title: str, *, submit: str, counter: Counter | None = None) -> dict[str, Any]:
    return {
        "page_title": title,
        "nav_here": "molds",
        "title": title,
        "submit": submit,
        "shown": counter_page(counter, now=timezone.now()) if counter else None,
    }


def _against(counter: Counter, *, shown: CounterPage, fits: bool) -> dict[str, str] | None:
    """Return what speaks against fitting a counter, or taking it off, as it sits now."""
    if fits is not shown.is_fitted:
        return None
    if fits:
        return {
            "head": _("It is fitted already."),
            "say": _("Remove it first, unless you write down what was forgotten, with its time."),
            "href": reverse("counter-remove", kwargs={"pk": counter.pk}),
            "label": _("Remove"),
        }
    return {
        "head": _("There is nothing to take it off."),
        "say": _("Fit it first, unless you write down what was forgotten, with its time."),
        "href": reverse("counter-fit", kwargs={"pk": counter.pk}),
        "label": _("Fit it"),
    }


@page()
def counter(request: HttpRequest, pk: int) -> HttpResponse:
    """Show where a counter sits, what it showed, and what became of each reading."""
    row = row_or_404(Counter.objects.all(), pk)
    context = {
        **_head(_("Counter %(label)s") % {"label": row.label}, submit="", counter=row),
        "may_exchange": may(person_of(request), Right.EXCHANGE_COUNTERS),
        "may_decide": may(person_of(request), Right.DECIDE_READINGS),
    }
    return answer(request, "counter_pages/counter.html", context)


@page(looks=Right.EXCHANGE_COUNTERS, writes=Right.EXCHANGE_COUNTERS)
def counter_add(request: HttpRequest) -> HttpResponse:
    """Add a counter, and fit it where it sits."""
    asked = request.GET.get("mold", "").replace("\0", "")
    mold = mold_numbered(asked) if asked else None
    form = AddForm(sent(request), initial={"on": f"mold {mold.pk}"} if mold else {})
    done = doing_again(request)
    pk = attempt(form, lambda: _add(done, data=form.cleaned_data))
    if pk is not None:
        messages.success(request, _("The counter is added."))
        return redirect("counter", pk=pk)
    context = _head(_("Add a counter"), submit=_("Add the counter"))
    return filled(request, "counter_pages/act.html", context, form=form)


def _add(done: Doing, *, data: dict[str, Any]) -> int:
    with transaction.atomic():
        pk = add_counter(
            done, label=data["label"], digits=data["digits"], rollover=data["rollover"]
        ).row_id
        if data["on"] is not None:
            fit_counter(
                beside(done, name="fit"),
                counter=Counter.objects.get(pk=pk),
                on=data["on"],
                at=at_or_now(data, now=done.now),
                value_shown=data["value_shown"],
            )
    return pk


@page(looks=Right.EXCHANGE_COUNTERS, writes=Right.EXCHANGE_COUNTERS)
def counter_fit(request: HttpRequest, pk: int) -> HttpResponse:
    """Fit a counter that sits nowhere."""
    row, done = row_or_404(Counter.objects.all(), pk), doing_again(request)
    form = FitForm(sent(request))

    def act() -> int:
        data = form.cleaned_data
        return fit_counter(
            done,
            counter=row,
            on=data["on"],
            at=at_or_now(data, now=done.now),
            value_shown=data["value_shown"],
            reason=data["reason"],
        ).row_id

    if attempt(form, act) is not None:
        messages.success(request, _("The counter is fitted."))
        return redirect("counter", pk=row.pk)
    title = _("Fit counter %(label)s") % {"label": row.label}
    context = _head(title, submit=_("Write it down"), counter=row)
    context["against"] = _against(row, shown=context["shown"], fits=True)
    return filled(request, "counter_pages/act.html", context, form=form)


@page(looks=Right.EXCHANGE_COUNTERS, writes=Right.EXCHANGE_COUNTERS)
def counter_exchange(request: HttpRequest, pk: int) -> HttpResponse:
    """Exchange a counter: the old one's last value, the new one and what it shows."""
    row, done = row_or_404(Counter.objects.all(), pk), doing_again(request)
    form = ExchangeForm(sent(request), old=row)
    new = attempt(form, lambda: _exchange(done, old=row, data=form.cleaned_data))
    if new is not None:
        messages.success(
            request, _("Counter %(old)s is exchanged for %(new)s.") % {"old": row, "new": new}
        )
        return redirect("counter", pk=new.pk)
    title = _("Exchange counter %(label)s") % {"label": row.label}
    context = _head(title, submit=_("Write the exchange down"), counter=row)
    context["against"] = _against(row, shown=context["shown"], fits=False)
    return filled(request, "counter_pages/act.html", context, form=form)


def _exchange(done: Doing, *, old: Counter, data: dict[str, Any]) -> Counter:
    """Exchange for the chosen counter; a new one is added together with the exchange."""
    with transaction.atomic():
        new: Counter = data["new"] or _new_counter(done, data=data)
        exchange_counter(
            done,
            old=old,
            new=new,
            at=at_or_now(data, now=done.now),
            last_value=data["last_value"],
            value_shown=data["value_shown"],
            reason=data["reason"],
        )
    return new


def _new_counter(done: Doing, *, data: dict[str, Any]) -> Counter:
    added = add_counter(
        beside(done, name="counter"),
        label=data["label"],
        digits=data["digits"],
        rollover=data["rollover"],
    )
    return Counter.objects.get(pk=added.row_id)


@page(looks=Right.EXCHANGE_COUNTERS, writes=Right.EXCHANGE_COUNTERS)
def counter_remove(request: HttpRequest, pk: int) -> HttpResponse:
    """Remove a counter without fitting another."""
    row, done = row_or_404(Counter.objects.all(), pk), doing_again(request)
    form = RemoveForm(sent(request), old=row)

    def act() -> int:
        data = form.cleaned_data
        return remove_counter(
            done,
            counter=row,
            at=at_or_now(data, now=done.now),
            last_value=data["last_value"],
            reason=data["reason"],
        ).row_id

    if attempt(form, act) is not None:
        messages.success(request, _("The counter is removed."))
        return redirect("counter", pk=row.pk)
    title = _("Remove counter %(label)s") % {"label": row.label}
    context = _head(title, submit=_("Write it down"), counter=row)
    context["against"] = _against(row, shown=context["shown"], fits=False)
    return filled(request, "counter_pages/act.html", context, form=form)
