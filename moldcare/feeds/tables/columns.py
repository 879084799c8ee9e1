"""The columns of a table: their names, and what was said about them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from moldcare.core.errors import TableRefused
from moldcare.feeds.tables.headings import Vocabulary
from moldcare.feeds.tables.meanings import Meaning
from moldcare.feeds.tables.questions import Choice, Question, column_key
from moldcare.feeds.tables.text import clean, letter_of


@dataclass(frozen=True, kw_only=True, slots=True)
class Column:
    """One column: where it is, what it is called, what it means, and why.

    Parameters
    ----------
    place : int
        Counted from 0.
    letter, name : str
        As a spreadsheet names it; its heading, or "column C" where it has none.
    meaning : Meaning
        `Meaning.REST` where nobody needs it.
    reason : str
        Why it has this meaning.
    mold_text : str or None
        In a wide table: the mold whose readings it holds.
    task_text : str or None
        In a sheet with a column a task: the task that it is headed by.
    how : str
        How its values are read, once that is decided; for the preview.
    """

    place: int
    letter: str
    name: str
    meaning: Meaning
    reason: str
    mold_text: str | None = None
    task_text: str | None = None
    how: str = ""

    @property
    def key(self) -> str:
        """Its name in the keys of questions and answers."""
        return column_key(self.name)


def column_names(headings: Sequence[str]) -> list[str]:
    """Give each column a name of its own: its heading, or its letter where it has none."""
    names: list[str] = []
    seen: set[str] = set()
    for place, heading in enumerate(headings):
        name = " ".join(heading.split()) or _("column %(letter)s") % {"letter": letter_of(place)}
        if column_key(name) in seen:
            name = f"{name} ({letter_of(place)})"
        seen.add(column_key(name))
        names.append(name)
    return names


def answered_columns(
    names: Sequence[str], *, answers: Mapping[str, str], known: Vocabulary
) -> dict[int, Meaning]:
    """Take answers about columns, by name or by letter.

    Raises
    ------
    TableRefused
        When one names no column, or nothing that a column of this kind of table can mean.
    """
    answered: dict[int, Meaning] = {}
    keys = [column_key(name) for name in names]
    letters = [letter_of(place).casefold() for place in range(len(names))]
    for key, value in answers.items():
        subject, _colon, name = key.partition(":")
        if subject == "column":
            place = _place(column_key(clean(name)), keys=keys, letters=letters)
            meaning = value
        elif subject == "meaning":
            place = _place(column_key(clean(value)), keys=keys, letters=letters)
            meaning = name
        else:
            continue
        if meaning not in known.meanings:
            raise TableRefused(
                _("“%(meaning)s” is no meaning of a column. Known: %(known)s.")
                % {"meaning": meaning, "known": ", ".join(known.meanings)}
            )
        answered[place] = Meaning(meaning)
    return answered


def _place(name: str, *, keys: Sequence[str], letters: Sequence[str]) -> int:
    for names in (keys, letters):
        if name in names:
            return names.index(name)
    raise TableRefused(
        _("There is no column “%(name)s”. There are: %(names)s.")
        % {"name": name, "names": ", ".join(keys)}
    )


def _are_called_alike(names: Sequence[str], *, places: Sequence[int]) -> bool:
    """Tell columns under the very same heading: nothing says which of them is meant."""
    first, *others = places
    return any(names[place] == f"{names[first]} ({letter_of(place)})" for place in others)


def rival_questions(
    rivals: Mapping[Meaning, tuple[int, ...]],
    *,
    names: Sequence[str],
    taken: Mapping[int, tuple[Meaning, str]],
    answers: Mapping[str, str],
) -> list[Question]:
    """Ask which of several columns has a meaning that only one can have."""
    questions = []
    for meaning, places in rivals.items():
        if f"meaning:{meaning}" in answers or places[0] not in taken:
            continue
        text = _("Several columns may be the %(meaning)s. Which one is it?")
        assumed: str | None = names[places[0]]
        if meaning is Meaning.VALUE:
            assumed = None
        elif _are_called_alike(names, places=places):
            assumed = None
            text = _(
                "Several columns are called “%(name)s”. Which one is the %(meaning)s? Or say of "
                "each column what it means."
            )
        questions.append(
            Question(
                key=f"meaning:{meaning}",
                text=text % {"meaning": meaning.words, "name": names[places[0]]},
                choices=tuple(Choice(value=names[place], text=names[place]) for place in places),
                assumed=assumed,
            )
        )
    return questions
