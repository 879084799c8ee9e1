"""A list as a workbook: rows are written as they come, texts are texts and never formulas."""

import re
from collections.abc import Callable, Iterable
from datetime import date, datetime
from decimal import Decimal
from typing import IO, Any, Final
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter

from moldcare.feeds.export.guard import as_cell, guarded
from moldcare.feeds.export.shapes import ListShape, Row

# Office Open XML, ISO/IEC 29500: rows of a sheet, signs of a cell; spreadsheets keep 15 digits
ROWS_A_SHEET: Final = 1_048_576
LONGEST_CELL: Final = 32_767
LARGEST_NUMBER: Final = 10**15
_LONGEST_TITLE: Final = 28
_WIDTH: Final = 18
_NOT_IN_A_TITLE: Final = re.compile(r"[\\*?:/\[\]]")
#: Signs that XML cannot hold.
_NOT_IN_XML: Final = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
_LINE_ENDS: Final = re.compile("\r\n?")


def write_workbook(
    out: IO[bytes], *, shape: ListShape, rows: Iterable[Row], zone: ZoneInfo, made_at: datetime
) -> int:
    """Write a list as XLSX and return how many rows it has.

    What is more than a sheet holds goes on in the next. Memory does not grow with the rows.

    Parameters
    ----------
    out : binary file
    shape : ListShape
    rows : iterable of sequences
    zone : ZoneInfo
        The plant's: instants are written in it as text with their offset, which a workbook's own
        dates cannot hold.
    made_at : datetime
    """
    book = Workbook(write_only=True)
    book.properties.creator = ""
    book.properties.created = book.properties.modified = made_at.replace(tzinfo=None)
    sheet, written = _sheet(book, shape=shape, number=1), 0
    cell = _cell_of(zone, book=sheet)
    for row in rows:
        if written and written % (ROWS_A_SHEET - 1) == 0:
            sheet = _sheet(book, shape=shape, number=written // (ROWS_A_SHEET - 1) + 1)
            cell = _cell_of(zone, book=sheet)
        sheet.append([cell(value) for value in row])
        written += 1
    book.save(out)
    return written


def _sheet(book: Any, *, shape: ListShape, number: int) -> Any:
    title = _NOT_IN_A_TITLE.sub(" ", str(shape.title))[:_LONGEST_TITLE].strip("' ")
    sheet = book.create_sheet(title if number == 1 else f"{title} {number}")
    sheet.freeze_panes = "A2"
    for place in range(1, len(shape.headings) + 1):
        sheet.column_dimensions[get_column_letter(place)].width = _WIDTH
    heads = []
    for heading in shape.headings:
        head = _text_cell(_cell_text(str(heading)), sheet=sheet)
        head.font = Font(bold=True)
        heads.append(head)
    sheet.append(heads)
    return sheet


def _cell_of(zone: ZoneInfo, *, book: Any) -> Callable[[Any], Any]:
    yes, no = _("yes"), _("no")

    def cell(value: Any) -> Any:
        if value is None:
            return None
        if isinstance(value, str):
            return _text(value, sheet=book)
        if isinstance(value, bool):
            return yes if value else no
        if isinstance(value, (int, Decimal)):
            return value if -LARGEST_NUMBER < value < LARGEST_NUMBER else str(value)
        if isinstance(value, datetime):
            return value.astimezone(zone).isoformat()
        if isinstance(value, date):
            return value
        raise TypeError(f"{value!r} has no form in a list.")

    return cell


def _text(value: str, *, sheet: Any) -> Any:
    text = _cell_text(value)
    # the library takes texts that begin so for formulas and errors
    if not text.startswith(("=", "#")) and guarded(text) == text:
        return text
    return _text_cell(text, sheet=sheet)


def _cell_text(value: str) -> str:
    """Return a text with what a cell can hold."""
    text = as_cell(_LINE_ENDS.sub("\n", _NOT_IN_XML.sub("\N{REPLACEMENT CHARACTER}", value)))
    if len(text) > LONGEST_CELL:
        ending = _(" (cut here: a workbook holds no more; CSV holds all)")
        return text[: LONGEST_CELL - len(ending)] + ending
    return text


def _text_cell(text: str, *, sheet: Any) -> Any:
    """Return a cell that stays text, also when somebody edits it."""
    cell = WriteOnlyCell(sheet, value=text)
    cell.data_type = "s"
    cell.quotePrefix = True
    return cell
