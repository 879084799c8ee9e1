"""The same mold spelled two ways: found, asked, and never merged silently."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from django.utils.translation import gettext as _

from moldcare.core.errors import TableRefused
from moldcare.feeds.tables import Choice, Match, Matcher, Problem, Proposal, Question
from moldcare.feeds.tables.problems import not_ours, several, waiting

#: A plant with more molds keeps no register in a spreadsheet.
NUMBERS_AT_MOST: Final = 100_000
#: Beyond, the pairs are asked about in one question.
QUESTIONS_AT_MOST: Final = 20
_TOKEN: Final = re.compile(r"[^\W_]+")
_PREFIX: Final = re.compile(
    r"(?:mold|mould|tool|die|werkzeug|wkz|wz|form|molde|utillaje|m|w|t|no|nr|num|id)(?=[0-9])"
)
_WORDS: Final = frozenset(
    [
        "mold",
        "mould",
        "tool",
        "die",
        "werkzeug",
        "wkz",
        "wz",
        "form",
        "molde",
        "utillaje",
        "m",
        "w",
        "t",
        "no",
        "nr",
        "num",
        "id",
        "number",
    ]
)


def bare_number(text: str) -> str:
    """Give a mold's number without words, signs and blanks around it; zeros stay.

    Examples
    --------
    >>> bare_number("mold 0417"), bare_number("M-0417"), bare_number("M0417"), bare_number("417")
    ('0417', '0417', '0417', '417')
    >>> bare_number("K-12"), bare_number("0417 A")
    ('k12', '0417a')
    """
    words = _TOKEN.findall(text.casefold())
    while len(words) > 1 and words[0] in _WORDS:
        words.pop(0)
    joined = "".join(words)
    return _PREFIX.sub("", joined, count=1) if _PREFIX.match(joined) else joined


@dataclass(frozen=True, kw_only=True, slots=True)
class Named:
    """A mold as a row names it: under which number it goes, ours, and what speaks against it."""

    number: str
    mold: Match | None = None
    problem: Problem | None = None


@dataclass(slots=True)
class Spellings:
    """How the molds of a file are spelled, with the first row of each spelling.

    Parameters
    ----------
    match : callable or None
        Tells which of our molds a text names.
    answers : mapping
        ``same:<number>`` and ``spellings``: "same" or "apart".
    takes_new : bool
        True where a mold that is none of ours is a new one.
    """

    match: Matcher | None
    answers: Mapping[str, str]
    takes_new: bool
    first: dict[str, int] = field(default_factory=dict)
    rows: dict[str, int] = field(default_factory=dict)
    groups: dict[str, list[str]] = field(default_factory=dict)
    ours: dict[str, Match] = field(default_factory=dict)
    named: dict[str, Named] = field(default_factory=dict)
    folded: dict[str, str] = field(default_factory=dict)

    def add(self, text: str, *, row: int) -> None:
        """Take one row's mold into account."""
        if text in self.rows:
            self.rows[text] += 1
            return
        if len(self.rows) >= NUMBERS_AT_MOST:
            raise TableRefused(
                _("This table names more than %(count)d molds; that is no register.")
                % {"count": NUMBERS_AT_MOST},
                row=row,
            )
        self.first[text] = row
        self.folded.setdefault(text.casefold(), text)
        self.rows[text] = 1

    def settle(self) -> None:
        """Gather spellings that may be one mold, ours among them."""
        by_bare: dict[str, list[str]] = {}
        for text in self.first:
            by_bare.setdefault(bare_number(text), []).append(text)
        for bare, texts in by_bare.items():
            found = [self._found(text) for text in texts]
            keys = {one.key for one in found if isinstance(one, Match)}
            is_one_of_ours = len(keys) == 1 and all(isinstance(one, Match) for one in found)
            ours = next((one for one in found if isinstance(one, Match)), None)
            if ours is None and all(one is None for one in found):
                ours = self._ours_called(bare)
            if ours is not None:
                self.ours[bare] = ours
            one_spelling = len({text.casefold() for text in texts}) == 1
            if is_one_of_ours or (one_spelling and (ours is None or found[0] is not None)):
                continue
            if len(keys) == len(texts):
                # Each of them is one of ours by itself: nothing is in doubt.
                continue
            self.groups[bare] = texts

    def _found(self, text: str) -> Match | tuple[Match, ...] | None:
        return self.match(text) if self.match is not None else None

    def _ours_called(self, bare: str) -> Match | None:
        found = self._found(bare)
        return found if isinstance(found, Match) else None

    def answer(self, bare: str) -> str:
        """Return what was said about spellings that may be one mold; empty where nothing was."""
        said = self.answers.get(f"same:{bare}") or self.answers.get("spellings") or ""
        return said if said in ("same", "apart") else ""

    def questions(self) -> list[Question]:
        """Ask about spellings that may be one mold."""
        asked = [bare for bare in self.groups if not self.answer(bare)]
        if len(asked) > QUESTIONS_AT_MOST:
            examples = "; ".join(self._shown(bare) for bare in asked[:3])
            return [
                Question(
                    key="spellings",
                    text=_(
                        "%(count)d molds are spelled two ways, such as %(examples)s. Is each one "
                        "mold?"
                    )
                    % {"count": len(asked), "examples": examples},
                    choices=_same_or_apart(),
                )
            ]
        return [
            Question(
                key=f"same:{bare}",
                text=_("%(spellings)s: is this one mold?") % {"spellings": self._shown(bare)},
                choices=_same_or_apart(),
            )
            for bare in asked
        ]

    def _shown(self, bare: str) -> str:
        parts = [
            _("“%(text)s” in row %(row)d") % {"text": text, "row": self.first[text]}
            for text in self.groups[bare]
        ]
        ours = self.ours.get(bare)
        if ours is not None and ours.label not in self.groups[bare]:
            parts.append(_("“%(text)s” of ours") % {"text": ours.label})
        return ", ".join(parts)

    def of(self, text: str) -> Named:
        """Return under which number a text goes."""
        if text not in self.named:
            self.named[text] = self._named(text)
        return self.named[text]

    def _named(self, text: str) -> Named:
        bare = bare_number(text)
        found = self._found(text)
        if isinstance(found, tuple):
            return Named(number=text, problem=several(text, found=found))
        is_certain = isinstance(found, Match) and not self.takes_new
        if bare in self.groups and not is_certain:
            answer = self.answer(bare)
            ours = self.ours.get(bare)
            if answer == "same":
                number = ours.label if ours is not None else self.groups[bare][0]
                return Named(number=number, mold=ours)
            if not answer:
                return Named(
                    number=text,
                    mold=found,
                    problem=waiting(
                        _("%(spellings)s: is this one mold?") % {"spellings": self._shown(bare)},
                        proposals=tuple(
                            Proposal(value=choice.value, text=choice.text)
                            for choice in _same_or_apart()
                        ),
                    ),
                )
        if found is not None:
            return Named(number=found.label, mold=found)
        if self.match is not None and not self.takes_new:
            return Named(number=text, problem=not_ours("mold", text=text))
        # Spellings that differ in case alone are one mold, as our own numbers are.
        return Named(number=self.folded.get(text.casefold(), text))


def _same_or_apart() -> tuple[Choice, ...]:
    return (
        Choice(value="same", text=_("one mold")),
        Choice(value="apart", text=_("different molds")),
    )
