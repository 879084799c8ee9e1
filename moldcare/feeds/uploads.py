"""Files that somebody is looking at before they are brought in."""

from collections.abc import Mapping
from typing import BinaryIO

from django.db import transaction

from moldcare.acts.doing import Doing
from moldcare.acts.rights import Right, require
from moldcare.feeds.models import ImportBatch, Upload, UploadLook, UploadRow
from moldcare.files import store
from moldcare.files.models import File


def keep_upload(
    doing: Doing, *, name: str, content: bytes, kind: str = ImportBatch.Kind.READINGS
) -> Upload:
    """Keep a file until it is brought in or left.

    Somebody who comes with the same file again, or taps twice, goes on with the one that is here.
    """
    require(doing.person, Right.IMPORT)
    sha256 = store.put(content)
    with transaction.atomic():
        of_person = Upload.objects.filter(person=doing.person, kind=kind, sha256=sha256)
        return of_person.order_by("id").first() or Upload.objects.create(
            kind=kind,
            name=name.replace("\0", "")[:200],
            sha256=sha256,
            person=doing.person,
            added_at=doing.now,
        )


def forget_look(upload: Upload) -> None:
    """Throw away what a file came to when it was looked at."""
    UploadRow.objects.filter(upload=upload).delete()
    UploadLook.objects.filter(upload=upload).delete()


def answer_upload(doing: Doing, *, upload: Upload, answers: Mapping[str, str]) -> None:
    """Keep what was answered about a file, to look at it with that later.

    What is answered empty is open again.
    """
    require(doing.person, Right.IMPORT)
    with transaction.atomic():
        row = Upload.objects.select_for_update(no_key=True).get(pk=upload.pk)
        row.answers = {key: value for key, value in answers.items() if value}
        row.save(update_fields=["answers"])


def leave_upload(doing: Doing, *, upload: Upload) -> None:
    """Throw a file away that is not needed any more."""
    require(doing.person, Right.IMPORT)
    with transaction.atomic():
        forget_look(upload)
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
