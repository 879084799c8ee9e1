"""Rows of a workbook: what cells show and what they hold, with bounded memory."""

import re
import zipfile
import zlib
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any, BinaryIO, Final
from xml.etree.ElementTree import ParseError

import openpyxl
from django.utils.translation import gettext as _
from openpyxl.utils.cell import coordinate_to_tuple, range_boundaries

from moldcare.core.errors import TableRefused, WrongFile
from moldcare.feeds.tables.cell_formats import shown
from moldcare.feeds.tables.rows import Flaw, Held, Row

#: Empty rows in a run after which nothing more is looked for.
EMPTY_ROWS_AT_MOST: Final = 20_000
#: Merged ranges and uncalculated cells beyond this are no plant's reading list.
MARKS_AT_MOST: Final = 100_000
#: Columns to which merged cells pass their value on; titles are merged over whole sheets.
MERGED_COLUMNS_AT_MOST: Final = 200
#: A spreadsheet keeps this many digits of a number.
DIGITS_KEPT: Final = 15
CHUNK_BYTES: Final = 1 << 20
OVERLAP_BYTES: Final = 1 << 14

_MERGED: Final = re.compile(rb'<(?:\w+:)?mergeCell\s[^>]{0,200}?ref="([A-Z]+[0-9]+:[A-Z]+[0-9]+)"')
_ROW: Final = re.compile(rb"<(?:\w+:)?row\s([^>]{0,400})>")
_HIDDEN: Final = re.compile(rb'\bhidden="(?:1|true)"')
_ROW_NUMBER: Final = re.compile(rb'\br="([0-9]{1,7})"')
_NOT_CALCULATED: Final = re.compile(
    rb'<(?:\w+:)?c\s[^>]{0,200}?r="([A-Z]+[0-9]+)"[^>]{0,200}>\s*<(?:\w+:)?f\b'
    rb"(?:[^>]*/>|[^>]*>[^<]*</(?:\w+:)?f>)\s*"
    rb"(?:<(?:\w+:)?v\s*/>|<(?:\w+:)?v>\s*</(?:\w+:)?v>)?\s*</(?:\w+:)?c>"
)
_WITH_VALUE: Final = re.compile(
    rb'<(?:\w+:)?c\s[^>]{0,200}?r="[A-Z]+([0-9]+)"[^>]{0,200}>\s*(?:<(?:\w+:)?f\b[^<]*(?:</(?:\w+:)?f>)?\s*)?'
    rb"<(?:\w+:)?(?:v|is)[ >]"
)
_DAMAGED: Final = (
    ParseError,
    zipfile.BadZipFile,
    zlib.error,
    EOFError,
    OSError,
    KeyError,
    IndexError,
    ValueError,
    TypeError,
    AttributeError,
)


@dataclass(frozen=True, kw_only=True, slots=True)
class SheetMarks:
    """What a sheet's own XML says beside its cells.

    Parameters
    ----------
    merged : dict of (int, int) to tuple of (int, int)
        Last row and column of cells that are merged, by the first of them; columns from 0.
    not_calculated : frozenset of (int, int)
        Row and column of formulas whose result was never saved.
    last_row : int or None
        Last row that holds anything; None where the rows carry no numbers.
    hidden_rows : frozenset of int
        Rows that a filter or a person has hidden.
    """

    merged: dict[tuple[int, int], tuple[int, int]]
    not_calculated: frozenset[tuple[int, int]]
    last_row: int | None
    hidden_rows: frozenset[int] = frozenset()


@dataclass(frozen=True, kw_only=True, slots=True)
class Sheets:
    """The sheets of a workbook that can be seen, and the one that is read."""

    names: tuple[str, ...]
    taken: str
    is_sure: bool


def sheets_taken(file: BinaryIO, *, chosen: str | None = None) -> Sheets:
    """Choose the sheet to read: the one named, or the first that holds anything."""
    workbook = _opened(file)
    try:
        seen = [sheet for sheet in workbook.worksheets if sheet.sheet_state == "visible"]
        names = tuple(sheet.title for sheet in seen)
        if chosen is not None:
            if chosen not in {sheet.title for sheet in workbook.worksheets}:
                raise TableRefused(
                    _("There is no sheet “%(name)s”. There are: %(names)s.")
                    % {"name": chosen, "names": ", ".join(names)}
                )
            return Sheets(names=names, taken=chosen, is_sure=True)
        filled = [sheet.title for sheet in seen if _holds_anything(file, sheet)]
    finally:
        workbook.close()
    if not filled:
        raise WrongFile(_("This workbook is empty."))
    return Sheets(names=tuple(filled), taken=filled[0], is_sure=len(filled) == 1)


def sheet_marks(file: BinaryIO, *, sheet: str) -> SheetMarks:
    """Read what a sheet says beside its cells, in one pass in pieces."""
    workbook = _opened(file)
    try:
        path = workbook[sheet]._worksheet_path
    finally:
        workbook.close()
    merged: dict[tuple[int, int], tuple[int, int]] = {}
    not_calculated: set[tuple[int, int]] = set()
    hidden_rows: set[int] = set()
    last_row: int | None = None
    for piece in _pieces(file, path=path):
        for found in _MERGED.finditer(piece):
            first_column, first_row, last_column, last_row_merged = range_boundaries(
                found[1].decode()
            )
            last_column = min(last_column, first_column + MERGED_COLUMNS_AT_MOST)
            merged[first_row, first_column - 1] = last_row_merged, last_column - 1
        for found in _NOT_CALCULATED.finditer(piece):
            row, column = coordinate_to_tuple(found[1].decode())
            not_calculated.add((row, column - 1))
        hidden_rows.update(
            int(number[1])
            for found in _ROW.finditer(piece)
            if _HIDDEN.search(found[1]) and (number := _ROW_NUMBER.search(found[1]))
        )
        rows_with_value = deque(_WITH_VALUE.finditer(piece), maxlen=1)
        if rows_with_value:
            last_row = max(last_row or 0, int(rows_with_value[0][1]))
        if len(merged) + len(not_calculated) > MARKS_AT_MOST:
            raise WrongFile(_("This sheet has more merged or uncalculated cells than can be read."))
    return SheetMarks(
        merged=merged,
        not_calculated=frozenset(not_calculated),
        last_row=last_row,
        hidden_rows=frozenset(hidden_rows),
    )


def workbook_rows(file: BinaryIO, *, sheet: str, marks: SheetMarks) -> Iterator[Row]:
    """Rows of one sheet, one at a time, up to the last that holds anything.

    Raises
    ------
    WrongFile
        When the workbook is damaged, or holds more behind a very long run of empty rows; names
        the row.
    """
    workbook = _opened(file)
    try:
        worksheet = workbook[sheet]
        worksheet.reset_dimensions()
        rows = worksheet.iter_rows()
        open_merges: dict[int, tuple[int, str, Held | None]] = {}
        number = empty_run = 0
        while marks.last_row is None or number < marks.last_row:
            number += 1
            try:
                cells = next(rows, None)
                if cells is None:
                    return
                row = _row(number, cells)
            except _DAMAGED:
                raise _damaged(number) from None
            empty_run = 0 if any(row.cells) else empty_run + 1
            if empty_run > EMPTY_ROWS_AT_MOST:
                if marks.last_row is None:
                    return
                raise WrongFile(
                    _(
                        "Row %(last)d holds something behind %(empty)d empty rows. Delete what "
                        "stands there, or the empty rows, and bring the file again."
                    )
                    % {"last": marks.last_row, "empty": empty_run},
                    row=marks.last_row,
                )
            if marks.merged or open_merges:
                row = _with_merged(row, merged=marks.merged, open_merges=open_merges)
            if marks.not_calculated:
                row = _with_uncalculated(row, not_calculated=marks.not_calculated)
            yield row
    finally:
        workbook.close()


def _opened(file: BinaryIO) -> Any:
    file.seek(0)
    try:
        return openpyxl.load_workbook(file, read_only=True, data_only=True, keep_links=False)
    except _DAMAGED:
        raise _damaged(None) from None


def _damaged(row: int | None) -> WrongFile:
    if row is None:
        sentence = _("This workbook is damaged. Open it, save it again, and bring the copy.")
    else:
        sentence = _("This workbook is damaged at row %(row)d.") % {"row": row}
    return WrongFile(sentence, row=row)


def _holds_anything(file: BinaryIO, sheet: Any) -> bool:
    """Any value, looked for in the sheet's XML so that no formatting is read through."""
    return any(
        _WITH_VALUE.search(piece) or b"<v>" in piece or b"<is>" in piece
        for piece in _pieces(file, path=sheet._worksheet_path)
    )


def _pieces(file: BinaryIO, *, path: str) -> Iterator[bytes]:
    """Give a sheet's XML in pieces that overlap, so that no mark is cut in two."""
    try:
        with zipfile.ZipFile(file) as packed, packed.open(path) as part:
            kept = b""
            while chunk := part.read(CHUNK_BYTES):
                yield kept + chunk
                kept = (kept + chunk)[-OVERLAP_BYTES:]
    except (zipfile.BadZipFile, zlib.error, EOFError, KeyError, OSError):
        raise _damaged(None) from None


def _row(number: int, cells: tuple[Any, ...]) -> Row:
    texts: list[str] = []
    held: dict[int, Held] = {}
    for place, cell in enumerate(cells):
        value = cell.value
        if value is None:
            texts.append("")
        elif isinstance(value, str):
            if cell.data_type == "e":
                held[place] = Held(None, "", Flaw.ERROR)
            texts.append(value)
        else:
            number_format = cell.number_format or "General"
            value, flaw = _tidied(value)
            held[place] = Held(value, number_format, flaw)
            texts.append(shown(value, number_format=number_format))
    return Row(number, texts, held)


def _tidied(value: Any) -> tuple[Any, Flaw | None]:
    """Whole floats as whole numbers, clock values to the second, lost digits flagged."""
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    if isinstance(value, int) and not isinstance(value, bool):
        return value, Flaw.TOO_LONG if len(str(abs(value))) > DIGITS_KEPT else None
    if isinstance(value, datetime):
        # Days are held as fractions, so that 06:00 may come as 05:59:59.999.
        value = (value + timedelta(milliseconds=500)).replace(microsecond=0)
    elif isinstance(value, timedelta):
        value = timedelta(seconds=round(value.total_seconds()))
    elif isinstance(value, time):
        rounded = datetime.combine(date(2000, 1, 1), value) + timedelta(milliseconds=500)
        value = rounded.time().replace(microsecond=0)
    return value, None


def _with_merged(
    row: Row,
    *,
    merged: dict[tuple[int, int], tuple[int, int]],
    open_merges: dict[int, tuple[int, str, Held | None]],
) -> Row:
    """Give merged cells the text of their first."""
    cells, held = row.cells, dict(row.held or {})
    for place, (last, text, what) in list(open_merges.items()):
        if row.number > last:
            del open_merges[place]
            continue
        _pass_on(text, what, cells=cells, held=held, place=place)
    for place in range(len(cells)):
        end = merged.get((row.number, place))
        if end is None:
            continue
        last_row, last_column = end
        text, what = cells[place], held.get(place)
        for right in range(place, last_column + 1):
            if right > place:
                _pass_on(text, what, cells=cells, held=held, place=right)
            if last_row > row.number:
                open_merges[right] = (last_row, text, what)
    return Row(row.number, cells, held)


def _pass_on(
    text: str, what: Held | None, *, cells: list[str], held: dict[int, Held], place: int
) -> None:
    cells.extend([""] * (place + 1 - len(cells)))
    cells[place] = text
    held[place] = (what or Held(None, ""))._replace(is_merged=True)


def _with_uncalculated(row: Row, *, not_calculated: frozenset[tuple[int, int]]) -> Row:
    held = dict(row.held or {})
    for place in range(len(row.cells)):
        if (row.number, place) in not_calculated:
            held[place] = Held(None, "", Flaw.NOT_CALCULATED)
    return Row(row.number, row.cells, held)
