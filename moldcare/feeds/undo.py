"""Taking an import of molds or care rules back as a whole."""

from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing
from moldcare.acts.errors import DoesNotFit
from moldcare.acts.moving_in import BroughtRow, Undone, take_back_import
from moldcare.feeds.models import ImportBatch, ImportUndone
from moldcare.feeds.queries import brought_by, undone_entries


def undo_import(doing: Doing, *, batch: ImportBatch, reason: str) -> Undone:
    """Take an import back by facts; what has later facts on it stays and is listed.

    Raises
    ------
    DoesNotFit
        If it was taken back already, or is one of counter readings.
    Incomplete
        If there is no reason.
    """
    if batch.kind == ImportBatch.Kind.READINGS:
        raise DoesNotFit(_("Readings are set aside one by one, where they are held or listed."))

    def keep(undone: Undone) -> None:
        if ImportUndone.objects.filter(batch=batch).exists():
            raise DoesNotFit(_("This import was taken back already; nothing was written."))
        ImportUndone.objects.create(
            batch=batch,
            reason=reason.strip()[:200],
            stayed=undone.stayed,
            counts=undone.counts,
            person=doing.person,
            written_at=doing.now,
        )

    return take_back_import(
        doing,
        batch=batch.pk,
        name=batch.name,
        reason=reason,
        brought=[
            BroughtRow(
                row=each.row,
                act=each.act,
                mold=each.mold_id,
                rule=each.rule_id,
                completion=each.completion_id,
                before=each.before,
                after=each.after,
                entry=each.entry_id,
            )
            for each in brought_by(batch)
        ],
        undone_entries=undone_entries(about=batch),
        keep=keep,
    )
