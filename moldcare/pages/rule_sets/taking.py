"""Taking a set for one mold: the sets that fit it first, then what one would change."""

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing
from moldcare.acts.rights import Right
from moldcare.acts.rules import Becomes, RulesCopied, copy_rule_set, plan_set
from moldcare.care.models import RuleSet
from moldcare.care.set_queries import rules_of, traits_of
from moldcare.molds.models import Mold
from moldcare.pages.access import answer, page
from moldcare.pages.acting import attempt, doing_again, filled, mold_or_404, ticked
from moldcare.pages.floor.heads import head_of
from moldcare.pages.rule_sets.applying import WhyForm, refuse_if_other, typed
from moldcare.pages.rule_sets.proposing import set_choices
from moldcare.pages.rule_sets.words import mark_of, previews_of


@page(looks=Right.EDIT_RULES, writes=Right.EDIT_RULES)
def mold_rules(request: HttpRequest, number: str) -> HttpResponse:
    """Give a mold the rules of a set, after a look at what that changes."""
    mold = mold_or_404(number)
    rule_set = _chosen(request)
    if rule_set is not None:
        return _preview(request, mold, rule_set=rule_set)
    wrong = _("Choose the rule set.") if request.method == "POST" else ""
    title = _("Take a rule set for %(mold)s") % {"mold": mold.number}
    context = {
        **head_of(mold, title=title, now=timezone.now()),
        "choices": set_choices(traits_of([mold])[mold.pk], mold=mold),
        "wrong": wrong,
    }
    return answer(request, "rule_sets/take.html", context, status=422 if wrong else 200)


def _chosen(request: HttpRequest) -> RuleSet | None:
    text = request.POST.get("rule_set") or request.GET.get("set") or ""
    is_key = text.isascii() and text.isdigit() and len(text) < 16
    sets = RuleSet.objects.filter(withdrawn_at__isnull=True)
    return sets.filter(pk=int(text)).first() if is_key else None


def _preview(request: HttpRequest, mold: Mold, *, rule_set: RuleSet) -> HttpResponse:
    is_sent = request.method == "POST" and "look" not in request.POST
    unwanted = ticked(request, "without") if request.method == "POST" else None
    (plan,) = plan_set(rule_set, molds=[mold], at=timezone.now(), without=unwanted)
    form = WhyForm(
        request.POST if is_sent else None,
        is_asked=bool(plan.of(Becomes.CHANGED)),
        initial=typed(request),
    )
    if is_sent:
        done = doing_again(request)
        refuse_if_other(request, form, done=done, mark=mark_of([plan]))
        copied = attempt(form, lambda: _copy(done, mold, rule_set, unwanted, form))
        if copied is not None:
            _say_copied(request, copied)
            return redirect("mold", number=mold.number)
    (preview,) = previews_of([plan], rule_set=rule_set)
    title = _("Take “%(name)s” for %(mold)s") % {"name": rule_set.name, "mold": mold.number}
    context = {
        **head_of(mold, title=title, now=timezone.now()),
        "rule_set": rule_set,
        "preview": preview,
        "unwanted": preview.unwanted,
        "set_rules": rules_of(rule_set),
        "seen": mark_of([plan]),
    }
    return filled(request, "rule_sets/take_one.html", context, form=form)


def _copy(
    done: Doing, mold: Mold, rule_set: RuleSet, without: set[int] | None, form: forms.Form
) -> RulesCopied:
    reason = form.cleaned_data["reason"]
    return copy_rule_set(done, mold=mold, rule_set=rule_set, without=without, reason=reason)


def _say_copied(request: HttpRequest, copied: RulesCopied) -> None:
    for said, names in (
        (_("Written: %(names)s."), copied.written),
        (_("Brought up to date: %(names)s."), copied.updated),
        (_("Left as this mold has them: %(names)s."), copied.left_alone),
        (_("Left out: %(names)s."), copied.left_out),
        (_("Could not be taken: %(names)s."), copied.refused),
    ):
        if names:
            messages.success(request, said % {"names": "; ".join(names)})
    if not any((copied.written, copied.updated, copied.left_alone, copied.left_out)):
        messages.success(request, _("This mold has the whole set as it is now. Nothing changed."))
