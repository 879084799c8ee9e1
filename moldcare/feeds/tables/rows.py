"""Rows and cells as every kind of file gives them."""

from datetime import date, datetime, time, timedelta
from enum import StrEnum
from typing import Final, NamedTuple

from moldcare.feeds.tables.text import clean


class Flaw(StrEnum):
    """What a workbook's cell has lost, or does not tell."""

    TOO_LONG = "too_long"
    NOT_CALCULATED = "not_calculated"
    ERROR = "error"


class Held(NamedTuple):
    """What a workbook's cell holds beside the text it shows.

    Parameters
    ----------
    value : int, float, bool, datetime, date, time, timedelta or None
        Number or date held; None for text.
    number_format : str
        The format it is shown through.
    flaw : Flaw or None
        What is wrong with it.
    is_merged : bool
        True where the cell only repeats the first of merged ones.
    """

    value: int | float | bool | datetime | date | time | timedelta | None
    number_format: str
    flaw: Flaw | None = None
    is_merged: bool = False


class Row(NamedTuple):
    """One row of a file.

    Parameters
    ----------
    number : int
        Its place counted from 1, empty rows counted too, as a spreadsheet shows it.
    cells : list of str
        Texts as shown; as many as the row has, so rows differ in length.
    held : dict of int to Held, or None
        For workbooks, what cells hold that is more than text, by place from 0.
    """

    number: int
    cells: list[str]
    held: dict[int, Held] | None


#: No date, time, number or name is longer; a longer text is something else.
LONGEST_FACT: Final = 100


def cell(row: Row, *, place: int | None) -> str:
    """Clean text of a cell, empty where the row is shorter or there is no such column."""
    if place is None or place >= len(row.cells):
        return ""
    return clean(row.cells[place])


def held(row: Row, *, place: int | None) -> Held | None:
    """Give what a workbook's cell holds beside its text."""
    if row.held is None or place is None:
        return None
    return row.held.get(place)
