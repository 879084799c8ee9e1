"""Who signs a form. A signature is a sign-in repeated: by PIN, else by password."""

from dataclasses import dataclass
from enum import StrEnum

from django.http import HttpRequest
from django.utils import timezone

from moldcare.acts.sign_in import check_pin, check_sign_in
from moldcare.acts.words import tidy
from moldcare.pages.access import person_of
from moldcare.pages.device import device_of
from moldcare.plant.models import Person
from moldcare.plant.queries import person_with_badge


class Secret(StrEnum):
    """What a person repeats to sign."""

    PIN = "pin"
    SIGN_IN = "sign_in"
    NOTHING = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Signer:
    """Who signs, with the PIN that the act looks at; without one it is whoever is signed in."""

    person: Person
    pin: str


def secret_of(person: Person) -> Secret:
    """Return what a person who is signed in repeats to sign."""
    if person.badge and person.pin_hash:
        return Secret.PIN
    return Secret.SIGN_IN if person.has_usable_password() else Secret.NOTHING


def signer_of(request: HttpRequest, *, badge: str, pin: str) -> Signer:
    """Return who signs; whoever is signed in where no badge was typed.

    The PIN itself is looked at by the act, a password here. A badge that nobody has is refused as
    a wrong PIN is, and takes as long.

    Raises
    ------
    SignInRefused, TooManyTries
        If nobody has the badge, or the password is wrong.
    """
    device, now = device_of(request), timezone.now()
    if badge:
        named = person_with_badge(tidy(badge)) or check_pin(badge, pin=pin, device=device, now=now)
        return Signer(person=named, pin=pin)
    person = person_of(request)
    secret = secret_of(person)
    if secret is Secret.SIGN_IN:
        check_sign_in(person.username or "", password=pin, device=device, now=now)
    return Signer(person=person, pin=pin if secret is Secret.PIN else "")
