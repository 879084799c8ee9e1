"""Lists of what was brought in from files, and of the rows that wait to be mended."""

from collections.abc import Iterator
from typing import Any

from django.utils.translation import gettext_lazy as _

from moldcare.acts.rights import Right
from moldcare.feeds.export.shapes import ROWS_AT_ONCE, Asked, ListShape, Row, labels
from moldcare.feeds.models import ImportBatch, ImportBatchKind
from moldcare.feeds.queries import rows_to_mend
from moldcare.feeds.tables import Verdict

_kind = labels(ImportBatchKind)
_ROWS = {
    Verdict.ACCEPTED: _("Rows accepted"),
    Verdict.CHANGED: _("Rows changed as chosen"),
    Verdict.ESTIMATED: _("Rows estimated"),
    Verdict.DUPLICATE: _("Rows already here"),
    Verdict.DIFFERS: _("Rows different from what is here"),
    Verdict.HELD: _("Rows held"),
    Verdict.REFUSED: _("Rows refused"),
    Verdict.SKIPPED: _("Rows skipped"),
    Verdict.NOT_OURS: _("Rows not ours"),
    Verdict.NEEDS_ANSWER: _("Rows without an answer"),
}


def _imports(_asked: Asked) -> Iterator[Row]:
    rows = ImportBatch.objects.select_related("person", "undone").order_by("id")
    for batch in rows.iterator(ROWS_AT_ONCE):
        undone: Any = getattr(batch, "undone", None)
        yield (
            batch.pk,
            _kind(batch.kind),
            batch.name,
            batch.written_at,
            batch.person.name,
            *(batch.counts.get(verdict.value, 0) for verdict in _ROWS),
            undone.written_at if undone else None,
            undone.reason if undone else None,
        )


def _to_mend(_asked: Asked) -> Iterator[Row]:
    for row in rows_to_mend().iterator(ROWS_AT_ONCE):
        yield (
            row.batch_id,
            row.batch.name,
            row.row,
            Verdict(row.verdict).words,
            row.reason,
            " | ".join(str(cell) for cell in row.cells),
        )


IMPORT_LISTS = (
    ListShape(
        name="imports",
        title=_("Imports"),
        about=_("Files that were brought in, what became of their rows, and what was taken back."),
        headings=(
            _("Import"),
            _("Kind"),
            _("File"),
            _("Brought in"),
            _("By"),
            *_ROWS.values(),
            _("Taken back"),
            _("Why taken back"),
        ),
        rows=_imports,
        right=Right.IMPORT,
    ),
    ListShape(
        name="rows-to-mend",
        title=_("Rows to mend"),
        about=_("Rows of files that were not good enough to be taken, and why."),
        headings=(
            _("Import"),
            _("File"),
            _("Row of the file"),
            _("Verdict"),
            _("Why"),
            _("What the row says"),
        ),
        rows=_to_mend,
        right=Right.IMPORT,
    ),
)
