"""Hand-in passes: what a tablet shows for whoever filled in what it hands in later.

A pass is given to a tablet while its person is signed in there. It is good for handing in, from
that tablet alone, and for nothing else: no page opens by it. It ends with the person's PIN and
password, as a session does.
"""

from dataclasses import dataclass

from django.core import signing
from django.utils.crypto import constant_time_compare, salted_hmac

from moldcare.plant.models import Person

_SALT = "moldcare.handin.pass"
# longer than any tablet lies in a drawer with work on it that is still worth handing in
GOOD_FOR_S = 90 * 24 * 3600


@dataclass(frozen=True, kw_only=True, slots=True)
class Bearer:
    """Whose pass it is, and whether it still speaks for them."""

    person: Person
    is_good: bool


def give_pass(person: Person, *, device: str) -> str:
    """Return a pass of the person on the device."""
    return signing.dumps(
        {"person": person.pk, "device": device, "state": _state(person)}, salt=_SALT
    )


def bearer_of(text: str, *, device: str) -> Bearer | None:
    """Return whose pass this is; None where it is none, is too old, or of another device."""
    try:
        held = signing.loads(text, salt=_SALT, max_age=GOOD_FOR_S)
    except signing.BadSignature:
        return None
    if not device or held["device"] != device:
        return None
    person = Person.objects.filter(pk=held["person"]).first()
    if person is None:
        return None
    return Bearer(person=person, is_good=constant_time_compare(held["state"], _state(person)))


def _state(person: Person) -> str:
    """Return what changes with the person's PIN or password, and tells neither."""
    secret = f"{person.pk}\n{person.password}\n{person.pin_hash}"
    return salted_hmac(_SALT, secret, algorithm="sha256").hexdigest()[:32]
