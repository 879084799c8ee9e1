"""Cautions of the plant's own, beside the usual ones; these are never taken away."""

from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.answers import Written, answer_of
from moldcare.acts.doing import Doing, once
from moldcare.acts.entries import plant_entry
from moldcare.acts.errors import DoesNotFit, NotFound
from moldcare.acts.records import add_record
from moldcare.acts.rights import Right, require
from moldcare.acts.words import reason_given, sentence_end, tidy
from moldcare.plant.models import CautionLine
from moldcare.plant.queries import cautions_in_force


def add_caution(doing: Doing, *, text: str, family_key: str = "") -> Written:
    """Add a caution that sheets and orders of a care family print; without one, all of them.

    Raises
    ------
    DoesNotFit
        If it stands there already.
    Incomplete
        If it says nothing, or too much.
    """
    require(doing.person, Right.EDIT_SHIFTS)

    def do() -> dict[str, Any]:
        row = CautionLine(text=tidy(text), family_key=tidy(family_key), added_at=doing.now)
        if cautions_in_force().filter(text=row.text, family_key=row.family_key).exists():
            raise DoesNotFit(_("This caution stands there already."))
        add_record(row)
        where = f" for {row.family_key}" if row.family_key else ""
        entry = plant_entry(
            doing,
            kind="caution_added",
            sentence=f"Caution{where}: {sentence_end(row.text)}",
            facts={"text": row.text, "family": row.family_key},
        )
        return answer_of(row, entry=entry)

    body = {"text": text, "family_key": family_key}
    return Written.read(once(doing, "add_caution", body, do))


def withdraw_caution(doing: Doing, *, caution: CautionLine, reason: str) -> Written:
    """Print a caution of the plant's own no longer; what was printed with it stays.

    Raises
    ------
    NotFound
        If it was withdrawn already.
    """
    require(doing.person, Right.EDIT_SHIFTS)

    def do() -> dict[str, Any]:
        words = reason_given(reason)
        held = cautions_in_force().select_for_update(no_key=True).filter(pk=caution.pk).first()
        if held is None:
            raise NotFound(_("This caution was withdrawn already; nothing was written."))
        held.withdrawn_at = doing.now
        held.save(update_fields=["withdrawn_at"])
        entry = plant_entry(
            doing,
            kind="caution_withdrawn",
            sentence=f"Caution withdrawn: {sentence_end(held.text)} {sentence_end(words)}",
            facts={"text": held.text, "family": held.family_key, "reason": words},
        )
        return answer_of(held, entry=entry)

    body = {"caution": caution, "reason": reason}
    return Written.read(once(doing, "withdraw_caution", body, do))
