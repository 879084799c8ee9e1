"""The rows of a table as the lines of a file in an archive, and back."""

import csv
import io
import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import IO, Any, Final, NoReturn

from django.utils.translation import gettext as _

from moldcare.feeds.archive.errors import ArchiveRefused
from moldcare.feeds.archive.tables import ArchiveTable, Column
from moldcare.feeds.archive.values import ValueForm, WrongValue, form_of
from moldcare.feeds.export.guard import guarded, unguarded

#: A value that is not there, in CSV; a text that begins with a backslash gets one more.
NOTHING: Final = r"\N"
ROWS_AT_ONCE: Final = 2_000
#: Longer lines are none of ours.
LONGEST_CSV_LINE: Final = 1 << 20
LONGEST_JSON_LINE: Final = 1 << 25

Cell = Callable[[Any], str]


def lines_of(table: ArchiveTable) -> Iterator[bytes]:
    """Give a table's rows as bytes, many lines at once, in the order of their keys."""
    # the plain manager: facts that were written later belong into the archive too
    rows = table.model._base_manager.order_by("pk").values_list(*table.names)
    stored: Iterable[Sequence[Any]] = rows.iterator(chunk_size=ROWS_AT_ONCE)
    yield from (_as_json if table.is_nested else _as_csv)(stored, table=table)


def _as_csv(rows: Iterable[Sequence[Any]], *, table: ArchiveTable) -> Iterator[bytes]:
    cells = [_cell_of(form_of(field)) for field in table.columns]
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(table.names)
    for number, row in enumerate(rows, start=1):
        writer.writerow(
            [
                NOTHING if value is None else cell(value)
                for cell, value in zip(cells, row, strict=True)
            ]
        )
        if number % ROWS_AT_ONCE == 0:
            yield text.getvalue().encode()
            text.seek(0)
            text.truncate()
    yield text.getvalue().encode()


def _cell_of(form: ValueForm) -> Cell:
    if form.is_text:
        return _text_cell
    return form.write or _native_cell


def _text_cell(value: str) -> str:
    return f"\\{value}" if value[:1] == "\\" else guarded(value)


def _native_cell(value: Any) -> str:
    return ("true" if value else "false") if isinstance(value, bool) else str(value)


def _as_json(rows: Iterable[Sequence[Any]], *, table: ArchiveTable) -> Iterator[bytes]:
    writers = [form_of(field).write for field in table.columns]
    lines: list[str] = []
    for row in rows:
        values = [
            value if write is None or value is None else write(value)
            for write, value in zip(writers, row, strict=True)
        ]
        line = dict(zip(table.names, values, strict=True))
        lines.append(json.dumps(line, ensure_ascii=False, sort_keys=True, separators=(",", ":")))
        if len(lines) == ROWS_AT_ONCE:
            yield ("\n".join(lines) + "\n").encode()
            lines = []
    if lines:
        yield ("\n".join(lines) + "\n").encode()


def rows_in(
    stream: IO[bytes], *, table: ArchiveTable, names: Sequence[str]
) -> Iterator[Sequence[Any]]:
    """Give the rows of a file as the database takes them, in the order of the names.

    Raises
    ------
    ArchiveRefused
        At the first line that is not one, or holds what its column cannot hold.
    """
    by_name = {str(field.attname): field for field in table.columns}
    readers = [_reader(by_name[name], is_csv=not table.is_nested) for name in names]
    found = _json_rows(stream, names=names) if table.is_nested else _csv_rows(stream, names=names)
    read = 0
    try:
        for row in found:
            read += 1
            yield [reader(value) for reader, value in zip(readers, row, strict=True)]
    except UnicodeDecodeError:
        raise _refused(table, row=read + 1, why=_("it is no UTF-8")) from None
    except WrongValue as error:
        raise _refused(table, row=read, why=str(error)) from None
    except (csv.Error, ValueError, RecursionError) as error:
        # the line could not be taken apart: it is the one after those that were read
        raise _refused(table, row=read + 1, why=str(error)) from None


def _reader(field: Column, *, is_csv: bool) -> Callable[[Any], Any]:
    """Return what reads the values of a column, and names it where one cannot be read."""
    form, name, may_lack = form_of(field), field.attname, field.null
    read, nothing = form.read, NOTHING if is_csv else None
    is_text_of_csv = is_csv and form.is_text

    def reader(value: Any) -> Any:
        if value == nothing:
            if may_lack:
                return None
            raise WrongValue(f"{name} is missing")
        if is_text_of_csv:
            value = value[1:] if value[:1] == "\\" else unguarded(value)
        try:
            return read(value)
        except WrongValue as error:
            raise WrongValue(f"{name} {error}") from None

    return reader


def _csv_rows(stream: IO[bytes], *, names: Sequence[str]) -> Iterator[Sequence[Any]]:
    text = io.TextIOWrapper(stream, encoding="utf-8", newline="")
    rows = csv.reader(_lines(text, longest=LONGEST_CSV_LINE), strict=True)
    if next(rows, None) != list(names):
        raise ValueError(_("its columns are not those that the manifest names"))
    for row in rows:
        if len(row) != len(names):
            raise ValueError(_("it has more or fewer values than columns"))
        yield row


def _json_rows(stream: IO[bytes], *, names: Sequence[str]) -> Iterator[Sequence[Any]]:
    text = io.TextIOWrapper(stream, encoding="utf-8", newline="\n")
    wanted = set(names)
    for line in _lines(text, longest=LONGEST_JSON_LINE):
        row = json.loads(line, parse_constant=_no_number)
        if not isinstance(row, dict) or row.keys() != wanted:
            raise ValueError(_("its columns are not those that the manifest names"))
        yield [row[name] for name in names]


def _lines(text: io.TextIOWrapper, *, longest: int) -> Iterator[str]:
    while line := text.readline(longest):
        if len(line) == longest:
            raise ValueError(_("it is longer than any of ours"))
        yield line


def _no_number(text: str) -> NoReturn:
    raise ValueError(f"{text} is no number")


def _refused(table: ArchiveTable, *, row: int, why: str) -> ArchiveRefused:
    return ArchiveRefused(
        _("Row %(row)d of %(file)s cannot be read: %(why)s. Nothing was written.")
        % {"row": row, "file": table.path, "why": why}
    )
