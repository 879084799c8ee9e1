"""Signing in, and signing at a shared tablet with badge and PIN; wrong tries are slowed.

Tries are counted for a person on a device, never for an address: behind a proxy a whole plant has
one address, and a header that names another is easily made up. A device is whatever name its page
gives it (a signed cookie); all devices without one share one name, so that throwing the cookie away
wins nothing.

Call these outside a transaction: a wrong try has to stay counted when the page's work fails.
"""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from django.contrib.auth.hashers import check_password, make_password
from django.contrib.sessions.backends.db import SessionStore
from django.contrib.sessions.models import Session
from django.db import transaction
from django.utils.crypto import salted_hmac
from django.utils.translation import gettext as _

from moldcare.acts.errors import ActRefused
from moldcare.acts.words import tidy
from moldcare.plant.models import Person

UNKNOWN_DEVICE = ""
FREE_TRIES = 5
FIRST_WAIT_S = 30
LONGEST_WAIT_S = 900
# after this long without a wrong try, all is forgotten
FORGOTTEN_AFTER = timedelta(hours=12)


class SignInRefused(ActRefused):
    """Badge and PIN, or name and password, do not belong together."""


class TooManyTries(ActRefused):
    """The person has to wait on the device."""

    def __init__(self, message: str, *, wait_s: int) -> None:
        super().__init__(message)
        self.wait_s = wait_s


@dataclass(frozen=True, kw_only=True, slots=True)
class Tries:
    """Wrong tries of one person on one device, and when the last one was."""

    wrong: int = 0
    last_at: datetime | None = None


def wait_s(tries: Tries, *, now: datetime) -> int:
    """Return how many seconds must pass before the next try: none for the first five wrong ones.

    Then 30 s after the fifth, twice as long after each further one, a quarter of an hour at most.

    Examples
    --------
    >>> at = datetime(2026, 11, 25, 6, tzinfo=UTC)
    >>> [wait_s(Tries(wrong=wrong, last_at=at), now=at) for wrong in (0, 4, 5, 6, 7, 40)]
    [0, 0, 30, 60, 120, 900]
    """
    if tries.last_at is None or tries.wrong < FREE_TRIES:
        return 0
    doubled = min(tries.wrong - FREE_TRIES, 10)
    wait = min(FIRST_WAIT_S << doubled, LONGEST_WAIT_S)
    return max(0, wait - int((now - tries.last_at).total_seconds()))


def check_pin(badge: str, *, pin: str, device: str, now: datetime) -> Person:
    """Return the person whose badge and PIN these are.

    Raises
    ------
    SignInRefused
        If they do not belong together, or the person may not sign.
    TooManyTries
        If this person has to wait on this device; the PIN was not looked at.
    """
    text = tidy(badge)
    person = (
        Person.objects.filter(badge=text, is_active=True).exclude(role=Person.Role.FEED).first()
    )
    right = person.pin_hash if person else ""
    return _judge(
        person,
        who=f"badge {text}",
        secret=pin,
        right=right,
        device=device,
        now=now,
        refusal=_("Badge number and PIN do not belong together. Nothing was lost; try again."),
    )


def check_person_pin(person: Person, *, pin: str, device: str, now: datetime) -> Person:
    """Return the person if this is their PIN: for a signature of somebody chosen from a list.

    Raises
    ------
    SignInRefused, TooManyTries
        As `check_pin` does.
    """
    return check_pin(person.badge or "", pin=pin, device=device, now=now)


def check_sign_in(username: str, *, password: str, device: str, now: datetime) -> Person:
    """Return the person whose sign-in name and password these are.

    Raises
    ------
    SignInRefused, TooManyTries
        As `check_pin` does.
    """
    name = Person.normalize_username(tidy(username))
    person = Person.objects.filter(username=name, is_active=True).first()
    return _judge(
        person,
        who=f"name {name}",
        secret=password,
        right=person.password if person else "",
        device=device,
        now=now,
        refusal=_("Name and password do not belong together. Try again, or ask a manager."),
    )


def _judge(
    person: Person | None,
    *,
    who: str,
    secret: str,
    right: str,
    device: str,
    now: datetime,
    refusal: str,
) -> Person:
    key = _key(f"person {person.pk}" if person else who, device=device)
    # counted as wrong before it is looked at: a hundred tries at once are a hundred tries
    _count(key, now=now)
    if not right:
        # as much work as for a person who is there, so that badges cannot be told apart by time
        make_password(secret)
        raise SignInRefused(refusal)
    if person is None or not check_password(secret, right):
        raise SignInRefused(refusal)
    _forget(key)
    return person


def _key(who: str, *, device: str) -> str:
    """Return the name under which tries are kept; nobody can guess it, or send it as a session."""
    return salted_hmac("moldcare.sign_in", f"{device}\n{who}").hexdigest()[:40]


def _count(key: str, *, now: datetime) -> None:
    """Count one more wrong try under a lock; raise TooManyTries while the person has to wait.

    Kept in the table of sessions, which all processes share and which forgets what is old.
    """
    Session.objects.get_or_create(
        session_key=key, defaults={"session_data": "", "expire_date": now + FORGOTTEN_AFTER}
    )
    with transaction.atomic():
        row = Session.objects.select_for_update(no_key=True).get(session_key=key)
        tries = _read(row, now=now)
        wait = wait_s(tries, now=now)
        if wait == 0:
            row.session_data = SessionStore().encode(
                {"wrong": tries.wrong + 1, "last_at": now.astimezone(UTC).isoformat()}
            )
            row.expire_date = now + FORGOTTEN_AFTER
            row.save(update_fields=["session_data", "expire_date"])
    if wait:
        raise TooManyTries(
            _("Too many wrong tries here. Wait %(seconds)s seconds; others can sign meanwhile.")
            % {"seconds": wait},
            wait_s=wait,
        )


def _read(row: Session, *, now: datetime) -> Tries:
    if row.expire_date <= now or not row.session_data:
        return Tries()
    kept: dict[str, Any] = SessionStore().decode(row.session_data)
    if "last_at" not in kept:
        return Tries()
    return Tries(wrong=int(kept["wrong"]), last_at=datetime.fromisoformat(kept["last_at"]))


def _forget(key: str) -> None:
    Session.objects.filter(session_key=key).delete()
