"""Tablets: what they say of themselves at a contact, and what could not be handed in from them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing, checked, once
from moldcare.acts.errors import DoesNotFit, NotFound
from moldcare.acts.rights import Right, require
from moldcare.acts.words import reason_given, tidy
from moldcare.handin.models import HandIn, StuckEntry, StuckSettled, Tablet
from moldcare.plant.models import Person

MOST_NOTE = 400
# a tablet that does not say which one it is
UNNAMED = "unnamed"


@dataclass(frozen=True, kw_only=True, slots=True)
class Contact:
    """What a tablet says of itself.

    Parameters
    ----------
    waiting : int
        How many entries wait on it.
    oldest_at : datetime or None
        Since when the oldest of them waits.
    offset_ms : int
        What must be added to its clock.
    is_kept : bool or None
        Whether its browser promised to keep what it stores; None where that is not known.
    store : str
        The name of what its browser stores entries in; empty where it stores none.
    lost : int
        How many entries it knows to have been thrown away by its browser.
    """

    waiting: int
    oldest_at: datetime | None
    offset_ms: int
    is_kept: bool | None
    store: str
    lost: int = 0


def meet_tablet(device: str, *, person: Person | None, contact: Contact, now: datetime) -> Tablet:
    """Write down what a tablet says of itself at a contact."""
    with transaction.atomic():
        Tablet.objects.get_or_create(device=device, defaults={"last_contact_at": now})
        row = Tablet.objects.select_for_update(no_key=True).get(device=device)
        is_another = bool(row.store and contact.store) and row.store != contact.store
        # either side may notice first; what both noticed is counted once
        row.lost += max(contact.lost, row.waiting if is_another else 0)
        row.store = contact.store or row.store
        row.last_contact_at = now
        row.waiting, row.oldest_at = contact.waiting, contact.oldest_at
        row.offset_ms, row.is_kept = contact.offset_ms, contact.is_kept
        if person is not None:
            row.last_person = person
        row.save()
    return row


def see_to_lost(doing: Doing, *, tablet: Tablet) -> None:
    """Say that a lead asked the people about entries that a tablet's browser threw away."""
    require(doing.person, Right.HAND_OUT_ORDERS)

    def do() -> dict[str, Any]:
        row = Tablet.objects.select_for_update(no_key=True).filter(pk=tablet.pk).first()
        if row is None:
            raise NotFound(_("This tablet is not known."))
        row.lost = 0
        row.save(update_fields=["lost"])
        return {}

    once(doing, "see_to_lost", {"tablet": tablet.pk}, do)


@dataclass(frozen=True, kw_only=True, slots=True)
class Stuck:
    """What could not be handed in, as it lay on a tablet.

    Parameters
    ----------
    hand_in : UUID
        Its own, under which it was not taken.
    author_said : str
        Whose it is, as the tablet knows them: a name, or a badge number.
    address : str
        The page whose form it is.
    said : str
        What it is, in words.
    why : str
        Why it was not taken, in words.
    fields : sequence of (name, value)
        What was typed, without secrets.
    photos : sequence of str
        The SHA-256 of pictures that are kept.
    worked_at : datetime
        When it was filled in.
    """

    hand_in: UUID
    author_said: str
    address: str
    said: str
    why: str
    fields: Sequence[tuple[str, str]]
    photos: Sequence[str]
    worked_at: datetime


def give_to_lead(doing: Doing, *, stuck: Stuck, discarded: str = "") -> StuckEntry:
    """Keep what a tablet could not hand in, for a lead; or that it was discarded there, and why.

    Raises
    ------
    DoesNotFit
        If it was handed in after all.
    """
    require(doing.person, Right.LOOK)
    device = (doing.waited.device if doing.waited is not None else "") or UNNAMED
    body = {
        "stuck": str(stuck.hand_in),
        "fields": [list(each) for each in stuck.fields],
        "photos": list(stuck.photos),
        "discarded": discarded,
    }

    def do() -> dict[str, Any]:
        if HandIn.objects.filter(pk=stuck.hand_in).exists():
            raise DoesNotFit(_("This was handed in after all: it is written down."))
        if not StuckEntry.objects.filter(pk=stuck.hand_in).exists():
            # what needs a hand is asked of the tablets
            Tablet.objects.get_or_create(device=device, defaults={"last_contact_at": doing.now})
            row = StuckEntry(
                id=stuck.hand_in,
                person=doing.person,
                author_said=tidy(stuck.author_said)[:120],
                device=device,
                address=stuck.address[:300],
                said=tidy(stuck.said)[:200] or "-",
                why=tidy(stuck.why)[:1000] or "-",
                fields=[list(each) for each in stuck.fields],
                photos=list(stuck.photos),
                worked_at=stuck.worked_at,
                written_at=doing.now,
            )
            checked(row, exclude=("person", "fields", "photos"))
            row.save()
            if discarded:
                _settle(doing, row, note=discarded)
        return {}

    once(doing, "give_to_lead", body, do)
    return StuckEntry.objects.get(pk=stuck.hand_in)


def settle_stuck(doing: Doing, *, stuck: StuckEntry, note: str) -> None:
    """Say what became of an entry that was stuck on a tablet."""
    require(doing.person, Right.HAND_OUT_ORDERS)
    reason_given(note)

    def do() -> dict[str, Any]:
        if StuckSettled.objects.filter(stuck=stuck).exists():
            raise DoesNotFit(_("Somebody has seen to this already."))
        _settle(doing, stuck, note=note)
        return {}

    once(doing, "settle_stuck", {"stuck": str(stuck.pk), "note": note}, do)


def _settle(doing: Doing, stuck: StuckEntry, *, note: str) -> None:
    row = StuckSettled(
        stuck=stuck, person=doing.person, note=tidy(note)[:MOST_NOTE], written_at=doing.now
    )
    checked(row, exclude=("person", "stuck"))
    row.save()


def contact_of(sent: Mapping[str, Any], *, oldest_at: datetime | None, offset_ms: int) -> Contact:
    """Return a contact from what a tablet sent; what cannot be is taken as nothing."""
    is_kept = sent.get("kept")
    return Contact(
        waiting=_count(sent.get("waiting")),
        oldest_at=oldest_at,
        offset_ms=offset_ms,
        is_kept=is_kept if isinstance(is_kept, bool) else None,
        store=str(sent.get("store") or "")[:36],
        lost=_count(sent.get("lost")),
    )


def _count(value: Any) -> int:
    is_count = isinstance(value, int) and not isinstance(value, bool) and 0 <= value < 100_000
    return value if is_count else 0
