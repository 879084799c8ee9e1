"""The cautions that sheets and orders print, the plant's own beside the usual ones."""

from collections import defaultdict
from dataclasses import dataclass
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _

from moldcare.acts.plant import add_caution, set_plant, withdraw_caution
from moldcare.acts.rights import Right, may
from moldcare.care.models import Family
from moldcare.pages.access import answer, page, person_of
from moldcare.pages.acting import doing_again, row_or_404, sent
from moldcare.pages.fields import LinesField, TextField
from moldcare.pages.setup.acting import WhyForm, act_page
from moldcare.paper.cautions import ALWAYS, DEFERENCE, Caution, cautions_for
from moldcare.plant.models import CautionLine
from moldcare.plant.queries import cautions_in_force, the_plant


@dataclass(frozen=True, kw_only=True, slots=True)
class FamilyCautions:
    """What is printed for work of one family beside what is printed always."""

    key: str
    name: str
    usual: list[Caution]
    own: list[CautionLine]


class CautionForm(forms.Form):
    """A caution of the plant's own."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        families = Family.objects.order_by("place", "name").values_list("key", "name")
        self.fields["family_key"] = forms.ChoiceField(
            choices=[("", _("all work")), *families], required=False, label=_("Printed for")
        )
        self.fields["text"] = LinesField(
            most=300,
            rows=3,
            label=_("The caution"),
            help_text=_("One or two sentences: what can hurt somebody here, and what is done."),
            error_messages={"required": _("Say what can hurt somebody, and what is done.")},
        )


class LockoutForm(forms.Form):
    """The site's own lock-out procedure."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["lockout_procedure"] = TextField(
            most=120,
            required=False,
            label=_("Number and name of the procedure"),
            help_text=_("As people find it on the site, such as SP-12 Lock-out of presses."),
        )


@page()
def setup_cautions(request: HttpRequest) -> HttpResponse:
    """Show what is printed for each family."""
    own: dict[str, list[CautionLine]] = defaultdict(list)
    for row in cautions_in_force():
        own[row.family_key].append(row)
    families = list(Family.objects.order_by("place", "name"))
    known = {family.key for family in families}
    context = {
        "page_title": _("Cautions"),
        "nav_here": "setup",
        "always": cautions_for([]),
        "always_own": own[""],
        "families": [
            FamilyCautions(
                key=family.key,
                name=family.name,
                usual=[each for each in cautions_for([family.key]) if each.key not in ALWAYS],
                own=own[family.key],
            )
            for family in families
        ],
        "lost": [row for key, rows in own.items() if key and key not in known for row in rows],
        "procedure": the_plant().lockout_procedure,
        "deference": DEFERENCE,
        "may_edit": may(person_of(request), Right.EDIT_SHIFTS),
    }
    return answer(request, "setup/cautions.html", context)


@page(looks=Right.EDIT_SHIFTS, writes=Right.EDIT_SHIFTS)
def caution_add(request: HttpRequest) -> HttpResponse:
    """Add a caution of the plant's own."""
    form = CautionForm(sent(request), initial={"family_key": request.GET.get("family", "")})
    done = doing_again(request)
    return act_page(
        request,
        form,
        act=lambda: add_caution(done, **form.cleaned_data),
        said=lambda: _("The caution is printed from now on."),
        title=_("Add a caution"),
        lead=_("It is printed after the usual ones, on sheets and orders from now on."),
        submit=_("Add the caution"),
        back=reverse("setup-cautions"),
    )


@page(looks=Right.EDIT_SHIFTS, writes=Right.EDIT_SHIFTS)
def caution_withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Print a caution of the plant's own no longer."""
    row: CautionLine = row_or_404(CautionLine.objects.all(), pk)
    form, done = WhyForm(sent(request)), doing_again(request)
    return act_page(
        request,
        form,
        act=lambda: withdraw_caution(done, caution=row, reason=form.cleaned_data["reason"]),
        said=lambda: _("The caution is no longer printed."),
        title=_("Withdraw a caution"),
        lead=f"“{row.text}”",
        submit=_("Withdraw it"),
        back=reverse("setup-cautions"),
    )


@page(looks=Right.EDIT_SHIFTS, writes=Right.EDIT_SHIFTS)
def lockout(request: HttpRequest) -> HttpResponse:
    """Say which procedure of the site is followed before hands go in."""
    plant, done = the_plant(), doing_again(request)
    form = LockoutForm(sent(request), initial={"lockout_procedure": plant.lockout_procedure})
    return act_page(
        request,
        form,
        act=lambda: set_plant(done, changes=form.cleaned_data),
        said=lambda: _("The lock-out box of work orders names it from now on."),
        title=_("Lock-out procedure"),
        lead=_("Work orders name it in their lock-out box. The procedure itself is the site's."),
        submit=_("Write it down"),
        back=reverse("setup-cautions"),
    )
