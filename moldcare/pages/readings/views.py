"""The round of readings, the list of held ones, and the page of one."""

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _

from moldcare.acts.readings import record_readings
from moldcare.acts.rights import Right, may
from moldcare.core.errors import DomainError
from moldcare.counters.queries import held_readings, verdict_on
from moldcare.pages.access import answer, doing, is_pack, new_hand_in, page, person_of
from moldcare.pages.acting import doing_again
from moldcare.pages.readings.deciding import BY_HAND, NOTHING_GIVEN, Given, decide
from moldcare.pages.readings.forms import ReasonForm, RoundForm, typed_in
from moldcare.pages.readings.held import ambiguous_entries, held_entries, reading_page
from moldcare.pages.readings.lines import lines_of
from moldcare.pages.readings.outcome import (
    Outcome,
    outcome_of,
    refusals_of,
    sum_words,
    wrong_beside,
)
from moldcare.pages.readings.round import Round, round_now
from moldcare.pages.waiting import outbox_of

HELD_A_PAGE = 20


@page(writes=Right.ENTER_READINGS, waits=True)
def readings(request: HttpRequest) -> HttpResponse:
    """Show the round; take in what was typed, and settle what is held on the way."""
    found = round_now(now=timezone.now())
    if request.method != "POST":
        return _shown(request, found, form=RoundForm(rows=found.counted))
    if "decide" in request.POST:
        return _decided_in_round(request, found)
    form = RoundForm(request.POST, rows=found.counted, confirmed=request.POST.getlist("about"))
    if form.is_empty:
        messages.error(request, _("Type at least one value first. Nothing was written."))
        return redirect("readings")
    outcome = _taken(request, form)
    if outcome.is_settled:
        messages.success(request, sum_words(outcome))
        return redirect("readings")
    if outcome.answers:
        messages.success(request, sum_words(outcome))
    outbox = outbox_of(request)
    if outbox is not None:
        outbox.is_partly = bool(outcome.answers)
    again = round_now(now=timezone.now())
    kept = outcome.form(rows=again.counted)
    return _shown(request, again, form=kept, outcome=outcome, status=422)


def _taken(request: HttpRequest, form: RoundForm) -> Outcome:
    """Write down what can be taken; a wrong row keeps none of the others back."""
    done = doing_again(request)
    if not form.is_valid() and "at" in form.errors:
        return outcome_of(form, answers=[])
    entries = form.entries(now=done.at)
    try:
        answers = record_readings(done, entries, keep_good=True) if entries else []
    except DomainError as error:
        form.add_error(None, str(error))
        answers = []
    return outcome_of(form, answers=answers)


def _decided_in_round(request: HttpRequest, found: Round) -> HttpResponse:
    """Settle a held reading; what was typed beside it stays typed."""
    status = 200
    if may(person_of(request), Right.DECIDE_READINGS):
        try:
            messages.success(request, decide(doing(request), asked=request.POST["decide"]))
        except DomainError as error:
            messages.error(request, str(error))
            status = 422
    else:
        messages.error(request, _("A lead decides about held readings. Nothing was changed."))
        status = 422
    again = round_now(now=timezone.now())
    form = RoundForm(rows=again.counted, initial=typed_in(request.POST, rows=found.counted))
    return _shown(request, again, form=form, status=status)


def _shown(
    request: HttpRequest,
    found: Round,
    *,
    form: RoundForm,
    outcome: Outcome | None = None,
    status: int = 200,
) -> HttpResponse:
    person = person_of(request)
    context: dict[str, Any] = {
        "page_title": _("Readings"),
        "nav_here": "readings",
        "now": timezone.now(),
        "at": form["at"],
        "wrong": wrong_beside(outcome, names=("__all__", "at")),
        "running": lines_of(found.running, form=form, outcome=outcome),
        "others": lines_of(found.others, form=form, outcome=outcome),
        "held_total": held_readings().count(),
        "may_enter": may(person, Right.ENTER_READINGS),
        # a copy that a tablet keeps is for whoever stands there without a net
        "may_decide": may(person, Right.DECIDE_READINGS) and not is_pack(request),
        "may_import": may(person, Right.IMPORT) and not is_pack(request),
        "refused_said": [] if outcome is None else refusals_of(outcome, rows=found.counted),
    }
    if not is_pack(request):
        # what was sent is written: the next form is another one
        context["hand_in"] = new_hand_in()
    return answer(request, "readings/round.html", context, status=status)


@page()
def held_list(request: HttpRequest) -> HttpResponse:
    """List the readings that wait for somebody, oldest arrival first."""
    now = timezone.now()
    shown = Paginator(held_readings(), HELD_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "page_title": _("Held readings"),
        "nav_here": "readings",
        "now": now,
        "page": shown,
        "entries": held_entries(list(shown.object_list), now=now),
        "ambiguous": ambiguous_entries(now=now),
    }
    return answer(request, "readings/held_list.html", context)


@page(writes=Right.DECIDE_READINGS)
def held_reading(request: HttpRequest, pk: int) -> HttpResponse:
    """Show why a reading is doubtful, and settle it."""
    verdict = verdict_on(pk)
    if verdict is None:
        raise Http404(_("There is no reading %(number)s.") % {"number": pk})
    form = ReasonForm(request.POST if request.method == "POST" else None)
    if request.method == "POST":
        said = _decided(request, form)
        if said is not None:
            messages.success(request, said)
            return redirect("held-readings")
    now = timezone.now()
    context = {
        "page_title": _("Held reading"),
        "nav_here": "readings",
        "now": now,
        "shown": reading_page(verdict, now=now),
        "form": form,
        "may_decide": may(person_of(request), Right.DECIDE_READINGS),
    }
    return answer(request, "readings/held.html", context, status=422 if form.errors else 200)


def _decided(request: HttpRequest, form: ReasonForm) -> str | None:
    """Do what the button says; put what is refused on the form and return None."""
    asked = request.POST.get("decide", "")
    given = NOTHING_GIVEN
    if asked.endswith(BY_HAND):
        if not form.is_valid():
            return None
        given = Given(**form.cleaned_data)
    try:
        return decide(doing(request), asked=asked, given=given)
    except DomainError as error:
        form.is_valid()
        form.errors.clear()
        form.add_error(None, str(error))
        return None
