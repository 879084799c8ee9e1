"""People at this tablet: who was slowed or stopped here, and a lead who lets them try again."""

from dataclasses import dataclass
from datetime import datetime

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _

from moldcare.acts.rights import Right
from moldcare.acts.sign_in import Tries, let_try_again, tried_here
from moldcare.pages.access import new_hand_in, page
from moldcare.pages.acting import attempt, doing_again, filled, sent
from moldcare.pages.device import device_of
from moldcare.plant.models import Person


@dataclass(frozen=True, kw_only=True, slots=True)
class HereLine:
    """Somebody who has to wait or is stopped here, with the number of the form that ends it."""

    person: Person
    tries: Tries
    hand_in: str


class TryAgainForm(forms.Form):
    """Who may try again."""

    person = forms.ModelChoiceField(queryset=Person.objects.filter(is_active=True))


@page(looks=Right.RESET_PIN, writes=Right.RESET_PIN)
def people_here(request: HttpRequest) -> HttpResponse:
    """List who was slowed or stopped on this tablet; let one of them try again."""
    device, now = device_of(request), timezone.now()
    form, done = TryAgainForm(sent(request)), doing_again(request)
    written = attempt(
        form, lambda: let_try_again(done, person=form.cleaned_data["person"], device=device)
    )
    if written is not None:
        name = form.cleaned_data["person"].name
        messages.success(request, _("%(name)s may try again on this tablet.") % {"name": name})
        return redirect("people-here")
    context = {
        "page_title": _("People at this tablet"),
        "nav_here": "setup",
        "is_named": bool(device),
        "here": _lines(device, now=now),
    }
    return filled(request, "sign_in/people_here.html", context, form=form)


def _lines(device: str, *, now: datetime) -> list[HereLine]:
    return [
        HereLine(person=each.person, tries=each.tries, hand_in=new_hand_in())
        for each in tried_here(device, now=now)
    ]
