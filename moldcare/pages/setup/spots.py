"""Presses, benches, storage places and places away: listed, added, changed."""

from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from moldcare.acts.plant import MOST_AT_ONCE, add_spot, add_spots, edit_spot
from moldcare.acts.rights import Right, may
from moldcare.core.errors import ListUnclear
from moldcare.core.typed_lists import numbers_in
from moldcare.core.units import Quantity
from moldcare.molds.queries import molds_in_use, places_of
from moldcare.pages.access import answer, page, person_of
from moldcare.pages.acting import attempt, doing_again, row_or_404, sent
from moldcare.pages.fields import LinesField, TextField, boxes
from moldcare.pages.measures import MeasureField
from moldcare.pages.setup.acting import GroupedForm, act_page, form_page, values_of
from moldcare.plant.models import Spot
from moldcare.plant.queries import spots_in_order

NUMBER_LENGTH = 40
CLAMP_DIGITS = 6
FIELDS = ("number", "name", "clamp_kn", "is_in_use")
KINDS = (
    (Spot.Kind.PRESS, gettext_lazy("a press")),
    (Spot.Kind.BENCH, gettext_lazy("a bench")),
    (Spot.Kind.RACK, gettext_lazy("a storage place: a rack or shelf")),
    (Spot.Kind.AWAY, gettext_lazy("a place away: a toolmaker, a customer")),
)
_TITLES = {
    Spot.Kind.PRESS: gettext_lazy("Presses"),
    Spot.Kind.BENCH: gettext_lazy("Benches"),
    Spot.Kind.RACK: gettext_lazy("Storage places"),
    Spot.Kind.AWAY: gettext_lazy("Places away"),
}
_MISSING = {
    Spot.Kind.PRESS: gettext_lazy("No press yet. Without one no mold can be set."),
    Spot.Kind.BENCH: gettext_lazy("No bench yet. Care on the bench needs one."),
    Spot.Kind.RACK: gettext_lazy("No storage place yet. Molds that rest need one."),
    Spot.Kind.AWAY: gettext_lazy("None yet. Enter whoever molds are sent to."),
}


@dataclass(frozen=True, kw_only=True, slots=True)
class SpotLine:
    """A spot and the molds that are there."""

    spot: Spot
    molds: list[str]


@dataclass(frozen=True, kw_only=True, slots=True)
class SpotsOfKind:
    """All spots of a kind: in use first."""

    kind: str
    title: str
    missing: str
    lines: list[SpotLine]
    out: list[SpotLine]


@page()
def setup_spots(request: HttpRequest) -> HttpResponse:
    """List presses, benches and places with what is there."""
    there = _molds_by_spot()
    rows = [SpotLine(spot=spot, molds=there.get(spot.pk, [])) for spot in spots_in_order()]
    context = {
        "page_title": _("Presses and places"),
        "nav_here": "setup",
        "kinds": [
            SpotsOfKind(
                kind=kind,
                title=str(_TITLES[kind]),
                missing=str(_MISSING[kind]),
                lines=[row for row in rows if row.spot.kind == kind and row.spot.is_in_use],
                out=[row for row in rows if row.spot.kind == kind and not row.spot.is_in_use],
            )
            for kind, _said in KINDS
        ],
        "may_edit": may(person_of(request), Right.EDIT_SHIFTS),
    }
    return answer(request, "setup/spots.html", context)


def _molds_by_spot() -> dict[int, list[str]]:
    """Return the numbers of the molds that are at each spot now."""
    places = places_of()
    found: dict[int, list[str]] = {}
    for pk, number in molds_in_use().order_by("sort_key").values_list("pk", "number"):
        if pk in places:
            found.setdefault(places[pk].spot_id, []).append(number)
    return found


def _number(**kwargs: Any) -> TextField:
    return TextField(
        most=NUMBER_LENGTH,
        label=_("Number"),
        help_text=_("As it is written there; short, such as 7 or R1-04."),
        error_messages={"required": _("Give the number that is written there.")},
        **kwargs,
    )


def _clamp(*, held: int | None = None) -> MeasureField:
    return MeasureField(
        required=False,
        quantity=Quantity.FORCE,
        held=held,
        least=1,
        digits=CLAMP_DIGITS,
        label=_("Clamp force"),
        help_text=_("Of presses only."),
    )


class NewSpotForm(forms.Form):
    """One spot."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["kind"] = boxes(
            KINDS, label=_("It is"), error_messages={"required": _("Say what it is.")}
        )
        self.fields["number"] = _number()
        self.fields["name"] = TextField(most=120, required=False, label=_("Name"))
        self.fields["clamp_kn"] = _clamp()

    def clean(self) -> dict[str, Any]:
        """Refuse the clamp force of what is no press."""
        data = super().clean() or {}
        if data.get("clamp_kn") is not None and data.get("kind") not in (None, Spot.Kind.PRESS):
            self.add_error("clamp_kn", _("Only a press has a clamp force. Leave it empty."))
        return data


class ManySpotsForm(forms.Form):
    """Many spots of one kind by their numbers."""

    kind = boxes(
        KINDS,
        label=gettext_lazy("Each is"),
        error_messages={"required": gettext_lazy("Say what they are.")},
    )
    numbers = LinesField(
        most=20_000,
        rows=5,
        label=gettext_lazy("Numbers"),
        help_text=gettext_lazy(
            "From one to another, such as R1-01 to R1-40; or single ones, between commas or one "
            "a line."
        ),
        error_messages={"required": gettext_lazy("Give their numbers.")},
    )

    def clean(self) -> dict[str, Any]:
        """Say which number cannot be read, is too long, doubled or there already."""
        data = super().clean() or {}
        if "numbers" not in data:
            return data
        try:
            found = numbers_in(data["numbers"])
        except ListUnclear as error:
            self.add_error("numbers", str(error))
            return data
        for number in found:
            if len(number) > NUMBER_LENGTH:
                self.add_error("numbers", _("“%(n)s …” is too long.") % {"n": number[:30]})
                return data
        if not found or len(found) > MOST_AT_ONCE:
            self.add_error("numbers", _("Give at most %(n)s numbers.") % {"n": MOST_AT_ONCE})
            return data
        data["found"] = found
        there = Spot.objects.filter(kind=data.get("kind", ""), number__in=found)
        # what is to be written is compared by the act: a second tap finds the first one's there
        held = [] if "write" in self.data else list(there.order_by("number"))[:6]
        twice = sorted({number for number in found if found.count(number) > 1})[:6]
        for numbers, said in (
            ([spot.number for spot in held], _("There already: %(numbers)s.")),
            (twice, _("Given twice: %(numbers)s.")),
        ):
            if numbers:
                self.add_error("numbers", said % {"numbers": ", ".join(numbers)})
        return data


class SpotForm(GroupedForm):
    """Change a spot."""

    def __init__(self, *args: Any, spot: Spot, **kwargs: Any) -> None:
        kwargs["initial"] = {name: getattr(spot, name) for name in FIELDS}
        super().__init__(*args, **kwargs)
        self.fields["number"] = _number()
        self.fields["number"].help_text = _(
            "As it is written there. Under another number its printed label leads nowhere: print "
            "it anew."
        )
        self.fields["name"] = TextField(most=120, required=False, label=_("Name"))
        if spot.kind == Spot.Kind.PRESS:
            self.fields["clamp_kn"] = _clamp(held=spot.clamp_kn)
        self.fields["is_in_use"] = forms.BooleanField(
            required=False,
            label=_("It is in use"),
            help_text=_("Out of use it stays in the records and is offered nowhere."),
        )


@page(looks=Right.EDIT_SHIFTS, writes=Right.EDIT_SHIFTS)
def spot_add(request: HttpRequest) -> HttpResponse:
    """Add a press, a bench, a storage place or a place away."""
    kind = request.GET.get("kind", "")
    form = NewSpotForm(sent(request), initial={"kind": kind if kind in Spot.Kind.values else ""})
    done = doing_again(request)

    def said() -> str:
        data = form.cleaned_data
        row = Spot.objects.get(kind=data["kind"], number=data["number"])
        return _("%(spot)s is added.") % {"spot": row}

    return act_page(
        request,
        form,
        act=lambda: add_spot(done, **form.cleaned_data),
        said=said,
        title=_("Add a press or place"),
        lead=_("Where a mold can be. Its kind stays as it is entered here."),
        submit=_("Add it"),
        back=reverse("setup-spots"),
    )


@page(looks=Right.EDIT_SHIFTS, writes=Right.EDIT_SHIFTS)
def spots_many(request: HttpRequest) -> HttpResponse:
    """Add many spots: shown first, written on the second word."""
    kind = request.GET.get("kind", "")
    initial = {"kind": kind if kind in Spot.Kind.values else ""}
    form, done = ManySpotsForm(sent(request), initial=initial), doing_again(request)
    is_sure = "write" in request.POST
    shown: list[str] = []
    if is_sure:
        written = attempt(
            form,
            lambda: add_spots(
                done, kind=form.cleaned_data["kind"], numbers=form.cleaned_data["found"]
            ),
        )
        if written is not None:
            count = len(form.cleaned_data["found"])
            messages.success(
                request,
                ngettext("%(n)s place is added.", "%(n)s places are added.", count) % {"n": count},
            )
            return redirect("setup-spots")
    elif form.is_bound and form.is_valid():
        shown = form.cleaned_data["found"]
    return form_page(
        request,
        form,
        title=_("Add many at once"),
        lead=_("You see all numbers before they are written."),
        submit=_("Look at them"),
        back=reverse("setup-spots"),
        template="setup/spots_many.html",
        shown=shown,
    )


@page(looks=Right.EDIT_SHIFTS, writes=Right.EDIT_SHIFTS)
def spot_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Rename a spot, or put it out of use."""
    spot: Spot = row_or_404(Spot.objects.all(), pk)
    form, done = SpotForm(sent(request), spot=spot), doing_again(request)
    return act_page(
        request,
        form,
        act=lambda: edit_spot(done, spot=spot, changes=values_of(form, names=FIELDS)),
        said=lambda: _("%(spot)s is changed.") % {"spot": Spot.objects.get(pk=pk)},
        title=_("Change %(spot)s") % {"spot": spot},
        lead=_("Entries that name it keep the number that it had then."),
        submit=_("Change it"),
        back=reverse("setup-spots"),
        changes_what_is=True,
    )
