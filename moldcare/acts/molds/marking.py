"""How a mold is marked: the photo of its plate."""

from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.answers import Written, answer_of
from moldcare.acts.doing import Doing, check_happened, once
from moldcare.acts.errors import DoesNotFit
from moldcare.acts.locks import lock_mold
from moldcare.acts.records import checked_fact
from moldcare.acts.rights import Right, require
from moldcare.acts.words import sentence_end, tidy
from moldcare.files.models import File
from moldcare.logbook.append import append_entry
from moldcare.molds.models import MarkingPhoto, Mold
from moldcare.molds.queries import marking_of
from moldcare.plant.queries import the_plant

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
