"""Planning when a mold is to run."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _

from moldcare.acts.floor import RunPlanned, call_off_run, change_run, plan_run
from moldcare.acts.rights import Right
from moldcare.molds.models import Run
from moldcare.pages.access import page
from moldcare.pages.acting import attempt, doing_again, filled, mold_or_404, sent
from moldcare.pages.floor.forms import RunForm
from moldcare.pages.floor.heads import head_of


@page(looks=Right.HAND_OUT_ORDERS, writes=Right.HAND_OUT_ORDERS)
def mold_run(request: HttpRequest, number: str) -> HttpResponse:
    """Plan a mold's time in a press."""
    mold, form, done = mold_or_404(number), RunForm(sent(request)), doing_again(request)
    planned = attempt(form, lambda: plan_run(done, mold=mold, **form.cleaned_data))
    if planned is not None:
        _said(request, planned)
        return redirect("mold", number=mold.number)
    title = _("Plan a run of %(mold)s") % {"mold": mold.number}
    context = {**head_of(mold, title=title, now=timezone.now()), "submit": _("Plan it")}
    return filled(request, "floor/act.html", context, form=form)


@page(looks=Right.HAND_OUT_ORDERS, writes=Right.HAND_OUT_ORDERS)
def run_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a planned run, or call it off."""
    run = Run.objects.select_related("mold", "press").filter(pk=pk).first()
    if run is None:
        raise Http404
    if run.is_called_off:
        raise Http404(_("This run was called off."))
    form, done = RunForm(sent(request), run=run), doing_again(request)
    if "call_off" in request.POST:
        form = RunForm(_as_it_is(run))
        planned = attempt(form, lambda: call_off_run(done, run=run))
    else:
        planned = attempt(form, lambda: change_run(done, run=run, **form.cleaned_data))
    if planned is not None:
        _said(request, planned, is_off="call_off" in request.POST)
        return redirect("mold", number=run.mold.number)
    title = _("Planned run of %(mold)s") % {"mold": run.mold.number}
    context = {
        **head_of(run.mold, title=title, now=timezone.now()),
        "submit": _("Change the plan"),
        "may_call_off": not run.events.exists(),
    }
    return filled(request, "floor/run.html", context, form=form)


def _as_it_is(run: Run) -> dict[str, object]:
    """Return the plan as the form would send it unchanged: to call off asks for nothing else."""
    form = RunForm(run=run)
    return {name: form[name].value() for name in form.fields if form[name].value() is not None}


def _said(request: HttpRequest, planned: RunPlanned, *, is_off: bool = False) -> None:
    said = _("The run is called off.") if is_off else _("The plan is written down.")
    messages.success(request, said)
    if planned.press_overlaps:
        others = Run.objects.filter(pk__in=planned.press_overlaps).select_related("mold")
        messages.warning(
            request,
            _("In that time the press is planned for %(molds)s too.")
            % {"molds": ", ".join(run.mold.number for run in others)},
        )
