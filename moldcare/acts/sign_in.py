"""Signing in, and signing at a shared tablet; wrong tries are slowed, then stopped.

Tries are counted for a person on a device, never for an address: behind a proxy a whole plant has
one address, and a header that names another is easily made up. A device is whatever name its page
gives it (a signed cookie); all devices without one share one name, so that throwing the cookie away
wins nothing.

After `STOPPED_AT` wrong tries a person is stopped on the device until a lead lets them try again
there, or sets them another PIN. On devices without a name, which nobody can walk up to, half a day
does it too; so does it for a badge that nobody has.

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

from moldcare.acts.answers import Written, answer_of
from moldcare.acts.doing import Doing, once
from moldcare.acts.errors import ActRefused, DoesNotFit
from moldcare.acts.rights import Right, require
from moldcare.acts.words import tidy
from moldcare.core.scanning import scanned_code
from moldcare.logbook.append import append_entry, plant_chain
from moldcare.plant.models import Person

UNKNOWN_DEVICE = ""
FREE_TRIES = 5
STOPPED_AT = 10
FIRST_WAIT_S = 30
# after this long without a wrong try, all is forgotten
FORGOTTEN_AFTER = timedelta(hours=12)
# how long somebody stays stopped on a device that a lead can walk up to: until a lead comes
STOPPED_FOR = timedelta(days=3650)


class SignInRefused(ActRefused):
    """Badge and PIN, or name and password, do not belong together."""


class TooManyTries(ActRefused):
    """The person has to wait on the device."""

    def __init__(self, message: str, *, wait_s: int) -> None:
        super().__init__(message)
        self.wait_s = wait_s


class Stopped(TooManyTries):
    """The person is stopped on the device until a lead lets them try again."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Tries:
    """Wrong tries of one person on one device, and when the last one was."""

    wrong: int = 0
    last_at: datetime | None = None

    @property
    def is_stopped(self) -> bool:
        """Whether no further try is looked at."""
        return self.wrong >= STOPPED_AT


@dataclass(frozen=True, kw_only=True, slots=True)
class TriedHere:
    """Somebody who tried wrongly on a device, and what it came to."""

    person: Person
    tries: Tries


def wait_s(tries: Tries, *, now: datetime) -> int:
    """Return how many seconds must pass before the next try: none for the first five wrong ones.

    Then 30 s after the fifth, and twice as long after each further one.

    Examples
    --------
    >>> at = datetime(2026, 11, 25, 6, tzinfo=UTC)
    >>> [wait_s(Tries(wrong=wrong, last_at=at), now=at) for wrong in (0, 4, 5, 6, 7, 9)]
    [0, 0, 30, 60, 120, 480]
    """
    if tries.last_at is None or tries.wrong < FREE_TRIES:
        return 0
    wait = FIRST_WAIT_S << (min(tries.wrong, STOPPED_AT) - FREE_TRIES)
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
    text = scanned_code(tidy(badge))
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
    key = key_of(person, device=device) if person else _key(who, device=device)
    # counted as wrong before it is looked at: a hundred tries at once are a hundred tries
    _count(key, now=now, is_kept=person is not None and device != UNKNOWN_DEVICE)
    if not right:
        # as much work as for a person who is there, so that badges cannot be told apart by time
        make_password(secret)
        raise SignInRefused(refusal)
    if person is None or not check_password(secret, right):
        raise SignInRefused(refusal)
    _forget(key)
    return person


def key_of(person: Person, *, device: str) -> str:
    """Return the name under which a person's tries on a device are kept.

    It changes with the PIN and the password: whoever is given another one begins anew everywhere.
    """
    return _key(f"person {person.pk} {person.pin_hash} {person.password}", device=device)


def _key(who: str, *, device: str) -> str:
    """Return the name under which tries are kept; nobody can guess it, or send it as a session."""
    return salted_hmac("moldcare.sign_in", f"{device}\n{who}").hexdigest()[:40]


def _count(key: str, *, now: datetime, is_kept: bool) -> None:
    """Count one more wrong try under a lock; raise TooManyTries while no try is looked at.

    Kept in the table of sessions, which all processes share and which forgets what is old. The
    last try before a stop is kept until a lead comes where that `is_kept`.
    """
    Session.objects.get_or_create(
        session_key=key, defaults={"session_data": "", "expire_date": now + FORGOTTEN_AFTER}
    )
    with transaction.atomic():
        row = Session.objects.select_for_update(no_key=True).get(session_key=key)
        tries = _read(row, now=now)
        wait = wait_s(tries, now=now)
        if wait == 0 and not tries.is_stopped:
            wrong = tries.wrong + 1
            row.session_data = SessionStore().encode(
                {"wrong": wrong, "last_at": now.astimezone(UTC).isoformat()}
            )
            stays = STOPPED_FOR if is_kept and wrong >= STOPPED_AT else FORGOTTEN_AFTER
            row.expire_date = now + stays
            row.save(update_fields=["session_data", "expire_date"])
    if tries.is_stopped:
        raise Stopped(
            _(
                "Stopped after %(tries)d wrong tries here. A lead signs in on this tablet and lets "
                "you try again, or sets you a new PIN; others can sign meanwhile."
            )
            % {"tries": STOPPED_AT},
            wait_s=wait,
        )
    if wait:
        raise TooManyTries(
            _("Too many wrong tries here. Wait %(seconds)s seconds; others can sign meanwhile.")
            % {"seconds": wait},
            wait_s=wait,
        )


def tried_here(device: str, *, now: datetime) -> list[TriedHere]:
    """Return who tried wrongly on a device and has to wait or is stopped there, by name."""
    if device == UNKNOWN_DEVICE:
        return []
    people = {
        key_of(person, device=device): person
        for person in Person.objects.filter(is_active=True).order_by("name", "id")
    }
    rows = Session.objects.filter(session_key__in=people, expire_date__gt=now)
    found = {row.session_key: _read(row, now=now) for row in rows}
    return [
        TriedHere(person=person, tries=found[key])
        for key, person in people.items()
        if key in found and found[key].wrong >= FREE_TRIES
    ]


def let_try_again(doing: Doing, *, person: Person, device: str) -> Written:
    """Let somebody who was slowed or stopped on a device try again there.

    Raises
    ------
    DoesNotFit
        If the person neither waits nor is stopped there.
    NotAllowed
        If the role does not do this.
    """
    require(doing.person, Right.RESET_PIN)

    def do() -> dict[str, Any]:
        held = Person.objects.select_for_update(no_key=True).get(pk=person.pk)
        row = Session.objects.filter(session_key=key_of(held, device=device)).first()
        tries = Tries() if row is None else _read(row, now=doing.now)
        if row is None or tries.wrong < FREE_TRIES:
            raise DoesNotFit(
                _("%(name)s neither waits nor is stopped on this tablet. Nothing was changed.")
                % {"name": held.name}
            )
        row.delete()
        entry = append_entry(
            plant_chain(),
            kind="tries_forgotten",
            happened_at=doing.now,
            written_at=doing.now,
            author=doing.person,
            sentence=f"{held.name} may try again at a tablet after {tries.wrong} wrong tries.",
            facts={"person": held.pk, "wrong": tries.wrong, "was_stopped": tries.is_stopped},
        )
        return answer_of(held, entry=entry)

    return Written.read(once(doing, "let_try_again", {"person": person, "device": device}, do))


def _read(row: Session, *, now: datetime) -> Tries:
    if row.expire_date <= now or not row.session_data:
        return Tries()
    kept: dict[str, Any] = SessionStore().decode(row.session_data)
    if "last_at" not in kept:
        return Tries()
    return Tries(wrong=int(kept["wrong"]), last_at=datetime.fromisoformat(kept["last_at"]))


def _forget(key: str) -> None:
    Session.objects.filter(session_key=key).delete()
