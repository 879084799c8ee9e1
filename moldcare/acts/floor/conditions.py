"""Noting the condition of a mold."""

from datetime import datetime
from typing import Any

from moldcare.acts.answers import Written, answer_of
from moldcare.acts.doing import Doing, check_happened, once
from moldcare.acts.locks import lock_mold
from moldcare.acts.records import checked_fact
from moldcare.acts.rights import Right, require
from moldcare.acts.words import sentence_end, tidy
from moldcare.logbook.append import append_entry
from moldcare.molds.models import ConditionNote, Mold
from moldcare.plant.queries import the_plant

CONDITION_WORDS = {
    ConditionNote.Condition.FIT: "fit to run",
    ConditionNote.Condition.NEEDS_WORK: "needs work",
    ConditionNote.Condition.INCOMPLETE: "incomplete",
    ConditionNote.Condition.OUT_OF_USE: "out of use",
}
_NEXT_WORDS = {
    ConditionNote.Next.PART: "a part",
    ConditionNote.Next.TRIAL: "a trial",
    ConditionNote.Next.DECISION: "a decision",
    ConditionNote.Next.OUTSIDE: "outside work",
}


def note_condition(
    doing: Doing,
    *,
    mold: Mold,
    at: datetime,
    condition: str,
    needs_next: str = "",
    note: str = "",
) -> Written:
    """Note what state a mold was found in, and what it needs next.

    Raises
    ------
    Incomplete
        If a word is not one of the known ones, or the note is too long.
    """
    require(doing.person, Right.LOG_WORK)

    def do() -> dict[str, Any]:
        check_happened(at, doing=doing, plant=the_plant())
        held = lock_mold(mold)
        row = ConditionNote(
            mold=held,
            at=at,
            condition=condition,
            needs_next=needs_next,
            note=tidy(note),
            person=doing.person,
            written_at=doing.now,
        )
        checked_fact(row)
        sentence = CONDITION_WORDS[ConditionNote.Condition(condition)].capitalize()
        if needs_next:
            sentence += f"; needs {_NEXT_WORDS[ConditionNote.Next(needs_next)]} next"
        sentence += "."
        row.entry = append_entry(
            held.chain,
            kind="condition",
            happened_at=at,
            written_at=doing.now,
            author=doing.person,
            sentence=f"{sentence} {sentence_end(row.note)}" if row.note else sentence,
            facts={
                "mold": held.number,
                "condition": condition,
                "needs_next": needs_next,
                "note": row.note,
            },
        )
        row.save()
        return answer_of(row, entry=row.entry)

    body = {
        "mold": mold,
        "at": at,
        "condition": condition,
        "needs_next": needs_next,
        "note": note,
    }
    return Written.read(once(doing, "note_condition", body, do))
