"""Who signs a form: by badge and PIN, or by being signed in."""

from django.http import HttpRequest
from django.utils import timezone

from moldcare.acts.sign_in import check_pin
from moldcare.acts.words import tidy
from moldcare.pages.access import person_of
from moldcare.pages.device import device_of
from moldcare.plant.models import Person
from moldcare.plant.queries import person_with_badge


def signer_of(request: HttpRequest, *, badge: str, pin: str) -> Person:
    """Return who signs; whoever is signed in where no badge was typed.

    The PIN itself is looked at by the act. A badge that nobody has is refused as a wrong PIN is,
    and takes as long.

    Raises
    ------
    SignInRefused, TooManyTries
        If nobody has the badge.
    """
    if not badge:
        return person_of(request)
    person = person_with_badge(tidy(badge))
    if person is None:
        return check_pin(badge, pin=pin, device=device_of(request), now=timezone.now())
    return person
