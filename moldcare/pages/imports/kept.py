"""Rows that were kept for mending, as a table that can be mended and brought in again."""

import csv
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from typing import Any

from django.utils.translation import gettext as _

from moldcare.feeds.export.guard import guarded, unguarded
from moldcare.feeds.models import ImportBatch, ImportRow
from moldcare.feeds.queries import kept_rows
from moldcare.feeds.tables import Verdict


class _Line:
    """Gives each line that is written to it."""

    def write(self, line: str) -> str:
        """Return the line."""
        return line


@dataclass(frozen=True, kw_only=True, slots=True)
class KeptLine:
    """A kept row as the page shows it: each cell with its heading."""

    pk: int
    row: int
    cells: list[tuple[str, str]]
    reason: str


def kept_shown(rows: Iterable[ImportRow], *, headings: Sequence[str]) -> list[KeptLine]:
    """Return kept rows with every cell under its heading, empty ones included."""
    return [
        KeptLine(
            pk=row.pk,
            row=row.row,
            cells=[
                (heading, str(cell))
                for heading, cell in zip_longest(headings, row.cells, fillvalue="")
            ],
            reason=row.reason,
        )
        for row in rows
    ]


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
    line: str = writer.writerow([guarded(unguarded(cell)) for cell in cells])
    return line
