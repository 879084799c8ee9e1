"""What the reader asks instead of guessing, and what it was told."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from django.utils.translation import gettext as _

from moldcare.core.errors import TableRefused

#: Words that the command's ``--dates`` takes beside a time of day and an instant.
DATE_WORDS: Final = {
    "day-first": ("dates", "day_first"),
    "month-first": ("dates", "month_first"),
    "year-first": ("dates", "year_first"),
    "summer": ("clock_twice", "first"),
    "winter": ("clock_twice", "second"),
    "moved-on": ("clock_never", "moved_on"),
    "moved-back": ("clock_never", "moved_back"),
    "1900": ("serial_days", "1900"),
    "1904": ("serial_days", "1904"),
}


@dataclass(frozen=True, kw_only=True, slots=True)
class Choice:
    """One possible answer: the value to answer with and what it means."""

    value: str
    text: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Question:
    """Something the file does not settle.

    Parameters
    ----------
    key : str
        Name to answer under; stable from one reading of the file to the next.
    text : str
        The question as a person reads it.
    choices : tuple of Choice
        Possible answers; empty where the answer is typed (a time, an instant).
    assumed : str or None
        Answer taken until somebody says otherwise. It is shown, and rows do not wait for it.
        None: the rows concerned wait.
    """

    key: str
    text: str
    choices: tuple[Choice, ...] = ()
    assumed: str | None = None

    @property
    def is_open(self) -> bool:
        """True where rows wait for the answer."""
        return self.assumed is None


def answers_from_command(
    *,
    dates: str | None = None,
    columns: Iterable[str] = (),
    more: Mapping[str, str] | None = None,
) -> dict[str, str]:
    """Answers as `read_readings` takes them, from what was typed on a command line.

    Parameters
    ----------
    dates : str or None
        Words with commas between: ``day-first``, ``month-first``, ``year-first``; a time of day
        such as ``06:00`` for rows that name only a day; an instant such as
        ``2026-04-03T06:00`` for files that name none; ``summer`` or ``winter`` for the hour
        that comes twice; ``moved-on`` or ``moved-back`` for the hour that is skipped;
        ``1900`` or ``1904`` for days written as serial numbers.
    columns : iterable of str
        ``NAME=MEANING`` each, for example ``Stand=value``; a number's style may follow the
        meaning: ``Stand=value:thousands`` or ``Stand=value:decimal``; the same way
        ``Mold=mold:shown`` or ``Mold=mold:held``.
    more : mapping or None
        Further answers by key, kept as they are.

    Raises
    ------
    TableRefused
        When a word is not one of these.

    Examples
    --------
    >>> answers_from_command(dates="day-first, 06:00", columns=["Stand=value"])
    {'dates': 'day_first', 'time_of_day': '06:00', 'column:stand': 'value'}
    """
    answers: dict[str, str] = {}
    for word in (dates or "").split(","):
        word = word.strip()
        if not word:
            continue
        if word.casefold() in DATE_WORDS:
            key, value = DATE_WORDS[word.casefold()]
            answers[key] = value
        elif _is_instant(word):
            answers["at_for_all"] = word
        elif ":" in word:
            answers["time_of_day"] = word
        else:
            raise TableRefused(
                _("“%(word)s” is no word for dates: try day-first, month-first or 06:00.")
                % {"word": word}
            )
    for column in columns:
        name, equals, meaning = column.rpartition("=")
        if not equals or not name.strip() or not meaning.strip():
            raise TableRefused(
                _("“%(column)s” should read NAME=MEANING, for example Stand=value.")
                % {"column": column}
            )
        meaning, _colon, style = meaning.strip().partition(":")
        key = column_key(name)
        answers[f"column:{key}"] = meaning.strip()
        if style.strip():
            kind = "zeros" if style.strip() in {"shown", "held"} else "numbers"
            answers[f"{kind}:{key}"] = style.strip()
    answers.update(more or {})
    return answers


def column_key(name: str) -> str:
    """Give a column's name as it stands in the keys of questions and answers."""
    return " ".join(name.split()).casefold()


def _is_instant(word: str) -> bool:
    if len(word) < len("2026-04-03 06:00"):
        return False
    try:
        datetime.fromisoformat(word)
    except ValueError:
        return False
    return True
