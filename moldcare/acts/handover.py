"""Handing a shift over: who goes signs what is passed on, who comes signs that they take it."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.answers import Written, answer_of
from moldcare.acts.doing import Doing, once
from moldcare.acts.errors import DoesNotFit, Incomplete, NotAllowed
from moldcare.acts.records import checked_fact
from moldcare.acts.rights import Right, may
from moldcare.acts.sign_in import UNKNOWN_DEVICE
from moldcare.acts.signing import identify
from moldcare.acts.words import reason_given, sentence_end, tidy
from moldcare.logbook.append import append_entry, plant_chain
from moldcare.logbook.models import Entry, EntryMeaning
from moldcare.plant.models import Person
from moldcare.work.models import Handover, HandoverTaken

HANDOVER_ENTRY = "handover"
TAKEN_ENTRY = "handover_taken"
LONGEST_NOTE = 2_000


@dataclass(frozen=True, kw_only=True, slots=True)
class HandoverLine:
    """One thing that the next shift must know: of which mold, where it is, and what is said."""

    mold: str
    place: str
    say: str


@dataclass(frozen=True, kw_only=True, slots=True)
class HandoverSection:
    """The lines of one subject, in order; `key` names the subject."""

    key: str
    lines: list[HandoverLine]


def give_handover(
    doing: Doing,
    *,
    giver: Person,
    pin: str,
    shift_name: str,
    sections: Sequence[HandoverSection],
    note: str = "",
    device: str = UNKNOWN_DEVICE,
) -> Written:
    """Write down what a shift passes to the next one, signed by whoever gives it.

    Parameters
    ----------
    sections : sequence
        What was read from the plant at this moment, in the plant's language.

    Raises
    ------
    NotAllowed, SignInRefused, TooManyTries
        If the giver may not sign, or the PIN is wrong.
    Incomplete
        If it names no shift, or the note is too long.
    """
    identify(doing, signer=giver, pin=pin, device=device, right=Right.LOG_WORK)
    told = _note(note)
    shift = tidy(shift_name)
    if not shift:
        raise Incomplete(_("Say which shift is handed over."))

    def do() -> dict[str, Any]:
        row = Handover(
            at=doing.now,
            shift_name=shift,
            note=told,
            facts={"sections": [asdict(each) for each in sections]},
            given_by=giver,
            written_at=doing.now,
        )
        return _written(doing, row, sentence=f"The {shift} shift is handed over. ")

    # what the plant looks like is no part of what is sent: two taps may see two readings
    body = {"giver": giver, "shift": shift, "note": told}
    return Written.read(once(doing, "give_handover", body, do))


def take_handover(
    doing: Doing,
    *,
    handover: Handover,
    taker: Person,
    pin: str,
    note: str = "",
    device: str = UNKNOWN_DEVICE,
) -> Written:
    """Write down that somebody of the next shift has read a handover and takes it.

    Raises
    ------
    DoesNotFit
        If it was taken already, or put right meanwhile.
    NotAllowed, SignInRefused, TooManyTries
        If the taker gave it, may not sign, or the PIN is wrong.
    """
    identify(doing, signer=taker, pin=pin, device=device, right=Right.LOG_WORK)
    told = _note(note)

    def do() -> dict[str, Any]:
        held = Handover.objects.select_for_update(no_key=True).get(pk=handover.pk)
        if held.given_by_id == taker.pk:
            raise NotAllowed(_("Whoever gives a shift does not take it: somebody else signs here."))
        if Handover.objects.filter(corrects=held).exists():
            raise DoesNotFit(_("This handover was put right; take the newer one."))
        earlier = HandoverTaken.objects.filter(handover=held).select_related("person").first()
        if earlier is not None:
            raise DoesNotFit(
                _("%(name)s has taken this shift already.") % {"name": earlier.person.name}
            )
        row = HandoverTaken(
            handover=held, at=doing.now, note=told, person=taker, written_at=doing.now
        )
        checked_fact(row)
        said = f"The handover of the {held.shift_name} shift is taken."
        row.entry = append_entry(
            plant_chain(),
            kind=TAKEN_ENTRY,
            happened_at=doing.now,
            written_at=doing.now,
            author=taker,
            meaning=EntryMeaning.ACCEPTED,
            sentence=f"{said} {sentence_end(told)}" if told else said,
            facts={"handover": held.pk, "given_in": held.entry.number, "note": told},
        )
        row.save()
        return answer_of(row, entry=row.entry)

    body = {"handover": handover, "taker": taker, "note": told}
    return Written.read(once(doing, "take_handover", body, do))


def correct_handover(
    doing: Doing,
    *,
    handover: Handover,
    signer: Person,
    pin: str,
    note: str,
    reason: str,
    device: str = UNKNOWN_DEVICE,
) -> Written:
    """Put the note of a handover right by a new one that names it; it is taken anew.

    What was read from the plant at the time stays as it was.

    Raises
    ------
    DoesNotFit
        If it was put right already, or nothing is different.
    NotAllowed
        If the signer neither gave it nor is a lead.
    """
    identify(doing, signer=signer, pin=pin, device=device, right=Right.LOG_WORK)
    told, why = _note(note), reason_given(reason)

    def do() -> dict[str, Any]:
        held = Handover.objects.select_for_update(no_key=True).get(pk=handover.pk)
        if held.given_by_id != signer.pk and not may(signer, Right.CORRECT_ANY_ENTRY):
            raise NotAllowed(_("Whoever gave it, or a lead, puts a handover right."))
        if Handover.objects.filter(corrects=held).exists():
            raise DoesNotFit(_("This handover was put right already; put the newer one right."))
        if held.note == told:
            raise DoesNotFit(_("Nothing is different. Nothing was written."))
        row = Handover(
            at=held.at,
            shift_name=held.shift_name,
            note=told,
            facts=held.facts,
            given_by=signer,
            corrects=held,
            written_at=doing.now,
        )
        return _written(
            doing,
            row,
            sentence=f"The handover of the {held.shift_name} shift is put right "
            f"({sentence_end(why).rstrip('.')}). ",
            corrects=held.entry,
        )

    body = {"handover": handover, "signer": signer, "note": told, "reason": why}
    return Written.read(once(doing, "correct_handover", body, do))


def _note(note: str) -> str:
    told = "\n".join(tidy(line) for line in note.splitlines()).strip()
    if len(told) > LONGEST_NOTE:
        raise Incomplete(
            _("The note is longer than %(most)d signs. Say what the next shift must know.")
            % {"most": LONGEST_NOTE}
        )
    return told


def _written(
    doing: Doing, row: Handover, *, sentence: str, corrects: Entry | None = None
) -> dict[str, Any]:
    sections = row.facts["sections"]
    counted = ", ".join(
        f"{each['key'].replace('_', ' ')} {len(each['lines'])}"
        for each in sections
        if each["lines"]
    )
    said = sentence + (f"Passed on: {counted}." if counted else "Nothing is open.")
    if row.note:
        said += f" {sentence_end(' '.join(row.note.split()))}"
    checked_fact(row)
    row.entry = append_entry(
        plant_chain(),
        kind=HANDOVER_ENTRY,
        happened_at=row.at,
        written_at=doing.now,
        author=row.given_by,
        meaning=EntryMeaning.DONE,
        sentence=said,
        facts={"shift": row.shift_name, "note": row.note, "sections": sections},
        corrects=corrects,
    )
    row.save()
    return answer_of(row, entry=row.entry)
