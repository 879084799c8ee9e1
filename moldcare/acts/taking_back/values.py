"""What became of an import that was taken back."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Self

from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing
from moldcare.acts.errors import DoesNotFit
from moldcare.acts.words import reason_given, sentence_end, tidy
from moldcare.logbook.append import EntryDraft, append_entries, plant_chain

#: So many of the things that stay are named in a sentence.
NAMED = 3


@dataclass(frozen=True, kw_only=True, slots=True)
class Undone:
    """What became of an import that was taken back.

    Parameters
    ----------
    entry_id : int
        The plant's entry that says so.
    counts : dict of str to int
        How many molds and rules were withdrawn, changes put back, and so on.
    stayed : list of dict
        What has later facts on it: its row, what it is, and why it stayed.
    entries : list of int
        All entries that were written.
    """

    entry_id: int
    counts: dict[str, int]
    stayed: list[dict[str, Any]]
    entries: list[int]


@dataclass(frozen=True, kw_only=True, slots=True)
class Work:
    """What everything in one undoing needs, and what it has come to so far."""

    doing: Doing
    file: str
    batch: int
    reason: str
    stayed: list[dict[str, Any]] = field(default_factory=list)
    entries: list[int] = field(default_factory=list)

    @classmethod
    def begun(cls, doing: Doing, *, batch: int, name: str, reason: str) -> Self:
        """Begin the undoing of an import; the hand-in belongs to the act around it."""
        return cls(
            doing=replace(doing, hand_in=None),
            file=tidy(name),
            batch=batch,
            reason=reason_given(reason),
        )

    @property
    def said(self) -> str:
        """How entries begin."""
        return f"The import of the file {self.file} was taken back"

    @property
    def facts(self) -> dict[str, Any]:
        """What entries hold of the import."""
        return {"file": self.file, "batch": self.batch, "reason": self.reason}

    def stays(self, what: str, *, row: int, why: str) -> None:
        """Write down that something stays as it is, and why."""
        self.stayed.append({"row": row, "what": what, "why": why})

    def append(self, drafts: Sequence[EntryDraft]) -> list[int]:
        """Append entries; return their keys."""
        keys = append_entries(
            drafts,
            happened_at=self.doing.now,
            written_at=self.doing.now,
            author=self.doing.person,
        )
        self.entries.extend(keys)
        return keys

    def refuse_if_all_stays(self) -> None:
        """Raise DoesNotFit where something has to stay and nothing goes."""
        if not self.stayed:
            return
        shown = self.stayed[:NAMED]
        said = " ".join(f"{each['what']}: {each['why']}" for each in shown)
        rest = len(self.stayed) - len(shown)
        more = _("And %(n)d more.") % {"n": rest} if rest else ""
        raise DoesNotFit(
            " ".join(filter(None, (_("Nothing of it can be taken back."), said, more)))
        )

    def end(self, *, counts: Mapping[str, int], sentence: str = "", **facts: Any) -> Undone:
        """Write the plant's entry; return what the undoing came to.

        Raises
        ------
        DoesNotFit
            Where something has to stay and nothing goes.
        """
        counts = {word: number for word, number in counts.items() if number}
        if not counts:
            self.refuse_if_all_stays()
        said = ", ".join(f"{number} {word.replace('_', ' ')}" for word, number in counts.items())
        words = f"{self.said}: {said or 'nothing'}."
        if self.stayed:
            words += f" {len(self.stayed)} stayed, with later facts on them."
        (entry,) = self.append(
            [
                EntryDraft(
                    chain=plant_chain().pk,
                    kind="import taken back",
                    sentence=f"{words}{sentence} Reason: {sentence_end(self.reason)}",
                    facts={
                        **self.facts,
                        "counts": dict(counts),
                        "stayed": len(self.stayed),
                        **facts,
                    },
                )
            ]
        )
        return Undone(
            entry_id=entry, counts=counts, stayed=list(self.stayed), entries=list(self.entries)
        )
