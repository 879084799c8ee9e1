"""What an auditor asks of a mold: how it is marked, and how it was changed from what it was."""

from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.answers import Written, answer_of
from moldcare.acts.doing import Doing, check_happened, once
from moldcare.acts.errors import DoesNotFit, Incomplete
from moldcare.acts.locks import lock_mold
from moldcare.acts.records import change_record, checked_fact
from moldcare.acts.rights import Right, require
from moldcare.acts.words import sentence_end, tidy
from moldcare.files.models import File
from moldcare.logbook.append import append_entry
from moldcare.molds.models import MarkingPhoto, Mold
from moldcare.molds.queries import MODIFICATION, marking_of
from moldcare.plant.queries import the_plant

MOST_WORDS = 400
_PICTURES = frozenset({File.Kind.JPEG, File.Kind.PNG, File.Kind.WEBP})


def attach_marking(
    doing: Doing, *, mold: Mold, photo: File, at: datetime, shows: str = ""
) -> Written:
    """Keep a photo of a mold's plate as its marking; the newest one is shown and printed.

    Raises
    ------
    DoesNotFit
        If it is no picture, or is the mold's marking already.
    Incomplete
        If what it shows is said in more words than are kept.
    """
    require(doing.person, Right.LOG_WORK)

    def do() -> dict[str, Any]:
        check_happened(at, doing=doing, plant=the_plant())
        held = lock_mold(mold)
        if photo.kind not in _PICTURES:
            raise DoesNotFit(_("Take a photo of the plate: a document does not show it."))
        newest = marking_of(held)
        words = tidy(shows)
        if newest is not None and (newest.file_id, newest.shows) == (photo.pk, words):
            raise DoesNotFit(_("This photo is the mold's marking already; nothing was written."))
        said = f" It shows: {sentence_end(words)}" if words else ""
        row = MarkingPhoto(
            mold=held, file=photo, at=at, shows=words, person=doing.person, written_at=doing.now
        )
        checked_fact(row)
        row.entry = append_entry(
            held.chain,
            kind="marking_photo",
            happened_at=at,
            written_at=doing.now,
            author=doing.person,
            sentence=f"Photo of the plate and its marking kept.{said}",
            facts={"mold": held.number, "sha256": photo.sha256, "shows": words},
        )
        row.save()
        return answer_of(row, entry=row.entry)

    body = {"mold": mold, "photo": photo.sha256, "at": at, "shows": shows}
    return Written.read(once(doing, "attach_marking", body, do))


def note_modification(
    doing: Doing, *, mold: Mold, what: str, at: datetime, drawing_revision: str = ""
) -> Written:
    """Write down that a mold was changed from what it was: steel, inserts, water, gate.

    `drawing_revision`, where it is given, is what the mold agrees with from now on.

    Raises
    ------
    Incomplete
        If nothing is said, or a text is too long.
    NotAllowed
        If somebody who may not edit molds names another revision of the drawing.
    """
    require(doing.person, Right.LOG_WORK)
    if tidy(drawing_revision):
        require(doing.person, Right.EDIT_MOLDS)

    def do() -> dict[str, Any]:
        check_happened(at, doing=doing, plant=the_plant())
        held = lock_mold(mold)
        words, revision = tidy(what), tidy(drawing_revision)
        if not words:
            raise Incomplete(_("Say what was changed on the mold."))
        if len(words) > MOST_WORDS:
            raise Incomplete(
                _("Say it in at most %(most)d signs; a drawing tells the rest.")
                % {"most": MOST_WORDS}
            )
        was = held.drawing_revision
        facts: dict[str, Any] = {"mold": held.number, "what": words}
        sentence = f"Modification: {sentence_end(words)}"
        if revision and revision != was:
            facts["before"], facts["after"] = change_record(
                held, changes={"drawing_revision": revision}, allowed=("drawing_revision",)
            )
            sentence += f" Drawing revision: {was or '-'} → {revision}."
        entry = append_entry(
            held.chain,
            kind=MODIFICATION,
            happened_at=at,
            written_at=doing.now,
            author=doing.person,
            sentence=sentence,
            facts=facts,
        )
        return answer_of(held, entry=entry)

    body = {"mold": mold, "what": what, "at": at, "drawing_revision": drawing_revision}
    return Written.read(once(doing, "note_modification", body, do))
