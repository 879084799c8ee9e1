"""Open a file as a register or sheet: on the one sheet of a workbook that holds such a table."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import islice
from typing import BinaryIO, Final

from django.utils.translation import gettext as _

from moldcare.feeds.register.head import understood
from moldcare.feeds.register.words import CARE, MOLDS
from moldcare.feeds.tables import Question, Row, Table, Vocabulary, open_table

#: Sheets that are looked into, and rows of each.
SHEETS_AT_MOST: Final = 12
ROWS_LOOKED_AT: Final = 60
#: Columns that a sheet must have in common with such a table.
COLUMNS_AT_LEAST: Final = 2


def open_register(
    file: bytes | BinaryIO,
    *,
    name: str,
    known: Vocabulary,
    encoding: str | None = None,
    delimiter: str | None = None,
    sheet: str | None = None,
) -> Table:
    """Open a file as a mold register (`MOLDS`) or a maintenance sheet (`CARE`).

    Parameters
    ----------
    file, name, encoding, delimiter, sheet
        As of `open_table`.
    known : Vocabulary
        What the columns of such a table mean: `MOLDS` or `CARE`.

    Returns
    -------
    Table
        Of several sheets, the one that holds such a table. Where several do, it is asked, and
        rows wait; where none does, the first is read and may be changed.

    Raises
    ------
    WrongFile, UnreadableText, TableRefused
        As of `open_table`.
    """
    table = open_table(file, name=name, encoding=encoding, delimiter=delimiter, sheet=sheet)
    if sheet is not None or len(table.sheets) < 2:
        return table
    tables = [open_table(file, name=name, sheet=title) for title in table.sheets[:SHEETS_AT_MOST]]
    fitting = [each for each in tables if fits(list(islice(each.rows(), ROWS_LOOKED_AT)), known)]
    if len(fitting) == 1:
        # the other sheets are no such table; still, it is said which one is read
        taken = fitting[0]
        return replace(taken, sheets=table.sheets, questions=_asked(table, assumed=taken.sheet))
    if not fitting:
        return table
    return replace(
        fitting[0], sheets=table.sheets, questions=_asked(table, assumed=None, among=fitting)
    )


def fits(rows: Sequence[Row], known: Vocabulary) -> bool:
    """Say whether rows look like the top of such a table."""
    return understood(rows, known=known) >= COLUMNS_AT_LEAST


def _asked(
    table: Table, *, assumed: str | None, among: Sequence[Table] = ()
) -> tuple[Question, ...]:
    names = {each.sheet for each in among}
    questions = []
    for question in table.questions:
        if question.key == "sheet":
            text = _("The workbook has several sheets. Only “%(sheet)s” is read.")
            if assumed is None:
                text = _("Several sheets of the workbook hold such a table. Which one is read?")
            question = replace(
                question,
                text=text % {"sheet": assumed},
                choices=tuple(
                    choice for choice in question.choices if not names or choice.value in names
                ),
                assumed=assumed,
            )
        questions.append(question)
    return tuple(questions)


__all__ = ["CARE", "MOLDS", "fits", "open_register"]
