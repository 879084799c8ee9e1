"""Rule sets: the list, one set with its rules, adding, copying and changing one."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _

from moldcare.acts.rights import Right, may
from moldcare.acts.rules import add_rule_set, change_rule_set, withdraw_rule_set
from moldcare.care.models import RuleSet
from moldcare.care.set_queries import sets_with_use
from moldcare.pages.access import answer, page, person_of
from moldcare.pages.acting import attempt, doing_again, filled, is_second_tap, row_or_404, sent
from moldcare.pages.rule_sets.forms import SetForm
from moldcare.pages.rule_sets.shown import set_page
from moldcare.pages.rule_sets.words import meant_words
from moldcare.pages.rules.forms import ReasonForm
from moldcare.pages.seen import refuse_if_changed, seen_of


def set_or_404(pk: int, *, in_use: bool = True) -> RuleSet:
    """Return a rule set, or the page that says there is none."""
    row = row_or_404(RuleSet.objects.all(), pk, missing=_("There is no such rule set."))
    if in_use and row.withdrawn_at is not None:
        raise Http404(_("Rule set “%(name)s” is withdrawn.") % {"name": row.name})
    return row


@page()
def rule_sets(request: HttpRequest) -> HttpResponse:
    """List the rule sets: for which molds they are, and where one changed since it was taken."""
    rows = list(sets_with_use())
    context = {
        "page_title": _("Rule sets"),
        "nav_here": "setup",
        "sets": [(row, meant_words(row)) for row in rows if row.withdrawn_at is None],
        "withdrawn": [row for row in rows if row.withdrawn_at is not None],
        "may_edit": may(person_of(request), Right.EDIT_RULES),
    }
    return answer(request, "rule_sets/rule_sets.html", context)


@page()
def rule_set(request: HttpRequest, pk: int) -> HttpResponse:
    """Show what a rule set gives a mold, and which molds took it before its last change."""
    row = sets_with_use().filter(pk=pk).first()
    if row is None:
        raise Http404(_("There is no such rule set."))
    may_edit = may(person_of(request), Right.EDIT_RULES)
    context = {
        "page_title": row.name,
        "nav_here": "setup",
        "rule_set": row,
        "shown": set_page(row),
        "now": timezone.now(),
        "may_edit": may_edit,
        "may_edit_rules": may_edit and row.withdrawn_at is None,
    }
    return answer(request, "rule_sets/rule_set.html", context)


@page(looks=Right.EDIT_RULES, writes=Right.EDIT_RULES)
def rule_set_add(request: HttpRequest) -> HttpResponse:
    """Add a set of the plant's own."""
    return _add(request, source=None, title=_("Add a rule set"), submit=_("Add the set"))


@page(looks=Right.EDIT_RULES, writes=Right.EDIT_RULES)
def rule_set_copy(request: HttpRequest, pk: int) -> HttpResponse:
    """Add a set that begins with the rules of another one."""
    row = set_or_404(pk, in_use=False)
    title = _("Copy “%(name)s”") % {"name": row.name}
    return _add(request, source=row, title=title, submit=_("Make the copy"))


def _add(request: HttpRequest, *, source: RuleSet | None, title: str, submit: str) -> HttpResponse:
    done = doing_again(request)
    form = SetForm(sent(request), rule_set=source)
    if source is not None:
        form.initial["name"] = ""

    def act() -> int:
        data = form.cleaned_data
        return add_rule_set(
            done,
            name=data["name"],
            note=data["note"],
            meant_for=form.meant_for,
            copied_from=source,
            reason=data["reason"],
        ).row_id

    written = attempt(form, act)
    if written is not None:
        messages.success(request, _("The set is added. Molds have its rules once they take it."))
        return redirect("rule-set", pk=written)
    return filled(request, "rule_sets/form.html", _context(title, submit, source), form=form)


def _context(title: str, submit: str, row: RuleSet | None) -> dict[str, Any]:
    return {
        "page_title": title,
        "nav_here": "setup",
        "title": title,
        "submit": submit,
        "rule_set": row,
    }


@page(looks=Right.EDIT_RULES, writes=Right.EDIT_RULES)
def rule_set_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a set's name, note, and for which molds it is meant."""
    row, done = set_or_404(pk), doing_again(request)
    form = SetForm(sent(request), rule_set=row)
    refuse_if_changed(request, form, done=done)

    def act() -> int:
        data = form.cleaned_data
        return change_rule_set(
            done,
            rule_set=row,
            name=data["name"],
            note=data["note"],
            meant_for=form.meant_for,
            reason=data["reason"],
        ).row_id

    if attempt(form, act) is not None:
        messages.success(request, _("The set is changed."))
        return redirect("rule-set", pk=row.pk)
    title = _("Change “%(name)s”") % {"name": row.name}
    context = {**_context(title, _("Change the set"), row), "seen": seen_of(form)}
    return filled(request, "rule_sets/form.html", context, form=form)


@page(looks=Right.EDIT_RULES, writes=Right.EDIT_RULES)
def rule_set_withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Withdraw a set, with the reason; molds keep what they took from it."""
    if is_second_tap(request):
        return redirect("rule-sets")
    row, done = set_or_404(pk), doing_again(request)
    form = ReasonForm(sent(request))
    withdrawn = attempt(
        form, lambda: withdraw_rule_set(done, rule_set=row, reason=form.cleaned_data["reason"])
    )
    if withdrawn is not None:
        messages.success(request, _("“%(name)s” is withdrawn.") % {"name": row.name})
        return redirect("rule-sets")
    title = _("Withdraw “%(name)s”") % {"name": row.name}
    context = {
        **_context(title, _("Withdraw the set"), row),
        "lead": _(
            "It is proposed to no mold any more, and its changes to none. Molds that took it keep "
            "their rules, each until it is withdrawn there."
        ),
    }
    return filled(request, "rule_sets/withdraw.html", context, form=form)
