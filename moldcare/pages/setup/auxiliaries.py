"""Auxiliaries: what molds depend on, and the rules that look after it."""

from typing import Any

from django import forms
from django.contrib import messages
from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from moldcare.acts.molds import add_auxiliary, edit_auxiliary, withdraw_auxiliary
from moldcare.acts.rights import Right, may
from moldcare.acts.rules import write_rule
from moldcare.care.models import Standing
from moldcare.molds.models import Auxiliary
from moldcare.pages.access import answer, calendar_of, page, person_of
from moldcare.pages.acting import attempt, doing_again, filled, row_or_404, sent
from moldcare.pages.fields import TextField
from moldcare.pages.listed import NameWithList
from moldcare.pages.rule_lines import rule_line
from moldcare.pages.rules.reckoning import only_reckons
from moldcare.pages.rules.rule_form import RuleForm
from moldcare.pages.setup.acting import WhyForm, act_page, form_page, values_of

FIELDS = ("number", "name", "kind")


class AuxiliaryForm(forms.Form):
    """What an auxiliary is."""

    def __init__(self, *args: Any, auxiliary: Auxiliary | None = None, **kwargs: Any) -> None:
        if auxiliary is not None:
            kwargs["initial"] = {name: getattr(auxiliary, name) for name in FIELDS}
        super().__init__(*args, **kwargs)
        kinds = {
            _("temperature controller"),
            _("water manifold"),
            _("ultrasonic bath"),
            _("lifting gear"),
            _("rack"),
            *Auxiliary.objects.values_list("kind", flat=True),
        }
        self.fields["number"] = TextField(
            most=40,
            label=_("Number"),
            help_text=_("As it is written on it."),
            error_messages={"required": _("Give its number.")},
        )
        self.fields["name"] = TextField(
            most=120, label=_("Name"), error_messages={"required": _("Say what it is called.")}
        )
        self.fields["kind"] = TextField(
            most=60,
            label=_("What it is"),
            widget=NameWithList(sorted(kinds)),
            error_messages={"required": _("Say what it is.")},
        )


@page()
def setup_auxiliaries(request: HttpRequest) -> HttpResponse:
    """List auxiliaries, with how many rules look after each."""
    in_force = Count("care_rules", filter=Q(care_rules__withdrawn_at__isnull=True))
    rows = Auxiliary.objects.annotate(rule_count=in_force).order_by("kind", "number")
    context = {
        "page_title": _("Auxiliaries"),
        "nav_here": "setup",
        "auxiliaries": rows.filter(withdrawn_at__isnull=True),
        "out": rows.filter(withdrawn_at__isnull=False),
        "may_edit": may(person_of(request), Right.EDIT_MOLDS),
    }
    return answer(request, "setup/auxiliaries.html", context)


@page()
def auxiliary(request: HttpRequest, pk: int) -> HttpResponse:
    """Show an auxiliary with where its rules stand."""
    row: Auxiliary = row_or_404(Auxiliary.objects.all(), pk)
    now, calendar = timezone.now(), calendar_of(request)
    standings = Standing.objects.filter(rule__auxiliary=row).select_related("rule__family")
    person = person_of(request)
    context = {
        "page_title": row.number,
        "nav_here": "setup",
        "row": row,
        "lines": [rule_line(each, at=now, calendar=calendar) for each in standings],
        "may": {right.value: may(person, right) for right in Right},
    }
    return answer(request, "setup/auxiliary.html", context)


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def auxiliary_add(request: HttpRequest) -> HttpResponse:
    """Add an auxiliary."""
    form, done = AuxiliaryForm(sent(request)), doing_again(request)
    written = attempt(form, lambda: add_auxiliary(done, **form.cleaned_data))
    if written is not None:
        messages.success(
            request, _("%(number)s is added.") % {"number": form.cleaned_data["number"]}
        )
        return redirect("setup-auxiliary", pk=written.row_id)
    return form_page(
        request,
        form,
        title=_("Add an auxiliary"),
        lead=_("What molds depend on and what needs care of its own."),
        submit=_("Add it"),
        back=reverse("setup-auxiliaries"),
    )


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def auxiliary_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change an auxiliary."""
    row: Auxiliary = row_or_404(Auxiliary.objects.all(), pk)
    form, done = AuxiliaryForm(sent(request), auxiliary=row), doing_again(request)
    return act_page(
        request,
        form,
        act=lambda: edit_auxiliary(done, auxiliary=row, changes=values_of(form, names=FIELDS)),
        said=lambda: _("%(number)s is changed.") % {"number": form.cleaned_data["number"]},
        title=_("Change %(number)s") % {"number": row.number},
        submit=_("Change it"),
        back=reverse("setup-auxiliary", kwargs={"pk": row.pk}),
        changes_what_is=True,
    )


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def auxiliary_withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Take an auxiliary out of our care."""
    row: Auxiliary = row_or_404(Auxiliary.objects.all(), pk)
    form, done = WhyForm(sent(request)), doing_again(request)
    return act_page(
        request,
        form,
        act=lambda: withdraw_auxiliary(done, auxiliary=row, reason=form.cleaned_data["reason"]),
        said=lambda: _("%(number)s is withdrawn.") % {"number": row.number},
        title=_("Withdraw %(number)s") % {"number": row.number},
        lead=_("It leaves all lists; its logbook stays."),
        submit=_("Withdraw it"),
        back=reverse("setup-auxiliary", kwargs={"pk": row.pk}),
        then=reverse("setup-auxiliaries"),
    )


@page(looks=Right.EDIT_RULES, writes=Right.EDIT_RULES)
def auxiliary_rule_add(request: HttpRequest, pk: int) -> HttpResponse:
    """Write a rule of an auxiliary."""
    row: Auxiliary = row_or_404(Auxiliary.objects.filter(withdrawn_at__isnull=True), pk)
    form, done = RuleForm(sent(request), mold=None), doing_again(request)
    if not only_reckons(request):
        written = attempt(form, lambda: write_rule(done, of=row, terms=form.terms, **form.told))
        if written is not None:
            messages.success(request, _("The rule is written."))
            return redirect("rule", pk=written.row_id)
    title = _("Write a rule for %(number)s") % {"number": row.number}
    context = {
        "page_title": title,
        "nav_here": "setup",
        "title": title,
        "href": reverse("setup-auxiliary", kwargs={"pk": row.pk}),
        "submit": _("Write the rule"),
    }
    return filled(request, "rules/form.html", context, form=form)
