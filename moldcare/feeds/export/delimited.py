"""A list as CSV: RFC 4180 in UTF-8 with a byte order mark, as spreadsheets open it right."""

import csv
import io
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Final
from zoneinfo import ZoneInfo

from django.utils import formats
from django.utils.translation import gettext as _

from moldcare.feeds.export.guard import guarded
from moldcare.feeds.export.shapes import ListShape, Row

ROWS_AT_ONCE: Final = 500
BYTE_ORDER_MARK: Final = "\N{BYTE ORDER MARK}"


@dataclass(frozen=True, kw_only=True, slots=True)
class Dialect:
    """Which signs part the cells and stand before a number's decimals."""

    separator: str
    decimal: str


COMMA: Final = Dialect(separator=",", decimal=".")
SEMICOLON: Final = Dialect(separator=";", decimal=",")


def dialect_of(language: str) -> Dialect:
    """Return what spreadsheets in a language open: semicolons where decimals have a comma.

    Examples
    --------
    >>> dialect_of("de").separator, dialect_of("en").separator
    (';', ',')
    """
    sign = formats.get_format("DECIMAL_SEPARATOR", lang=language, use_l10n=True)
    return SEMICOLON if sign == "," else COMMA


def csv_lines(
    shape: ListShape, *, rows: Iterable[Row], zone: ZoneInfo, dialect: Dialect = COMMA
) -> Iterator[bytes]:
    """Give a list as the bytes of a CSV file, many lines at once.

    Parameters
    ----------
    shape : ListShape
    rows : iterable of sequences
        Text, numbers, yes and no, instants, dates.
    zone : ZoneInfo
        The plant's: instants are written in it, with their offset.
    dialect : Dialect
    """
    text = io.StringIO()
    writer = csv.writer(text, delimiter=dialect.separator)
    say = cell_words(zone, decimal=dialect.decimal)
    text.write(BYTE_ORDER_MARK)
    writer.writerow([guarded(str(heading)) for heading in shape.headings])
    for number, row in enumerate(rows, start=1):
        writer.writerow([say(value) for value in row])
        if number % ROWS_AT_ONCE == 0:
            yield text.getvalue().encode()
            text.seek(0)
            text.truncate()
    yield text.getvalue().encode()


def cell_words(zone: ZoneInfo, *, decimal: str) -> Callable[[Any], str]:
    """Return what writes a value as the text of a cell."""
    yes, no = _("yes"), _("no")

    def say(value: Any) -> str:
        # the most frequent first: lists have millions of cells
        if value is None:
            return ""
        if isinstance(value, str):
            return guarded(value)
        if isinstance(value, bool):
            return yes if value else no
        if isinstance(value, int):
            return str(value)
        if isinstance(value, datetime):
            return value.astimezone(zone).isoformat()
        if isinstance(value, date):
            return value.isoformat()
        if isinstance(value, Decimal):
            return format(value, "f").replace(".", decimal)
        raise TypeError(f"{value!r} has no form in a list.")

    return say
