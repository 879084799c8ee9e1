"""Rows of a text file: the separator, and records that stream."""

import csv
import io
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from typing import BinaryIO, Final

from django.utils.translation import gettext as _

from moldcare.core.errors import TableRefused, WrongFile
from moldcare.feeds.tables.questions import Choice, Question
from moldcare.feeds.tables.rows import Row

#: Separators in the order in which they win a tie: what stands least often inside texts first.
SEPARATORS: Final = ("\t", ";", "|", ",")
SEPARATOR_NAMES: Final = {"\t": "tab", ";": "semicolon", "|": "bar", ",": "comma"}
#: A record that runs over more lines than this begins with a quotation mark that never ends.
LONGEST_RECORD_LINES: Final = 50
SAMPLE_RECORDS: Final = 300
#: A workbook's row has at most 16,384 cells; nobody keeps more in a text file.
CELLS_AT_MOST: Final = 20_000


@dataclass(frozen=True, kw_only=True, slots=True)
class SeparatorTaken:
    """The separator of a text file; `rivals` are others that would do as well."""

    separator: str
    is_sure: bool
    rivals: tuple[str, ...] = ()


def separator_taken(file: BinaryIO, *, codec: str, chosen: str | None = None) -> SeparatorTaken:
    """Find the separator from the first rows of a text file.

    Parameters
    ----------
    file : binary file
        Seekable.
    codec : str
        Python's name of the encoding.
    chosen : str or None
        What a person chose: the sign itself or its name.

    Notes
    -----
    Each separator is judged by how many rows have the same number of cells under it; rows whose
    notes are full of commas differ, rows parted by semicolons do not. A row that lacks its last
    separators counts as agreeing. A file whose rows hold one cell each has none.
    """
    if chosen is not None:
        by_name = {name: sign for sign, name in SEPARATOR_NAMES.items()}
        sign = by_name.get(chosen.casefold(), chosen)
        if sign not in SEPARATORS:
            raise TableRefused(
                _("“%(sign)s” is no separator read here. Known: %(known)s.")
                % {"sign": chosen, "known": ", ".join(by_name)}
            )
        return SeparatorTaken(separator=sign, is_sure=True)
    lines = list(islice(_lines(file, codec=codec), SAMPLE_RECORDS))
    if lines and lines[0].casefold().startswith("sep=") and len(lines[0].strip()) == len("sep=;"):
        sign = lines[0][len("sep=")]
        if sign in SEPARATORS:
            return SeparatorTaken(separator=sign, is_sure=True)
    shares = {sign: _agreement(lines, separator=sign) for sign in SEPARATORS}
    best = max(shares.values())
    if best == 0:
        return SeparatorTaken(separator=";", is_sure=True)
    near = [sign for sign in SEPARATORS if shares[sign] >= best - 0.05]
    is_sure = best >= 0.6 and len(near) == 1
    return SeparatorTaken(separator=near[0], is_sure=is_sure, rivals=tuple(near[1:]))


def separator_question(taken: SeparatorTaken) -> Question:
    """Question which separator parts the columns, with the one taken."""
    return Question(
        key="delimiter",
        text=_("Columns are parted by: %(name)s. Change it if the columns below look wrong.")
        % {"name": SEPARATOR_NAMES[taken.separator]},
        choices=tuple(Choice(value=name, text=name) for name in SEPARATOR_NAMES.values()),
        assumed=SEPARATOR_NAMES[taken.separator],
    )


def delimited_rows(file: BinaryIO, *, codec: str, separator: str) -> Iterator[Row]:
    """Give the records of a text file as rows, one at a time.

    Raises
    ------
    WrongFile
        When a quotation mark opens a cell that never ends, or a row has more cells than any table;
        names the row.
    """
    file.seek(0)
    text = io.TextIOWrapper(file, encoding=codec, newline="")
    try:
        reader = csv.reader(text, delimiter=separator)
        line = number = last_start = 0
        try:
            for number, cells in enumerate(reader, start=1):
                last_start, line = line, reader.line_num
                if line - last_start > LONGEST_RECORD_LINES:
                    raise _never_ends(number)
                if number == 1 and len(cells) <= 2 and "".join(cells).casefold() in {"sep=", "sep"}:
                    continue
                if len(cells) > CELLS_AT_MOST:
                    raise WrongFile(
                        _("Row %(row)d has %(count)d cells; no table read here has so many.")
                        % {"row": number, "count": len(cells)},
                        row=number,
                    )
                yield Row(number, cells, None)
        except csv.Error:
            raise _never_ends(number + 1) from None
    finally:
        text.detach()
    if line - last_start > 1 and _ends_inside_quotes(
        file, codec=codec, separator=separator, skip_lines=last_start
    ):
        raise _never_ends(number)


def _never_ends(row: int) -> WrongFile:
    return WrongFile(
        _("In row %(row)d a quotation mark opens a cell that never ends.") % {"row": row},
        row=row,
    )


def _ends_inside_quotes(file: BinaryIO, *, codec: str, separator: str, skip_lines: int) -> bool:
    last = islice(_lines(file, codec=codec), skip_lines, None)
    try:
        for _record in csv.reader(last, delimiter=separator, strict=True):
            pass
    except csv.Error as error:
        return "unexpected end" in str(error)
    return False


def _lines(file: BinaryIO, *, codec: str) -> Iterator[str]:
    file.seek(0)
    text = io.TextIOWrapper(file, encoding=codec, newline="")
    try:
        # Not "yield from": that would close the file with an abandoned walk.
        while line := text.readline():
            yield line
    finally:
        text.detach()


def _agreement(lines: list[str], *, separator: str) -> float:
    """Share of the records that have as many cells as most have, 0 where that is one."""
    try:
        widths = [
            len(record)
            for record in csv.reader(lines, delimiter=separator)
            if any(cell.strip() for cell in record)
        ]
    except csv.Error:
        return 0.0
    if not widths:
        return 0.0
    several = Counter(width for width in widths if width > 1)
    if not several:
        return 0.0
    modal, count = several.most_common(1)[0]
    shorter = several[modal - 1] if modal > 2 else 0
    return min(1.0, (count + min(shorter, count // 4)) / len(widths))
