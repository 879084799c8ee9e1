"""Cells that name a mold: what they show, what they hold, and what a spreadsheet lost."""

from django.utils.translation import gettext as _

from moldcare.feeds.tables.cell_formats import plain
from moldcare.feeds.tables.columns import Column
from moldcare.feeds.tables.matching import is_damaged_name
from moldcare.feeds.tables.problems import (
    damaged_name,
    flawed,
    lost_letters,
    shown_or_held,
    too_long,
)
from moldcare.feeds.tables.questions import Choice, Question
from moldcare.feeds.tables.rows import LONGEST_FACT, Held, Row, cell, held
from moldcare.feeds.tables.verdicts import Problem


def held_number(what: Held | None) -> str | None:
    """Give the digits of a number that a cell holds, None where it holds none."""
    if what is None or isinstance(what.value, bool) or not isinstance(what.value, int | float):
        return None
    return plain(what.value)


def zeros_key(column: Column) -> str:
    """Give the key of the question whether a mold is what its cells show or what they hold."""
    return f"zeros:{column.key}"


def zeros_in(row: Row, *, place: int | None) -> tuple[int, str, str] | None:
    """Give row, text shown and digits held, where a mold's cell shows more than its digits."""
    shown = cell(row, place=place)
    holds = held_number(held(row, place=place))
    return (row.number, shown, holds) if holds is not None and holds != shown else None


def mold_text(row: Row, *, place: int | None, zeros: str | None) -> tuple[str, Problem | None]:
    """Read the mold that a cell names, or say what keeps it from naming one.

    Parameters
    ----------
    row : Row
        The row.
    place : int or None
        Of the column of molds.
    zeros : str or None
        What was answered about cells that show more than they hold: "shown" or "held".
    """
    text = cell(row, place=place)
    if len(text) > LONGEST_FACT:
        return text[:LONGEST_FACT], too_long(_("name"))
    what = held(row, place=place)
    if what is not None and what.flaw is not None:
        return text, flawed(what.flaw, text=text)
    holds = held_number(what)
    if what is not None and holds is not None:
        if "E+" in what.number_format.upper():
            return text, damaged_name(text)
        if holds != text:
            answered = {"shown": text, "held": holds}.get(zeros or "")
            if answered is None:
                return text, shown_or_held(text, holds=holds)
            return answered, None
    if is_damaged_name(text):
        return text, damaged_name(text)
    return text, lost_letters(text)


def zeros_question(found: tuple[int, str, str], *, key: str) -> Question:
    """Ask whether molds are what cells show or what they hold."""
    row, shown, holds = found
    return Question(
        key=key,
        text=_("The cell in row %(row)d shows %(shown)s but holds %(holds)s. Which is the mold?")
        % {"row": row, "shown": shown, "holds": holds},
        choices=(
            Choice(value="shown", text=_("what cells show: %(shown)s") % {"shown": shown}),
            Choice(value="held", text=_("what cells hold: %(holds)s") % {"holds": holds}),
        ),
    )
