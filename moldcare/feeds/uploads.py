"""Files that somebody is looking at before they are brought in."""

from collections.abc import Mapping
from typing import BinaryIO

from django.db import transaction

from moldcare.acts.doing import Doing
from moldcare.acts.rights import Right, require
from moldcare.feeds.models import ImportBatch, Upload
from moldcare.files import store
from moldcare.files.models import File


def keep_upload(
    doing: Doing, *, name: str, content: bytes, kind: str = ImportBatch.Kind.READINGS
) -> Upload:
    """Keep a file until it is brought in or left."""
    require(doing.person, Right.IMPORT)
    return Upload.objects.create(
        kind=kind,
        name=name.replace("\0", "")[:200],
        sha256=store.put(content),
        person=doing.person,
        added_at=doing.now,
    )


def answer_upload(doing: Doing, *, upload: Upload, answers: Mapping[str, str]) -> None:
    """Keep what was answered about a file; what is answered empty is open again."""
    require(doing.person, Right.IMPORT)
    with transaction.atomic():
        row = Upload.objects.select_for_update(no_key=True).get(pk=upload.pk)
        row.answers = {key: value for key, value in answers.items() if value}
        row.save(update_fields=["answers"])


def leave_upload(doing: Doing, *, upload: Upload) -> None:
    """Throw a file away that is not needed any more."""
    require(doing.person, Right.IMPORT)
    Upload.objects.filter(pk=upload.pk).delete()
    is_needed = (
        Upload.objects.filter(sha256=upload.sha256).exists()
        or File.objects.filter(sha256=upload.sha256).exists()
    )
    if not is_needed:
        store.path_of(upload.sha256).unlink(missing_ok=True)


def content_of(upload: Upload) -> BinaryIO:
    """Open a file that is being looked at.

    Raises
    ------
    FileNotFoundError
        If somebody has cleared the store.
    """
    return store.opened(upload.sha256)
