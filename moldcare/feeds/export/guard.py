"""Texts that a spreadsheet would run as a formula, and how they are written so that it does not."""

import re
from typing import Final

#: What spreadsheets take for the beginning of a formula, ASCII and full-width, also behind blanks,
#: marks without width and quotation marks, which some of them drop first; and the signs that break
#: a cell or a line.
_FORMULA: Final = re.compile(
    r"""['"\s\u00ad\u200b-\u200f\u2060\ufeff]*[=+\-@\t\r\n\uff1d\uff0b\uff0d\uff20\ufe62\ufe63\ufe66\ufe6b\u2212]"""
)
_PLAIN_NUMBER: Final = re.compile(r"[+\-]?[0-9][0-9.,]*")


def guarded(text: str) -> str:
    r"""Give a text that no spreadsheet runs: an apostrophe before what looks like a formula.

    A plain number keeps its sign.

    Examples
    --------
    >>> guarded("=1+1"), guarded("-see sheet"), guarded("-0.35"), guarded("steel")
    ("'=1+1", "'-see sheet", '-0.35', 'steel')
    """
    if _FORMULA.match(text) and not _PLAIN_NUMBER.fullmatch(text):
        return f"'{text}"
    return text


def unguarded(text: str) -> str:
    r"""Give the text that was guarded.

    Examples
    --------
    >>> unguarded("'=1+1"), unguarded("'s-Hertog"), unguarded("''=1")
    ('=1+1', "'s-Hertog", "'=1")
    """
    if text[:1] == "'" and _FORMULA.match(text, 1):
        return text[1:]
    return text


def as_cell(text: str) -> str:
    """Give a text as it goes into a workbook, where a cell says by itself that it is text.

    Only what reading back would take an apostrophe from gets one more.
    """
    return text if unguarded(text) == text else f"'{text}"
