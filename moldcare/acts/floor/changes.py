"""Noting a change of the resin or of the mold itself: evidence is not mixed across it."""

from datetime import datetime
from enum import StrEnum
from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.answers import Written, answer_of
from moldcare.acts.doing import Doing, check_happened, checked, once
from moldcare.acts.errors import Incomplete
from moldcare.acts.locks import lock_mold
from moldcare.acts.rights import Right, require
from moldcare.acts.words import reason_given, sentence_end, tidy
from moldcare.logbook.append import append_entry
from moldcare.molds.models import Mold
from moldcare.plant.queries import the_plant


class Change(StrEnum):
    """What was changed; the word is also the kind of the entry."""

    RESIN = "resin_changed"
    MOLD = "mold_changed"


def note_change(
    doing: Doing,
    *,
    mold: Mold,
    at: datetime,
    change: Change,
    text: str,
    resin: str | None = None,
    resin_group: str | None = None,
    filler: str | None = None,
) -> Written:
    """Note that a mold runs another resin from now on, or that the mold itself was changed.

    The answer's row is the mold. For a change of resin, what is given is kept on the mold too;
    intervals are left as they are: whoever edits rules decides about them.

    Raises
    ------
    Incomplete
        If it is not said what was changed, or a resin is given with a change of the mold.
    """
    require(doing.person, Right.LOG_WORK)
    given = {"resin": resin, "resin_group": resin_group, "filler": filler}

    def do() -> dict[str, Any]:
        check_happened(at, doing=doing, plant=the_plant())
        held = lock_mold(mold)
        words = reason_given(text)
        new = {name: tidy(value) for name, value in given.items() if value is not None}
        if new and change != Change.RESIN:
            raise Incomplete(_("A resin belongs to a change of resin. Enter the two one by one."))
        old = {name: getattr(held, name) for name in new}
        for name, value in new.items():
            setattr(held, name, value)
        if new:
            untouched = tuple(f.name for f in held._meta.fields if f.name not in new)
            checked(held, exclude=untouched)
            held.save(update_fields=list(new))
        what = "Resin changed" if change == Change.RESIN else "The mold itself was changed"
        entry = append_entry(
            held.chain,
            kind=change.value,
            happened_at=at,
            written_at=doing.now,
            author=doing.person,
            sentence=f"{what}: {sentence_end(words)}",
            facts={"mold": held.number, "text": words, "before": old, "after": new},
        )
        return answer_of(held, entry=entry)

    body = {"mold": mold, "at": at, "change": change.value, "text": text, **given}
    return Written.read(once(doing, "note_change", body, do))
