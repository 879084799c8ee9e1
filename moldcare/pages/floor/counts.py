"""What a mold's count rests on: its cycle time, and which of two counters counts."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _

from moldcare.acts.counters import prefer_count
from moldcare.acts.molds import change_cycle_time
from moldcare.acts.rights import Right
from moldcare.pages.access import page
from moldcare.pages.acting import at_or_now, attempt, doing_again, filled, mold_or_404, sent
from moldcare.pages.floor.forms import CycleForm, PreferForm
from moldcare.pages.floor.heads import head_of


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def mold_cycle(request: HttpRequest, number: str) -> HttpResponse:
    """Write down another cycle time."""
    mold, form, done = mold_or_404(number), CycleForm(sent(request)), doing_again(request)

    def act() -> str:
        data = form.cleaned_data
        change_cycle_time(
            done,
            mold=mold,
            standard_s=data["standard_s"],
            shortest_s=data["shortest_s"],
            valid_from=at_or_now(data, now=done.now, name="valid_from"),
            reason=data["reason"],
        )
        return _("The cycle time of %(mold)s is written down.") % {"mold": mold.number}

    said = attempt(form, act)
    if said is not None:
        messages.success(request, said)
        return redirect("mold", number=mold.number)
    title = _("Cycle time of %(mold)s") % {"mold": mold.number}
    context = {**head_of(mold, title=title, now=timezone.now()), "submit": _("Write it down")}
    return filled(request, "floor/act.html", context, form=form)


@page(looks=Right.DECIDE_READINGS, writes=Right.DECIDE_READINGS)
def mold_count(request: HttpRequest, number: str) -> HttpResponse:
    """Decide which of two counters counts."""
    mold, form, done = mold_or_404(number), PreferForm(sent(request)), doing_again(request)

    def act() -> str:
        prefer_count(done, mold=mold, **form.cleaned_data)
        return _("What counts for %(mold)s is decided.") % {"mold": mold.number}

    said = attempt(form, act)
    if said is not None:
        messages.success(request, said)
        return redirect("mold", number=mold.number)
    title = _("Which counter counts for %(mold)s") % {"mold": mold.number}
    context = {**head_of(mold, title=title, now=timezone.now()), "submit": _("Decide")}
    return filled(request, "floor/act.html", context, form=form)
