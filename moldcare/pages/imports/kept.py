"""Rows that were kept for mending, as a table that can be mended and brought in again."""

import csv
from collections.abc import Iterator
from typing import Any

from django.utils.translation import gettext as _

from moldcare.feeds.models import ImportBatch
from moldcare.feeds.queries import kept_rows
from moldcare.feeds.tables import Verdict

#: What a spreadsheet would run where a cell begins with it.
_RUN = ("=", "+", "-", "@", "\t", "\r")


class _Line:
    """Gives each line that is written to it."""

    def write(self, line: str) -> str:
        """Return the line."""
        return line


def kept_lines(batch: ImportBatch) -> Iterator[str]:
    """Give the kept rows as lines of a CSV file: as they came, with why they were kept behind."""
    writer = csv.writer(_Line())
    yield "\N{BYTE ORDER MARK}"
    headings = [str(cell) for cell in batch.answers.get("headings", [])]
    yield _written(writer, [*headings, _("verdict"), _("why"), _("row of the file")])
    for row in kept_rows(batch).iterator(chunk_size=2_000):
        cells = [str(cell) for cell in row.cells]
        cells += [""] * (len(headings) - len(cells))
        yield _written(writer, [*cells, Verdict(row.verdict).words, row.reason, str(row.row)])


def _written(writer: Any, cells: list[str]) -> str:
    line: str = writer.writerow([_guarded(cell) for cell in cells])
    return line


def _guarded(text: str) -> str:
    """Return a text that no spreadsheet runs; reading it back takes the sign away again."""
    is_number = text[:1] in "+-" and text[1:].replace(".", "").replace(",", "").isdigit()
    return f"'{text}" if text.startswith(_RUN) and not is_number else text
