"""Owners of molds, and what work uses up."""

from decimal import Decimal
from typing import Any

from django import forms
from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from moldcare.acts.molds import (
    add_owner,
    add_supply,
    edit_owner,
    edit_supply,
    withdraw_owner,
    withdraw_supply,
)
from moldcare.acts.rights import Right, may
from moldcare.molds.models import Mold, Owner, Supply, name_key
from moldcare.molds.queries import owners_in_use
from moldcare.pages.access import answer, page, person_of
from moldcare.pages.acting import doing_again, row_or_404, sent
from moldcare.pages.fields import DecimalField, LinesField, TextField, WholeField
from moldcare.pages.setup.acting import GroupedForm, WhyForm, act_page, values_of

OWNER_FIELDS = ("name", "is_customer", "retention_years", "contact")
SUPPLY_FIELDS = ("number", "name", "unit", "minimum", "place")
MOST_YEARS = 200


class OwnerForm(forms.Form):
    """Whose molds are."""

    def __init__(self, *args: Any, owner: Owner | None = None, **kwargs: Any) -> None:
        kwargs["initial"] = (
            {name: getattr(owner, name) for name in OWNER_FIELDS}
            if owner
            else {"is_customer": True}
        )
        super().__init__(*args, **kwargs)
        self.fields["name"] = TextField(
            most=120, label=_("Name"), error_messages={"required": _("Give the owner's name.")}
        )
        self.fields["is_customer"] = forms.BooleanField(
            required=False,
            label=_("A customer: its molds are customer property"),
            help_text=_("Their pages and orders then carry the mark of customer property."),
        )
        self.fields["retention_years"] = WholeField(
            required=False,
            least=1,
            most=MOST_YEARS,
            label=_("Keep its records for"),
            unit=_("years"),
            help_text=_("As agreed with the owner; empty where nothing is agreed."),
        )
        self.fields["contact"] = TextField(most=200, required=False, label=_("Contact"))


class SupplyForm(GroupedForm):
    """A supply."""

    GROUPS = (
        (gettext_lazy("The supply"), (("number", "name"), ("unit",))),
        (gettext_lazy("On the shelf"), (("minimum", "place"),)),
        (gettext_lazy("For which molds"), (("molds",),)),
    )

    def __init__(self, *args: Any, supply: Supply | None = None, **kwargs: Any) -> None:
        if supply is not None:
            kwargs["initial"] = {name: getattr(supply, name) for name in SUPPLY_FIELDS} | {
                "molds": "\n".join(mold.number for mold in supply.molds.order_by("sort_key"))
            }
        else:
            kwargs["initial"] = {"unit": "pieces", "minimum": Decimal(0)}
        super().__init__(*args, **kwargs)
        self.fields["number"] = TextField(
            most=40, label=_("Number"), error_messages={"required": _("Give its number.")}
        )
        self.fields["name"] = TextField(
            most=120, label=_("Name"), error_messages={"required": _("Say what it is.")}
        )
        self.fields["unit"] = TextField(
            most=20, label=_("Counted in"), help_text=_("Such as pieces, cartridges, liters.")
        )
        self.fields["minimum"] = DecimalField(
            label=_("At least"),
            least=0,
            places=2,
            digits=10,
            help_text=_("To be kept there."),
        )
        self.fields["place"] = TextField(
            most=60, required=False, label=_("Where it is kept"), help_text=_("Such as cabinet 2.")
        )
        self.fields["molds"] = LinesField(
            most=20_000,
            rows=4,
            required=False,
            label=_("Molds"),
            help_text=_("Their numbers, one a line; empty where it is for any mold."),
        )

    def clean_molds(self) -> list[Mold]:
        """Return the molds; name a number that no mold has."""
        typed = [line.strip() for line in str(self.cleaned_data["molds"]).splitlines()]
        numbers = list(dict.fromkeys(line for line in typed if line))
        found = {
            mold.number_key: mold
            for mold in Mold.objects.filter(
                withdrawn_at__isnull=True, number_key__in=[name_key(each) for each in numbers]
            )
        }
        unknown = [each for each in numbers if name_key(each) not in found]
        if unknown:
            raise forms.ValidationError(
                _("No mold of ours is called %(numbers)s.")
                % {"numbers": ", ".join(each[:40] for each in unknown[:5])}
            )
        return [found[name_key(each)] for each in numbers]


@page()
def setup_owners(request: HttpRequest) -> HttpResponse:
    """List owners, with how many molds they have here."""
    in_use = Count("molds", filter=Q(molds__withdrawn_at__isnull=True))
    context = {
        "page_title": _("Owners"),
        "nav_here": "setup",
        "owners": owners_in_use().annotate(mold_count=in_use),
        "ours": Mold.objects.filter(withdrawn_at__isnull=True, owner__isnull=True).count(),
        "may_edit": may(person_of(request), Right.EDIT_MOLDS),
    }
    return answer(request, "setup/owners.html", context)


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def owner_add(request: HttpRequest) -> HttpResponse:
    """Add an owner."""
    form, done = OwnerForm(sent(request)), doing_again(request)
    return act_page(
        request,
        form,
        act=lambda: add_owner(done, **form.cleaned_data),
        said=lambda: _("%(name)s is added.") % {"name": form.cleaned_data["name"]},
        title=_("Add an owner"),
        submit=_("Add the owner"),
        back=reverse("setup-owners"),
    )


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def owner_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change an owner."""
    row: Owner = row_or_404(owners_in_use(), pk)
    form, done = OwnerForm(sent(request), owner=row), doing_again(request)
    return act_page(
        request,
        form,
        act=lambda: edit_owner(done, owner=row, changes=values_of(form, names=OWNER_FIELDS)),
        said=lambda: _("%(name)s is changed.") % {"name": form.cleaned_data["name"]},
        title=_("Change %(name)s") % {"name": row.name},
        submit=_("Change it"),
        back=reverse("setup-owners"),
        changes_what_is=True,
        further=reverse("setup-owner-withdraw", kwargs={"pk": row.pk}),
        further_label=_("Take it off the list"),
    )


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def owner_withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Take an owner off the list."""
    # a second tap must find what the first one withdrew
    rows = owners_in_use() if request.method == "GET" else Owner.objects.all()
    row: Owner = row_or_404(rows, pk)
    form, done = WhyForm(sent(request)), doing_again(request)
    return act_page(
        request,
        form,
        act=lambda: withdraw_owner(done, owner=row, reason=form.cleaned_data["reason"]),
        said=lambda: _("%(name)s is off the list.") % {"name": row.name},
        title=_("Take %(name)s off the list") % {"name": row.name},
        lead=_("Withdrawn molds keep its name, and its records the years that were agreed."),
        submit=_("Take it off"),
        back=reverse("setup-owners"),
    )


@page()
def setup_supplies(request: HttpRequest) -> HttpResponse:
    """List what work uses up, with its minimum and its place."""
    rows = Supply.objects.annotate(mold_count=Count("molds")).order_by("number")
    context = {
        "page_title": _("Supplies"),
        "nav_here": "setup",
        "supplies": rows.filter(withdrawn_at__isnull=True),
        "out": rows.filter(withdrawn_at__isnull=False),
        "may_edit": may(person_of(request), Right.EDIT_MOLDS),
    }
    return answer(request, "setup/supplies.html", context)


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def supply_add(request: HttpRequest) -> HttpResponse:
    """Add a supply."""
    form, done = SupplyForm(sent(request)), doing_again(request)
    return act_page(
        request,
        form,
        act=lambda: add_supply(done, **form.cleaned_data),
        said=lambda: _("%(name)s is added.") % {"name": form.cleaned_data["name"]},
        title=_("Add a supply"),
        lead=_("What work uses up: grease, cleaner, O-rings, a spare insert."),
        submit=_("Add the supply"),
        back=reverse("setup-supplies"),
    )


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def supply_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a supply, or the molds that it is for."""
    row: Supply = row_or_404(Supply.objects.all(), pk)
    form, done = SupplyForm(sent(request), supply=row), doing_again(request)

    def act() -> int:
        changes = values_of(form, names=SUPPLY_FIELDS)
        molds = form.cleaned_data["molds"]
        return edit_supply(done, supply=row, changes=changes, molds=molds).row_id

    return act_page(
        request,
        form,
        act=act,
        said=lambda: _("%(name)s is changed.") % {"name": form.cleaned_data["name"]},
        title=_("Change %(supply)s") % {"supply": row},
        submit=_("Change it"),
        back=reverse("setup-supplies"),
        changes_what_is=True,
        further=reverse("setup-supply-withdraw", kwargs={"pk": row.pk}),
        further_label=_("Take it off the list"),
    )


@page(looks=Right.EDIT_MOLDS, writes=Right.EDIT_MOLDS)
def supply_withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a supply off the list."""
    row: Supply = row_or_404(Supply.objects.all(), pk)
    form, done = WhyForm(sent(request)), doing_again(request)
    return act_page(
        request,
        form,
        act=lambda: withdraw_supply(done, supply=row, reason=form.cleaned_data["reason"]),
        said=lambda: _("%(supply)s is off the list.") % {"supply": row},
        title=_("Take %(supply)s off the list") % {"supply": row},
        lead=_("What was used of it stays in the logbook."),
        submit=_("Take it off"),
        back=reverse("setup-supplies"),
    )
