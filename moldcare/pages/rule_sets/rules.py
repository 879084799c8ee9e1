"""Rules of a set: adding one, changing it, taking it out; always with a reason."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from moldcare.acts.rights import Right
from moldcare.acts.rules import add_set_rule, change_set_rule, withdraw_set_rule
from moldcare.care.models import RuleSet, SetRule
from moldcare.care.set_queries import molds_behind
from moldcare.pages.access import page
from moldcare.pages.acting import attempt, doing_again, filled, is_second_tap, row_or_404, sent
from moldcare.pages.rule_sets.forms import SetRuleForm
from moldcare.pages.rule_sets.views import set_or_404
from moldcare.pages.rule_sets.words import limits_said
from moldcare.pages.rules.forms import ReasonForm
from moldcare.pages.rules.reckoning import only_reckons, seen_or_kept
from moldcare.pages.seen import refuse_if_changed


def _rule_or_404(pk: int) -> SetRule:
    rows = SetRule.objects.select_related("rule_set", "family")
    row = row_or_404(rows, pk, missing=_("There is no such rule in a set."))
    if row.withdrawn_at is not None:
        raise Http404(_("“%(rule)s” was taken out of its set.") % {"rule": row.name})
    if row.rule_set.withdrawn_at is not None:
        raise Http404(_("Rule set “%(name)s” is withdrawn.") % {"name": row.rule_set.name})
    return row


def _context(title: str, submit: str, rule_set: RuleSet) -> dict[str, Any]:
    return {
        "page_title": title,
        "nav_here": "setup",
        "title": title,
        "submit": submit,
        "rule_set": rule_set,
    }


def _say(request: HttpRequest, said: str, *, rule_set: RuleSet) -> HttpResponse:
    """Say what was written, and that molds only get it when somebody takes it over."""
    behind = molds_behind(rule_set)
    offered = ngettext(
        "It is offered to %(n)d mold that took the set; nothing changed there yet.",
        "It is offered to %(n)d molds that took the set; nothing changed there yet.",
        behind,
    )
    messages.success(request, f"{said} {offered % {'n': behind}}" if behind else said)
    return redirect("rule-set", pk=rule_set.pk)


@page(looks=Right.EDIT_RULES, writes=Right.EDIT_RULES)
def rule_set_rule_add(request: HttpRequest, pk: int) -> HttpResponse:
    """Add a rule to a set."""
    rule_set, done = set_or_404(pk), doing_again(request)
    form = SetRuleForm(sent(request), rule_set=rule_set)
    if not only_reckons(request):
        written = attempt(
            form, lambda: add_set_rule(done, rule_set=rule_set, terms=form.terms, **form.told)
        )
        if written is not None:
            return _say(request, _("The rule is in the set."), rule_set=rule_set)
    title = _("Add a rule to “%(name)s”") % {"name": rule_set.name}
    context = _context(title, _("Add the rule"), rule_set)
    return filled(request, "rule_sets/rule_form.html", context, form=form)


@page(looks=Right.EDIT_RULES, writes=Right.EDIT_RULES)
def set_rule_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a rule of a set; molds that took the set are only offered it."""
    row, done = _rule_or_404(pk), doing_again(request)
    form = SetRuleForm(sent(request), rule_set=row.rule_set, row=row)
    if not only_reckons(request):
        refuse_if_changed(request, form, done=done)
        changed = attempt(
            form, lambda: change_set_rule(done, row=row, changes=form.terms, **form.told)
        )
        if changed is not None:
            return _say(request, _("The rule of the set is written down."), rule_set=row.rule_set)
    title = _("Change “%(rule)s” in “%(name)s”") % {"rule": row.name, "name": row.rule_set.name}
    context = {
        **_context(title, _("Change the rule of the set"), row.rule_set),
        "row": row,
        "seen": seen_or_kept(request, form),
    }
    return filled(request, "rule_sets/rule_form.html", context, form=form)


@page(looks=Right.EDIT_RULES, writes=Right.EDIT_RULES)
def set_rule_withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a rule out of a set, with the reason."""
    if is_second_tap(request):
        return redirect("rule-sets")
    row, done = _rule_or_404(pk), doing_again(request)
    form = ReasonForm(sent(request))
    written = attempt(
        form, lambda: withdraw_set_rule(done, row=row, reason=form.cleaned_data["reason"])
    )
    if written is not None:
        said = _("“%(rule)s” is taken out of the set.") % {"rule": row.name}
        return _say(request, said, rule_set=row.rule_set)
    title = _("Take “%(rule)s” out of “%(name)s”") % {"rule": row.name, "name": row.rule_set.name}
    context = {
        **_context(title, _("Take it out"), row.rule_set),
        "lead": _("%(limits)s. Molds that have this rule keep it until it is withdrawn there.")
        % {"limits": limits_said(row, mold=None)},
    }
    return filled(request, "rule_sets/withdraw.html", context, form=form)
