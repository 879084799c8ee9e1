"""What is kept of a file that was brought in: rows as they came, and what its columns meant."""

from collections.abc import Iterable, Sequence

from moldcare.feeds.models import ColumnMatch
from moldcare.feeds.queries import headings_hash
from moldcare.feeds.tables import Column, Meaning, words_of

#: A longer reason or cell is cut in what is kept; the file itself has the whole.
REASON_LENGTH = 400
CELL_LENGTH = 200
CELLS_KEPT = 60


def storable(text: str) -> str:
    """Return a text without the one sign that PostgreSQL cannot keep."""
    return text.replace("\0", "")


def kept_cells(cells: Sequence[str]) -> list[str]:
    """Return the cells of a row as they are kept for mending."""
    return [storable(cell)[:CELL_LENGTH] for cell in cells[:CELLS_KEPT]]


def remember(kind: str, *, heading: Sequence[str], columns: Iterable[Column]) -> None:
    """Keep what the columns meant, for the next file with the same headings."""
    if not heading:
        return
    known: dict[str, str] = {}
    for column in columns:
        if words_of(column.name) and column.meaning is not Meaning.REST:
            known.setdefault(words_of(column.name), column.meaning.value)
    ColumnMatch.objects.update_or_create(
        kind=kind, headings=headings_hash(heading), defaults={"meanings": known}
    )
