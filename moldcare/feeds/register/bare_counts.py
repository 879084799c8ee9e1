"""A column of a maintenance sheet that is headed "Shots" and no more, beside one of intervals."""

from collections.abc import Mapping, Sequence
from typing import Final

from django.utils.translation import gettext as _

from moldcare.feeds.register.intervals import Interval, read_interval
from moldcare.feeds.tables import Choice, Meaning, Question, Row, words_of
from moldcare.feeds.tables.numbers import Signs
from moldcare.feeds.tables.rows import LONGEST_FACT, cell
from moldcare.feeds.tables.text import without_brackets

#: What it is answered under what such a column holds.
BARE_COUNTS_KEY: Final = "bare_counts"
_CHOICES: Final = (Meaning.LAST_COUNT, Meaning.COUNT_INTERVAL, Meaning.REST)
_BARE: Final = frozenset(
    [
        *("cycles", "shots", "cycle count", "shot count", "schuss", "zyklen", "schusszahl"),
        *("ciclos", "disparos", "inyectadas"),
    ]
)


def settle_bare_counts(
    taken: dict[int, tuple[Meaning, str]],
    *,
    headings: Sequence[str],
    told: Mapping[int, Meaning],
    below: Sequence[Row],
    answers: Mapping[str, str],
) -> Question | None:
    """Ask what a column of bare counts holds: an interval, or the count of the last time.

    Parameters
    ----------
    taken : dict of int to (Meaning, str)
        Meaning and reason by place; changed.
    headings : sequence of str
        All headings, in order.
    told : mapping of int to Meaning
        What a person said, now or for an earlier file.
    below : sequence of Row
        The first rows.
    answers : mapping of str to str
        A person's answers by the keys of the questions.

    Notes
    -----
    It cannot be an interval where the column of intervals names one by count in the same rows.
    Where it stands right behind the days when tasks were last done, it is then taken for their
    counts, and shown so; anywhere else it may be where the mold stands today.
    """
    places = {meaning: place for place, (meaning, _reason) in taken.items()}
    place = places.get(Meaning.COUNT_INTERVAL)
    interval = places.get(Meaning.INTERVAL)
    if place is None or interval is None or Meaning.LAST_COUNT in places or place in told:
        return None
    if words_of(without_brackets(headings[place])) not in _BARE:
        return None
    answer = answers.get(BARE_COUNTS_KEY, "")
    if answer in set(_CHOICES):
        taken[place] = (Meaning(answer), _("as answered"))
        return None
    is_behind_days = places.get(Meaning.LAST_DONE) == place - 1
    assumed = None
    if is_behind_days and _is_beside_counts(place, interval=interval, below=below):
        assumed = Meaning.LAST_COUNT
        taken[place] = (assumed, _("behind the day when it was last done"))
    return Question(
        key=BARE_COUNTS_KEY,
        text=_("What does the column “%(column)s” hold?") % {"column": headings[place]},
        choices=tuple(Choice(value=each, text=each.words) for each in _CHOICES),
        assumed=assumed,
    )


def _is_beside_counts(place: int, *, interval: int, below: Sequence[Row]) -> bool:
    """Tell whether intervals by count stand in rows that have a number in this column, too."""
    for row in below:
        text = cell(row, place=interval)
        if not cell(row, place=place)[:1].isdigit() or not 0 < len(text) <= LONGEST_FACT:
            continue
        found = read_interval(text, signs=Signs.THOUSANDS)
        if isinstance(found, Interval) and (found.count or found.bare):
            return True
    return False
