"""People: who may do what, their PINs, qualifications and training."""

import re
from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from itertools import pairwise
from typing import Any

from django.contrib.auth.hashers import make_password
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from moldcare.acts.answers import Written, answer_of
from moldcare.acts.doing import Doing, once
from moldcare.acts.entries import plant_entry
from moldcare.acts.errors import DoesNotFit, Incomplete, NotAllowed
from moldcare.acts.records import (
    add_record,
    change_record,
    change_words,
    checked_fact,
    fill,
    record_facts,
)
from moldcare.acts.rights import Right, may, require
from moldcare.acts.words import tidy
from moldcare.logbook.append import append_entry, plant_chain
from moldcare.plant.models import Person, Qualification, Training

PERSON_FIELDS = ("username", "name", "badge", "role", "language", "units", "is_active", "is_wall")
OWN_FIELDS = ("language", "units")
_PIN = re.compile(r"[0-9]{4,8}")


def make_manager(*, username: str, name: str, password: str, now: datetime) -> Person:
    """Make the first manager of an empty database.

    Raises
    ------
    DoesNotFit
        If there is an active manager: people are that manager's to add.
    Incomplete
        If the name or password cannot stand.
    """
    with transaction.atomic():
        chain = plant_chain()
        if Person.objects.filter(role=Person.Role.MANAGER, is_active=True).exists():
            raise DoesNotFit(_("There is a manager already. Sign in as one to add people."))
        row = Person(username=tidy(username), name=tidy(name), role=Person.Role.MANAGER)
        _set_password(row, password=password)
        add_record(row)
        append_entry(
            chain,
            kind="person_added",
            happened_at=now,
            written_at=now,
            author=row,
            sentence=f"{row.name} made the first manager.",
            facts=record_facts(row, fields=PERSON_FIELDS),
        )
    return row


def add_person(
    doing: Doing,
    *,
    username: str,
    name: str,
    role: str,
    password: str | None = None,
    pin: str | None = None,
    **fields: Any,
) -> Written:
    """Add a person. Without a password they sign only with badge and PIN; a feed with neither.

    Raises
    ------
    Incomplete
        If a name is taken or cannot stand, or the password or PIN is too easy.
    """
    require(doing.person, Right.EDIT_PEOPLE)
    values = {"username": username, "name": name, "role": role, **fields}

    def do() -> dict[str, Any]:
        row = Person()
        fill(row, values=values, allowed=PERSON_FIELDS)
        row.badge = row.badge or None
        if password is None:
            row.set_unusable_password()
        else:
            _set_password(row, password=password)
        if pin is not None:
            row.pin_hash = pin_hash(pin)
        add_record(row)
        entry = plant_entry(
            doing,
            kind="person_added",
            sentence=f"{row.name} ({row.role}) added.",
            facts=record_facts(row, fields=PERSON_FIELDS),
        )
        return answer_of(row, entry=entry)

    # neither password nor PIN goes into the body: its hash is kept
    return Written.read(once(doing, "add_person", values, do))


def edit_person(doing: Doing, *, person: Person, changes: Mapping[str, Any]) -> Written:
    """Change a person's name, badge, role, or whether they may sign in.

    Raises
    ------
    DoesNotFit
        If nothing is different, or no manager would be left.
    """
    require(doing.person, Right.EDIT_PEOPLE)

    def do() -> dict[str, Any]:
        # one lock for all managers: two of them cannot take each other's role away at once
        list(
            Person.objects.select_for_update(no_key=True)
            .filter(role=Person.Role.MANAGER)
            .order_by("pk")
        )
        held = Person.objects.select_for_update(no_key=True).get(pk=person.pk)
        clean = dict(changes)
        if "badge" in clean:
            clean["badge"] = tidy(clean["badge"] or "") or None
        before, after = change_record(held, changes=clean, allowed=PERSON_FIELDS)
        managers = Person.objects.filter(role=Person.Role.MANAGER, is_active=True)
        if not managers.exists():
            raise DoesNotFit(_("Nobody would be left to look after people. Nothing was changed."))
        entry = plant_entry(
            doing,
            kind="person_edited",
            sentence=f"{held.name} changed: {change_words(before, after=after, of=held)}.",
            facts={"person": held.pk, "before": before, "after": after},
        )
        return answer_of(held, entry=entry)

    return Written.read(once(doing, "edit_person", {"person": person, "changes": changes}, do))


def set_own_ways(doing: Doing, *, changes: Mapping[str, Any]) -> Written:
    """Change in which language and units somebody's own pages are.

    Raises
    ------
    DoesNotFit
        If nothing is different.
    """
    require(doing.person, Right.LOOK)

    def do() -> dict[str, Any]:
        held = Person.objects.select_for_update(no_key=True).get(pk=doing.person.pk)
        before, after = change_record(held, changes=changes, allowed=OWN_FIELDS)
        entry = plant_entry(
            doing,
            kind="person_edited",
            sentence=f"{held.name} changed: {change_words(before, after=after, of=held)}.",
            facts={"person": held.pk, "before": before, "after": after},
        )
        return answer_of(held, entry=entry)

    return Written.read(once(doing, "set_own_ways", {"changes": changes}, do))


def set_pin(doing: Doing, *, person: Person, pin: str) -> Written:
    """Set a person's PIN. Everybody may set their own; a lead resets others', not a manager's.

    Raises
    ------
    Incomplete
        If it is not 4 to 8 digits, or too easy to guess.
    NotAllowed
        If the role does not do this: who sets a manager's PIN could sign as one.
    """
    if doing.person.pk != person.pk:
        require(doing.person, Right.RESET_PIN)
    else:
        require(doing.person, Right.LOG_WORK)

    def do() -> dict[str, Any]:
        held = Person.objects.select_for_update(no_key=True).get(pk=person.pk)
        is_others = held.pk != doing.person.pk
        if (
            is_others
            and held.role == Person.Role.MANAGER
            and not may(doing.person, Right.EDIT_PEOPLE)
        ):
            raise NotAllowed(_("Only a manager sets a manager's PIN. Nothing was changed."))
        held.pin_hash = pin_hash(pin)
        held.save(update_fields=["pin_hash"])
        entry = plant_entry(
            doing,
            kind="pin_set",
            sentence=f"PIN of {held.name} {'reset' if is_others else 'set by themselves'}.",
            facts={"person": held.pk},
        )
        return answer_of(held, entry=entry)

    return Written.read(once(doing, "set_pin", {"person": person}, do))


def set_password(doing: Doing, *, person: Person, password: str) -> Written:
    """Set a person's password: one's own, or as a manager anybody's.

    Raises
    ------
    Incomplete
        If the password is too easy.
    """
    if doing.person.pk != person.pk:
        require(doing.person, Right.EDIT_PEOPLE)

    def do() -> dict[str, Any]:
        held = Person.objects.select_for_update(no_key=True).get(pk=person.pk)
        _set_password(held, password=password)
        held.save(update_fields=["password"])
        entry = plant_entry(
            doing,
            kind="password_set",
            sentence=f"Password of {held.name} set.",
            facts={"person": held.pk},
        )
        return answer_of(held, entry=entry)

    return Written.read(once(doing, "set_password", {"person": person}, do))


def add_qualification(
    doing: Doing,
    *,
    person: Person,
    subject: str,
    evidence: str,
    valid_from: date,
    valid_to: date | None = None,
    is_withdrawn: bool = False,
) -> Written:
    """Write down that a person may do a task, on what evidence and until when; or not any more."""
    require(doing.person, Right.EDIT_PEOPLE)

    def do() -> dict[str, Any]:
        row = Qualification(
            person=person,
            subject=tidy(subject),
            evidence=tidy(evidence),
            valid_from=valid_from,
            valid_to=valid_to,
            is_withdrawn=is_withdrawn,
            written_at=doing.now,
        )
        checked_fact(row)
        row.save()
        until = f" until {valid_to}" if valid_to else ""
        what = "withdrawn" if is_withdrawn else f"valid from {valid_from}{until}"
        entry = plant_entry(
            doing,
            kind="qualification",
            sentence=f"{person.name}: {row.subject}, {what} ({row.evidence}).",
            facts={
                "person": person.pk,
                "subject": row.subject,
                "evidence": row.evidence,
                "valid_from": valid_from,
                "valid_to": valid_to,
                "is_withdrawn": is_withdrawn,
            },
        )
        return answer_of(row, entry=entry)

    body = {
        "person": person,
        "subject": subject,
        "evidence": evidence,
        "valid_from": valid_from,
        "valid_to": valid_to,
        "is_withdrawn": is_withdrawn,
    }
    return Written.read(once(doing, "add_qualification", body, do))


def add_training(
    doing: Doing, *, person: Person, on: date, hours: Decimal, subject: str
) -> Written:
    """Write down hours of training that a person had."""
    require(doing.person, Right.EDIT_PEOPLE)

    def do() -> dict[str, Any]:
        row = Training(
            person=person, on=on, hours=hours, subject=tidy(subject), written_at=doing.now
        )
        checked_fact(row)
        row.save()
        entry = plant_entry(
            doing,
            kind="training",
            sentence=f"{person.name}: {hours} h of training on {on}: {row.subject}.",
            facts={"person": person.pk, "on": on, "hours": hours, "subject": row.subject},
        )
        return answer_of(row, entry=entry)

    body = {"person": person, "on": on, "hours": hours, "subject": subject}
    return Written.read(once(doing, "add_training", body, do))


def pin_hash(pin: str) -> str:
    """Return the hash of a PIN; raise Incomplete when it is no PIN, or one that all try first."""
    if not _PIN.fullmatch(pin):
        raise Incomplete(_("A PIN has 4 to 8 digits and nothing else."))
    steps = {int(after) - int(before) for before, after in pairwise(pin)}
    if steps in ({0}, {1}, {-1}):
        raise Incomplete(_("This PIN is the first that anybody tries. Choose another."))
    return make_password(pin)


def _set_password(person: Person, *, password: str) -> None:
    try:
        validate_password(password, user=person)
    except ValidationError as error:
        raise Incomplete(" ".join(error.messages)) from error
    person.set_password(password)
