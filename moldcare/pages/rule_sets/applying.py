"""Taking a set for molds: which ones, what would change on each, and only then writing it."""

from collections.abc import Iterable
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from moldcare.acts.doing import Doing
from moldcare.acts.rights import Right
from moldcare.acts.rules import (
    MOST_MOLDS,
    Becomes,
    SetApplied,
    SetOnMold,
    apply_rule_set,
    leave_set_change,
    plan_set,
)
from moldcare.care.models import RuleSet
from moldcare.care.set_queries import rules_of
from moldcare.handin.models import HandIn
from moldcare.molds.queries import molds_in_use
from moldcare.pages.access import answer, page
from moldcare.pages.acting import attempt, doing_again, filled, ticked
from moldcare.pages.rule_sets.choosing import choices_of
from moldcare.pages.rule_sets.forms import WhichMolds, reason_field
from moldcare.pages.rule_sets.views import set_or_404
from moldcare.pages.rule_sets.words import mark_of, previews_of


class WhyForm(forms.Form):
    """Ask why, where intervals change; the molds and what is not wanted stand beside it."""

    def __init__(self, *args: Any, is_asked: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"] = reason_field(
            _("Why the molds take this over") if is_asked else _("Why")
        )
        self.fields["reason"].required = is_asked


@page(looks=Right.EDIT_RULES, writes=Right.EDIT_RULES)
def rule_set_apply(request: HttpRequest, pk: int) -> HttpResponse:
    """Choose molds, see what the set would change on each, then take it; a look writes nothing."""
    row = set_or_404(pk)
    if request.method != "POST" or "choose" in request.POST:
        return _choose(request, row)
    molds = ticked(request, "mold")
    if request.POST.get("look") == "all":
        found = choices_of(row, ask=WhichMolds(request.POST))
        molds = {choice.mold.pk for choice in found.rows}
    if not molds or len(molds) > MOST_MOLDS:
        return _choose(request, row, wrong=_wrong(len(molds)))
    if "leave" in request.POST:
        return _leave(request, row, molds=molds)
    return _preview(request, row, molds=molds)


def _wrong(number: int) -> str:
    if not number:
        return _("Tick the molds that it is for.")
    return _("At most %(most)s molds take a set at once. Narrow the list.") % {"most": MOST_MOLDS}


def _choose(request: HttpRequest, row: RuleSet, *, wrong: str = "") -> HttpResponse:
    ask = WhichMolds(request.POST if request.method == "POST" else request.GET)
    title = _("Take “%(name)s” for molds") % {"name": row.name}
    context = {
        "page_title": title,
        "nav_here": "setup",
        "title": title,
        "rule_set": row,
        "ask": ask,
        "choices": choices_of(row, ask=ask, ticked=ticked(request, "mold")),
        "wrong": wrong,
    }
    return answer(request, "rule_sets/choose.html", context, status=422 if wrong else 200)


def plans_now(row: RuleSet, *, molds: Iterable[int], unwanted: set[int]) -> list[SetOnMold]:
    """Return what the set would change on molds as things stand."""
    found = list(molds_in_use().filter(pk__in=list(molds)).order_by("sort_key", "number"))
    return plan_set(row, molds=found, at=timezone.now(), unwanted=unwanted)


def _preview(request: HttpRequest, row: RuleSet, *, molds: set[int]) -> HttpResponse:
    done, unwanted = doing_again(request), ticked(request, "without")
    plans = plans_now(row, molds=molds, unwanted=unwanted)
    is_asked = any(plan.of(Becomes.CHANGED) for plan in plans)
    is_sent = "apply" in request.POST
    form = WhyForm(request.POST if is_sent else None, is_asked=is_asked, initial=typed(request))
    if is_sent:
        refuse_if_other(request, form, done=done, mark=mark_of(plans))
        applied = attempt(form, lambda: _apply(done, row, molds, unwanted, form))
        if applied is not None:
            _say(request, applied)
            return redirect("rule-set", pk=row.pk)
    return filled(request, "rule_sets/preview.html", _shown(row, plans, unwanted), form=form)


def typed(request: HttpRequest) -> dict[str, str]:
    """Return what was typed so far, kept while somebody looks again."""
    return {"reason": request.POST.get("reason", "")}


def _shown(row: RuleSet, plans: list[SetOnMold], unwanted: set[int]) -> dict[str, Any]:
    previews = previews_of(plans, rule_set=row)
    title = _("What “%(name)s” would change") % {"name": row.name}
    return {
        "page_title": title,
        "nav_here": "setup",
        "title": title,
        "rule_set": row,
        "previews": previews,
        "writing": sum(preview.writes for preview in previews),
        "is_behind": any(preview.is_behind for preview in previews),
        "set_rules": rules_of(row),
        "unwanted": unwanted,
        "seen": mark_of(plans),
    }


def _apply(
    done: Doing, row: RuleSet, molds: set[int], unwanted: set[int], form: forms.Form
) -> SetApplied:
    return apply_rule_set(
        done,
        rule_set=row,
        molds=molds,
        unwanted=unwanted,
        reason=form.cleaned_data["reason"],
    )


def refuse_if_other(request: HttpRequest, form: forms.Form, *, done: Doing, mark: str) -> None:
    """Put on a sent form that something else would be written than what was shown.

    The second of two taps is no change by others.
    """
    seen = request.POST.get("seen", "")
    if not seen or set(mark.split()) <= set(seen.split()) or not form.is_valid():
        return
    if done.hand_in is not None and HandIn.objects.filter(pk=done.hand_in).exists():
        return
    form.add_error(
        None,
        _(
            "This is not what you looked at. Nothing was written: below is what would be written "
            "now."
        ),
    )


def _leave(request: HttpRequest, row: RuleSet, *, molds: set[int]) -> HttpResponse:
    done, unwanted = doing_again(request), ticked(request, "without")
    form, plans = (
        WhyForm(request.POST, is_asked=True),
        plans_now(row, molds=molds, unwanted=unwanted),
    )
    refuse_if_other(request, form, done=done, mark=mark_of(plans))
    left = attempt(
        form,
        lambda: leave_set_change(
            done, rule_set=row, molds=molds, reason=form.cleaned_data["reason"]
        ),
    )
    if left is not None:
        said = ngettext(
            "Left aside on %(n)d mold; it is not offered there again.",
            "Left aside on %(n)d molds; it is not offered there again.",
            left.molds,
        )
        messages.success(request, said % {"n": left.molds})
        return redirect("rule-set", pk=row.pk)
    return filled(request, "rule_sets/preview.html", _shown(row, plans, unwanted), form=form)


def _say(request: HttpRequest, applied: SetApplied) -> None:
    said = ngettext(
        "Taken for %(n)d mold: %(written)d rules written, %(updated)d brought up to date, "
        "%(left)d left as they are.",
        "Taken for %(n)d molds: %(written)d rules written, %(updated)d brought up to date, "
        "%(left)d left as they are.",
        applied.molds,
    )
    messages.success(
        request,
        said
        % {
            "n": applied.molds,
            "written": applied.written,
            "updated": applied.updated,
            "left": applied.left_alone,
        },
    )
    for line in applied.refused:
        messages.error(request, line)
