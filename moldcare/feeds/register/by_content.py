"""What a column means by what its cells hold, where its heading does not say."""

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Final

from django.utils.translation import gettext_lazy as _

from moldcare.feeds.register.halves import half_in
from moldcare.feeds.register.intervals import Interval, read_interval
from moldcare.feeds.register.resins import resin_group_of
from moldcare.feeds.register.tasks import family_of
from moldcare.feeds.tables import Matcher, Meaning, Row, Vocabulary
from moldcare.feeds.tables.rows import LONGEST_FACT, cell

#: So many cells must hold something, and this share of them what is looked for.
CELLS_AT_LEAST: Final = 3
SHARE_AT_LEAST: Final = 0.8
_CLASS: Final = re.compile(r"(?:spi\s*)?10[1-5]", re.I)
_FINISH: Final = re.compile(r"(?:spi\s*)?[a-d]-?[123]|vdi\s*(?:3400\s*)?(?:ref\s*)?[0-9]{2}", re.I)


def _is_interval(text: str) -> bool:
    found = read_interval(text, signs=None)
    return isinstance(found, Interval) and found.bare is None


#: A date is left out on purpose: when something is due next is not when it was done last.
#: In this order; a column is taken for the first that fits and that no other column is.
_HOLDS: Final[Mapping[Meaning, tuple[Callable[[str], bool], object]]] = {
    Meaning.TASK: (lambda text: bool(family_of(text)), _("by the tasks in it")),
    Meaning.INTERVAL: (_is_interval, _("by the intervals in it")),
    Meaning.HALF: (lambda text: len(text) > 1 and bool(half_in(text)), _("by the halves in it")),
    Meaning.MOLD_CLASS: (lambda text: bool(_CLASS.fullmatch(text)), _("by the classes in it")),
    Meaning.FINISH: (lambda text: bool(_FINISH.fullmatch(text)), _("by the grades in it")),
    Meaning.RESIN: (lambda text: bool(resin_group_of(text)), _("by the resins in it")),
}


def mold_by_content(
    taken: dict[int, tuple[Meaning, str]],
    *,
    below: Sequence[Row],
    width: int,
    match: Matcher | None,
) -> None:
    """Enter the column of molds in `taken`, if none is known and one holds molds of ours."""
    if match is None or any(meaning is Meaning.MOLD for meaning, _reason in taken.values()):
        return
    for place in range(width):
        texts = [text for row in below if (text := cell(row, place=place))]
        if place in taken or len(texts) < 2:
            continue
        if sum(match(text) is not None for text in texts) * 2 > len(texts):
            taken[place] = (Meaning.MOLD, str(_("by the molds in it")))
            return


def leave_other_sides(
    taken: dict[int, tuple[Meaning, str]],
    *,
    answered: Mapping[int, Meaning],
    below: Sequence[Row],
) -> None:
    """Leave a column that is headed "Side" and holds no halves, such as a page of a catalog."""
    for place, (meaning, _reason) in list(taken.items()):
        if meaning is not Meaning.HALF or place in answered:
            continue
        texts = [text for row in below if (text := cell(row, place=place))]
        if sum(half_in(text) is not None for text in texts) * 2 <= len(texts):
            del taken[place]


def rest_by_content(
    taken: dict[int, tuple[Meaning, str]],
    *,
    below: Sequence[Row],
    width: int,
    known: Vocabulary,
    tasks: Mapping[int, str],
) -> None:
    """Enter columns in `taken` that no heading tells, where nearly all their cells do.

    Parameters
    ----------
    taken : dict of int to (Meaning, str)
        Meaning and reason by place; changed.
    below : sequence of Row
        The first rows.
    width : int
        How many columns there are.
    known : Vocabulary
        Of the kind of table.
    tasks : mapping of int to str
        Columns headed by tasks; where there are any, no column names the task of each row.
    """
    found = {meaning for meaning, _reason in taken.values()}
    for meaning, (holds, reason) in _HOLDS.items():
        if meaning not in known.meanings or meaning in found or tasks:
            continue
        for place in range(width):
            if place in taken:
                continue
            texts = [text for row in below if (text := cell(row, place=place))]
            fitting = sum(len(text) <= LONGEST_FACT and holds(text) for text in texts)
            if len(texts) >= CELLS_AT_LEAST and fitting >= SHARE_AT_LEAST * len(texts):
                taken[place] = (meaning, str(reason))
                break
