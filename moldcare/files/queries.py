"""Questions about photos and documents."""

from moldcare.files.models import File

PHOTO_KINDS = (File.Kind.JPEG, File.Kind.PNG, File.Kind.WEBP)


def file_of(sha256: str) -> File | None:
    """Return the file with the hash."""
    return File.objects.filter(sha256=sha256).first()


def is_photo(file: File) -> bool:
    """Return whether the file is a picture, which pages may show in place."""
    return file.kind in PHOTO_KINDS
