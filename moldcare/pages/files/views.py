"""A photo or document from the private store."""

from pathlib import PurePosixPath

from django.http import FileResponse, Http404, HttpRequest, HttpResponseBase
from django.utils.translation import gettext as _

from moldcare.files import store
from moldcare.files.models import File
from moldcare.files.queries import file_of, is_photo
from moldcare.pages.access import page

_ENDINGS = {
    File.Kind.JPEG: ".jpg",
    File.Kind.PNG: ".png",
    File.Kind.WEBP: ".webp",
    File.Kind.PDF: ".pdf",
}


@page()
def file(request: HttpRequest, sha256: str) -> HttpResponseBase:
    """Give the bytes under a hash: pictures to be shown, documents to be saved."""
    row = file_of(sha256) if len(sha256) == 64 and sha256.isalnum() else None
    if row is None:
        raise Http404(_("There is no such file."))
    try:
        content = store.opened(row.sha256)
    except (FileNotFoundError, ValueError):
        raise Http404(_("The file's bytes are not in the store any more.")) from None
    stem = PurePosixPath(row.name or row.sha256[:12]).stem
    response = FileResponse(
        content,
        as_attachment=not is_photo(row),
        filename=f"{stem}{_ENDINGS[File.Kind(row.kind)]}",
        content_type=row.kind,
    )
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Content-Security-Policy"] = "default-src 'none'; sandbox"
    # the bytes under a hash never change, but they are for people who are signed in
    response.headers["Cache-Control"] = "private, max-age=3600"
    return response
