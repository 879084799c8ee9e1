"""Taking an import back as a whole, its rows that were mended since included."""

from collections.abc import Sequence

from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing
from moldcare.acts.errors import DoesNotFit
from moldcare.acts.moving_in import Brought
from moldcare.acts.taking_back import (
    BroughtReadings,
    Undone,
    take_back_import,
    take_back_readings,
)
from moldcare.counters.queries import LARGEST_KEY
from moldcare.feeds.models import ImportBatch, ImportUndone
from moldcare.feeds.queries import brought_by, undone_entries, with_mends


def undo_import(doing: Doing, *, batch: ImportBatch, reason: str) -> Undone:
    """Take an import back by facts; what has later facts on it stays and is listed.

    Raises
    ------
    DoesNotFit
        If it was taken back already.
    Incomplete
        If there is no reason.
    """
    whole: list[ImportBatch] = []

    def refuse_twice() -> None:
        if ImportUndone.objects.filter(batch=batch).exists():
            raise DoesNotFit(_("This import was taken back already; nothing was written."))

    def asked() -> list[ImportBatch]:
        refuse_twice()
        whole[:] = with_mends(batch)
        return whole

    def keep(undone: Undone) -> None:
        # once more: somebody may have done it while this one waited for the molds
        refuse_twice()
        for each in whole:
            ImportUndone.objects.create(
                batch=each,
                reason=reason.strip()[:200],
                stayed=undone.stayed if each.pk == batch.pk else [],
                counts=undone.counts if each.pk == batch.pk else {},
                entries=undone.entries if each.pk == batch.pk else [],
                person=doing.person,
                written_at=doing.now,
            )

    if batch.kind == ImportBatch.Kind.READINGS:
        return take_back_readings(
            doing,
            batch=batch.pk,
            name=batch.name,
            reason=reason,
            brought=lambda: _readings_of(asked()),
            keep=keep,
        )
    return take_back_import(
        doing,
        batch=batch.pk,
        name=batch.name,
        reason=reason,
        brought=lambda: _rows_of(asked()),
        undone_entries=undone_entries(about=batch),
        keep=keep,
    )


def _readings_of(batches: Sequence[ImportBatch]) -> list[BroughtReadings]:
    return [
        BroughtReadings(
            batch=each.pk,
            after=each.after_reading or 0,
            last=each.last_reading or LARGEST_KEY,
        )
        for each in batches
    ]


def _rows_of(batches: Sequence[ImportBatch]) -> list[Brought]:
    return [
        Brought(
            row=each.row,
            act=each.act,
            mold=each.mold_id,
            rule=each.rule_id,
            completion=each.completion_id,
            owner=each.owner_id,
            spot=each.spot_id,
            before=each.before,
            after=each.after,
            entry=each.entry_id,
        )
        for each in brought_by(batches)
    ]
