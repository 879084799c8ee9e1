"""What becomes of each row of a file, and why."""

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from django.utils.translation import gettext_lazy as _


class Verdict(StrEnum):
    """The verdicts on a row, in the words that the command prints."""

    ACCEPTED = "accepted"
    CHANGED = "changed"
    ESTIMATED = "estimated"
    DUPLICATE = "duplicate"
    DIFFERS = "differs"
    HELD = "held"
    REFUSED = "refused"
    SKIPPED = "skipped"
    NOT_OURS = "not_ours"
    NEEDS_ANSWER = "needs_answer"

    @property
    def words(self) -> str:
        """What it means, for people."""
        return str(_WORDS[self])


_WORDS = {
    Verdict.ACCEPTED: _("accepted"),
    Verdict.CHANGED: _("changed as chosen"),
    Verdict.ESTIMATED: _("estimated: taken once somebody says so"),
    Verdict.DUPLICATE: _("already here"),
    Verdict.DIFFERS: _("different from what is here: left unless chosen"),
    Verdict.HELD: _("held until somebody decides"),
    Verdict.REFUSED: _("refused"),
    Verdict.SKIPPED: _("skipped: nothing in it"),
    Verdict.NOT_OURS: _("not ours: assign it or leave it"),
    Verdict.NEEDS_ANSWER: _("waits for an answer"),
}


@dataclass(frozen=True, kw_only=True, slots=True)
class Proposal:
    """One way to mend a row: what to answer or enter, and what that means."""

    value: str
    text: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Problem:
    """Why a row cannot be taken as it stands, and the verdict that follows."""

    verdict: Verdict
    reason: str
    proposals: tuple[Proposal, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class RowVerdict:
    """The verdict on one row of a file, as the preview and the command show it.

    Parameters
    ----------
    row : int
        Its row, counted from 1 as a spreadsheet does.
    column : str
        The letter of the column the value stands in.
    verdict : Verdict
        What becomes of it.
    reason : str
        Why, in a sentence; may be empty where it is accepted.
    mold, counter : str or None
        Ours where it was matched, else as the file has it.
    at : datetime or None
        When it was read, in UTC.
    value : int or None
        What was read.
    proposals : tuple of Proposal
        Ways to mend it.
    task : str or None
        For a maintenance sheet: the task.
    choice_key : str
        Where the row differs from what is here: what it is answered under that the file is right.
    """

    row: int
    column: str
    verdict: Verdict
    reason: str
    mold: str | None
    counter: str | None
    at: datetime | None
    value: int | None
    proposals: tuple[Proposal, ...] = ()
    task: str | None = None
    choice_key: str = ""

    def as_json(self) -> dict[str, object]:
        """Give the verdict as the command prints it."""
        line: dict[str, object] = {
            "row": self.row,
            "column": self.column,
            "verdict": self.verdict.value,
            "reason": self.reason,
            "mold": self.mold,
            "counter": self.counter,
            "at": None if self.at is None else self.at.isoformat().replace("+00:00", "Z"),
            "value": self.value,
            "proposals": [
                {"value": proposal.value, "text": proposal.text} for proposal in self.proposals
            ],
        }
        if self.task is not None:
            line["task"] = self.task
        return line


def verdicts_hash(rows: Iterable[RowVerdict]) -> str:
    """Return a hash over verdicts and their reasons: another one where any row is judged anew."""
    digest = hashlib.sha256()
    for row in rows:
        said = (row.row, row.column, row.verdict.value, row.reason, row.mold, row.task)
        digest.update(repr(said).encode())
    return digest.hexdigest()
