"""The page of one rule, and the forms around it."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing
from moldcare.acts.rights import Right, may
from moldcare.acts.rules import (
    change_rule,
    declare_last_done,
    defer_rule,
    withdraw_rule,
    write_rule,
)
from moldcare.care.models import CareRule
from moldcare.core.errors import DomainError
from moldcare.molds.models import Mold
from moldcare.pages.access import answer, calendar_of, page, person_of
from moldcare.pages.acting import (
    attempt,
    doing_again,
    filled,
    is_second_tap,
    mold_or_404,
    row_or_404,
    sent,
)
from moldcare.pages.floor.heads import head_of
from moldcare.pages.orders.choosing import make_chosen
from moldcare.pages.rules.forms import DeferForm, LastDoneForm, ReasonForm
from moldcare.pages.rules.reckoning import only_reckons, seen_or_kept
from moldcare.pages.rules.rule import RulePage, rule_page
from moldcare.pages.rules.rule_form import RuleForm, target_of
from moldcare.pages.seen import refuse_if_changed


def _rule_or_404(pk: int, *, in_force: bool = True) -> CareRule:
    rules = CareRule.objects.select_related(
        "mold__owner", "auxiliary", "family", "position", "circuit", "from_set_rule__rule_set"
    )
    rule = row_or_404(rules, pk)
    if in_force and rule.withdrawn_at is not None:
        raise Http404(_("“%(rule)s” is withdrawn.") % {"rule": rule.name})
    return rule


def _head(rule: CareRule, *, title: str) -> dict[str, Any]:
    """Return what stands above a form about a rule."""
    now = timezone.now()
    if rule.mold is not None:
        return {**head_of(rule.mold, title=title, now=now), "rule": rule}
    return {"page_title": title, "nav_here": "molds", "title": title, "rule": rule, "now": now}


def _shown(request: HttpRequest, rule: CareRule) -> RulePage:
    return rule_page(rule, now=timezone.now(), calendar=calendar_of(request))


@page(writes=Right.HAND_OUT_ORDERS)
def rule(request: HttpRequest, pk: int) -> HttpResponse:
    """Show where a rule stands, what it asks, and what was done under it; make an order of it."""
    row = _rule_or_404(pk, in_force=False)
    if request.method == "POST":
        return _order(request, row)
    person = person_of(request)
    context = {
        **_head(row, title=row.name),
        "shown": _shown(request, row),
        "may": {right.value: may(person, right) for right in Right},
    }
    return answer(request, "rules/rule.html", context)


def _order(request: HttpRequest, row: CareRule) -> HttpResponse:
    try:
        made = make_chosen(request, rules=[row.pk])
    except DomainError as error:
        messages.error(request, str(error))
        return redirect("rule", pk=row.pk)
    return redirect("order", number=made.numbers[0])


@page(looks=Right.EDIT_RULES, writes=Right.EDIT_RULES)
def rule_add(request: HttpRequest, number: str) -> HttpResponse:
    """Write a rule of a mold."""
    mold, done = mold_or_404(number), doing_again(request)
    form = RuleForm(sent(request), mold=mold)
    if not only_reckons(request):
        written = attempt(form, lambda: _write(done, mold=mold, form=form))
        if written is not None:
            messages.success(request, _("The rule is written."))
            return redirect("rule", pk=written)
    title = _("Write a rule for %(mold)s") % {"mold": mold.number}
    context = {**head_of(mold, title=title, now=timezone.now()), "submit": _("Write the rule")}
    return filled(request, "rules/form.html", context, form=form)


def _write(done: Doing, *, mold: Mold, form: RuleForm) -> int:
    target = target_of(form.cleaned_data["target"])
    return write_rule(done, of=mold, terms=form.terms, **form.told, **target).row_id


@page(looks=Right.EDIT_RULES, writes=Right.EDIT_RULES)
def rule_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a rule; the reason makes a new version of it."""
    row, done = _rule_or_404(pk), doing_again(request)
    form = RuleForm(sent(request), mold=row.mold, rule=row)
    if not only_reckons(request):
        refuse_if_changed(request, form, done=done)
        changed = attempt(
            form, lambda: change_rule(done, rule=row, changes=form.terms, **form.told)
        )
        if changed is not None:
            messages.success(request, _("The rule is changed."))
            return redirect("rule", pk=row.pk)
        row = _rule_or_404(pk)
    title = _("Change “%(rule)s”") % {"rule": row.name}
    context = {
        **_head(row, title=title),
        "submit": _("Change the rule"),
        "seen": seen_or_kept(request, form),
    }
    return filled(request, "rules/form.html", context, form=form)


@page(looks=Right.DEFER, writes=Right.DEFER)
def rule_defer(request: HttpRequest, pk: int) -> HttpResponse:
    """Let a rule run past due: shows where it stands, asks for the new limit and why."""
    row, done = _rule_or_404(pk), doing_again(request)
    shown = _shown(request, row)
    form = DeferForm(sent(request), rule=row, count=shown.count)

    def act() -> int:
        data = form.cleaned_data
        return defer_rule(
            done,
            rule=row,
            reason=data["reason"],
            until_count=form.until_count,
            until_on=data["until_on"],
        ).row_id

    if attempt(form, act) is not None:
        messages.success(request, _("The rule is deferred; your name stands beside it."))
        return redirect("rule", pk=row.pk)
    title = _("Defer “%(rule)s”") % {"rule": row.name}
    context = {**_head(row, title=title), "shown": shown, "submit": _("Defer it")}
    return filled(request, "rules/act.html", context, form=form)


@page(looks=Right.EDIT_RULES, writes=Right.EDIT_RULES)
def rule_last_done(request: HttpRequest, pk: int) -> HttpResponse:
    """Say when a rule was last done by older records."""
    row, done = _rule_or_404(pk), doing_again(request)
    form = LastDoneForm(sent(request), rule=row)

    def act() -> int:
        data = form.cleaned_data
        return declare_last_done(
            done,
            rule=row,
            done_on=data["done_on"],
            done_count=data.get("done_count"),
            source=data["source"],
        ).row_id

    if attempt(form, act) is not None:
        messages.success(request, _("It counts on from there."))
        return redirect("rule", pk=row.pk)
    title = _("When was “%(rule)s” last done?") % {"rule": row.name}
    context = {
        **_head(row, title=title),
        "shown": _shown(request, row),
        "submit": _("Write it down"),
    }
    return filled(request, "rules/act.html", context, form=form)


@page(looks=Right.EDIT_RULES, writes=Right.EDIT_RULES)
def rule_withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Withdraw a rule, with the reason."""
    if is_second_tap(request):
        return _back(_rule_or_404(pk, in_force=False))
    row, done = _rule_or_404(pk), doing_again(request)
    form = ReasonForm(sent(request))
    written = attempt(
        form, lambda: withdraw_rule(done, rule=row, reason=form.cleaned_data["reason"])
    )
    if written is not None:
        messages.success(request, _("“%(rule)s” is withdrawn.") % {"rule": row.name})
        return _back(row)
    title = _("Withdraw “%(rule)s”") % {"rule": row.name}
    context = {**_head(row, title=title), "shown": _shown(request, row), "submit": _("Withdraw it")}
    return filled(request, "rules/act.html", context, form=form)


def _back(row: CareRule) -> HttpResponse:
    return redirect("mold", number=row.mold.number) if row.mold else redirect("molds")
