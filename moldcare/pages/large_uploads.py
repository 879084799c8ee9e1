"""Files that are sent by a form: too large ones are counted to their end, and not kept."""

import io
from typing import Any, Final

from django.core.files.uploadedfile import InMemoryUploadedFile, UploadedFile
from django.core.files.uploadhandler import FileUploadHandler

#: No page takes a larger file.
MOST_MEGABYTES: Final = 40
MOST_BYTES: Final = MOST_MEGABYTES * 1024 * 1024


class CutOff(FileUploadHandler):
    """Passes a file on to the handlers behind it as far as any page takes one.

    A larger one comes out as an empty file that knows how large it was, so that its form can say
    so; meanwhile neither memory nor disk holds more than the most.
    """

    def __init__(self, request: Any = None) -> None:
        super().__init__(request)
        self.size = 0

    def new_file(self, *args: Any, **kwargs: Any) -> None:
        """Begin to count."""
        super().new_file(*args, **kwargs)
        self.size = 0

    def receive_data_chunk(self, raw_data: bytes, start: int) -> bytes | None:
        """Count a piece; pass it on while the file is not too large."""
        self.size += len(raw_data)
        return raw_data if self.size <= MOST_BYTES else None

    def file_complete(self, file_size: int) -> "UploadedFile[bytes] | None":
        """Stand in for a file that was too large; leave all others to the handlers behind."""
        if self.size <= MOST_BYTES:
            return None
        for handler in self.request.upload_handlers if self.request is not None else ():
            # what was put by of it is thrown away at once
            handler.upload_interrupted()
        return InMemoryUploadedFile(
            file=io.BytesIO(),
            field_name=self.field_name,
            name=self.file_name,
            content_type=self.content_type or "",
            size=self.size,
            charset=self.charset,
            content_type_extra=self.content_type_extra,
        )
