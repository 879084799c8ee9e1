"""Open a file that came in as a table: its kind, its encoding, its rows."""

import io
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from itertools import islice
from typing import BinaryIO

from django.utils.translation import gettext as _

from moldcare.feeds.tables.delimited import (
    SEPARATOR_NAMES,
    delimited_rows,
    separator_question,
    separator_taken,
)
from moldcare.feeds.tables.encoding import EncodingTaken, encoding_question, encoding_taken
from moldcare.feeds.tables.kinds import Kind, kind_of
from moldcare.feeds.tables.questions import Choice, Question
from moldcare.feeds.tables.rows import Row
from moldcare.feeds.tables.workbook import sheet_marks, sheets_taken, workbook_rows


@dataclass(frozen=True, kw_only=True, slots=True)
class Table:
    """A file opened as a table.

    Parameters
    ----------
    name : str
        The file's name as it came.
    kind : Kind
        Text or workbook.
    encoding : EncodingTaken or None
        For text: the encoding taken, and why.
    delimiter : str or None
        For text: the name of the separator.
    sheet : str or None
        For workbooks: the sheet that is read.
    sheets : tuple of str
        For workbooks: the sheets that hold anything.
    questions : tuple of Question
        What may be changed about the above; each has an answer taken meanwhile.
    hidden_rows : frozenset of int
        For workbooks: rows that a filter or a person has hidden; `rows` gives them, too.
    rows : callable
        Gives the rows from the first, each time it is called; one walk at a time.
    """

    name: str
    kind: Kind
    encoding: EncodingTaken | None = None
    delimiter: str | None = None
    sheet: str | None = None
    sheets: tuple[str, ...] = ()
    questions: tuple[Question, ...] = ()
    hidden_rows: frozenset[int] = frozenset()
    rows: Callable[[], Iterator[Row]]


def open_table(
    file: bytes | BinaryIO,
    *,
    name: str,
    encoding: str | None = None,
    delimiter: str | None = None,
    sheet: str | None = None,
) -> Table:
    """Open a file as a table, told by its content and not by its name.

    Parameters
    ----------
    file : bytes or binary file
        Seekable, and open as long as rows are read.
    name : str
        The file's name, for sentences.
    encoding, delimiter, sheet : str or None
        A person's answers to the questions of those names.

    Returns
    -------
    Table

    Raises
    ------
    WrongFile
        When it is no table, damaged, locked or empty.
    UnreadableText
        When its bytes fit no encoding, or not the one chosen.
    TableRefused
        When an answer names an encoding, separator or sheet that is not there.
    """
    if isinstance(file, bytes):
        file = io.BytesIO(file)
    if kind_of(file) is Kind.WORKBOOK:
        return _workbook(file, name=name, sheet=sheet)
    return _text(file, name=name, encoding=encoding, delimiter=delimiter)


def _text(file: BinaryIO, *, name: str, encoding: str | None, delimiter: str | None) -> Table:
    encoded = encoding_taken(file, chosen=encoding)
    parted = separator_taken(file, codec=encoded.codec, chosen=delimiter)
    rows = partial(delimited_rows, file, codec=encoded.codec, separator=parted.separator)
    questions: list[Question] = []
    if not encoded.is_sure:
        questions.append(encoding_question(encoded, example=_example(rows())))
    if not parted.is_sure:
        questions.append(separator_question(parted))
    return Table(
        name=name,
        kind=Kind.TEXT,
        encoding=encoded,
        delimiter=SEPARATOR_NAMES[parted.separator],
        questions=tuple(questions),
        rows=rows,
    )


def _example(rows: Iterator[Row]) -> str:
    """First cell with a letter beyond ASCII: where a wrong encoding shows."""
    for row in islice(rows, 100_000):
        for cell in row.cells:
            if not cell.isascii():
                return cell.strip()[:80]
    return ""


def _workbook(file: BinaryIO, *, name: str, sheet: str | None) -> Table:
    sheets = sheets_taken(file, chosen=sheet)
    marks = sheet_marks(file, sheet=sheets.taken)
    questions: tuple[Question, ...] = ()
    if not sheets.is_sure:
        questions = (
            Question(
                key="sheet",
                text=_("The workbook has several sheets. Only “%(sheet)s” is read.")
                % {"sheet": sheets.taken},
                choices=tuple(Choice(value=title, text=title) for title in sheets.names),
                assumed=sheets.taken,
            ),
        )
    return Table(
        name=name,
        kind=Kind.WORKBOOK,
        sheet=sheets.taken,
        sheets=sheets.names,
        questions=questions,
        hidden_rows=marks.hidden_rows,
        rows=partial(workbook_rows, file, sheet=sheets.taken, marks=marks),
    )
