"""What kind of file came in, told by its content and never by its name."""

import zipfile
from enum import StrEnum
from typing import BinaryIO, Final

from django.utils.translation import gettext as _

from moldcare.core.errors import WrongFile

#: A workbook that unpacks to more than this is no plant's reading list.
UNPACKED_BYTES_AT_MOST: Final = 1_500_000_000
#: Parts that are held in memory as a whole: shared texts, formats, the list of sheets.
PART_BYTES_AT_MOST: Final = 150_000_000
#: Real sheets pack to a tenth or a hundredth; only made-up ones beyond.
PACKED_TIMES_AT_MOST: Final = 200
SMALL_PART_BYTES: Final = 20_000_000


class Kind(StrEnum):
    """The kinds of file that hold a table for us."""

    TEXT = "text"
    WORKBOOK = "workbook"


def kind_of(file: BinaryIO) -> Kind:
    """Tell a text table from a workbook, and refuse everything else.

    Raises
    ------
    WrongFile
        With what the file is and what to do.
    """
    file.seek(0)
    head = file.read(4096)
    if not head.strip(b"\xef\xbb\xbf\xff\xfe\x00 \t\r\n"):
        if _is_blank(file):
            raise WrongFile(_("This file is empty."))
        return Kind.TEXT
    if head.startswith((b"PK\x03\x04", b"PK\x05\x06")):
        return _kind_of_zip(file)
    if head.startswith(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"):
        raise WrongFile(_old_or_locked(file))
    for start, sentence in _sentences():
        if head.lstrip(b"\xef\xbb\xbf \t\r\n").lower().startswith(start):
            raise WrongFile(sentence)
    return Kind.TEXT


def _sentences() -> list[tuple[bytes, str]]:
    photo = _("This is a picture. Type what it shows into a table, and bring that as CSV or XLSX.")
    page = _("This is a web page, whatever its name says. Save the table as CSV or XLSX.")
    return [
        (b"%pdf", _("This is a PDF. Bring the table as CSV or XLSX.")),
        (b"\xff\xd8\xff", photo),
        (b"\x89png", photo),
        (b"gif8", photo),
        (b"\x1f\x8b", _("This file is packed. Unpack it first.")),
        (b"<!doctype html", page),
        (b"<html", page),
        (b"<table", page),
        (b"<?xml", _("This is an XML file. Save the table as CSV or XLSX.")),
        (b"{\\rtf", _("This is a text document. Save the table as CSV or XLSX.")),
    ]


def _is_blank(file: BinaryIO) -> bool:
    file.seek(0)
    while chunk := file.read(1 << 20):
        if chunk.strip(b"\xef\xbb\xbf\xff\xfe\x00 \t\r\n"):
            return False
    return True


def _old_or_locked(file: BinaryIO) -> str:
    file.seek(0)
    head = file.read(1 << 20)
    if "EncryptedPackage".encode("utf-16-le") in head:
        return _("This workbook is locked with a password. Save a copy without one.")
    return _("This is an old workbook (XLS). Save it as XLSX or CSV.")


def _kind_of_zip(file: BinaryIO) -> Kind:
    damaged = WrongFile(_("This workbook is damaged. Open it, save it again, and bring the copy."))
    try:
        with zipfile.ZipFile(file) as packed:
            parts = packed.infolist()
            names = {part.filename for part in parts}
            mimetype = packed.read("mimetype")[:100] if _has_small_mimetype(packed) else b""
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError, RuntimeError):
        raise damaged from None
    if b"opendocument" in mimetype:
        raise WrongFile(_("This is an OpenDocument file. Save the table as XLSX or CSV."))
    if "xl/workbook.bin" in names:
        raise WrongFile(_("This is a binary workbook (XLSB). Save it as XLSX or CSV."))
    if any(name.startswith("word/") for name in names):
        raise WrongFile(_("This is a text document. Save the table as CSV or XLSX."))
    if "[Content_Types].xml" not in names or not any(name.startswith("xl/") for name in names):
        raise WrongFile(_("This is a packed folder. Unpack it and bring the table itself."))
    if any(part.flag_bits & 1 for part in parts):
        raise WrongFile(_("This workbook is locked with a password. Save a copy without one."))
    _refuse_bombs(parts)
    return Kind.WORKBOOK


def _has_small_mimetype(packed: zipfile.ZipFile) -> bool:
    try:
        return packed.getinfo("mimetype").file_size < 1000
    except KeyError:
        return False


def _refuse_bombs(parts: list[zipfile.ZipInfo]) -> None:
    """Refuse what unpacks to far more than a table; reading stops at the sizes declared here."""
    too_large = sum(part.file_size for part in parts) > UNPACKED_BYTES_AT_MOST
    for part in parts:
        is_sheet = part.filename.startswith("xl/worksheets/")
        times = part.file_size / max(part.compress_size, 1)
        too_large |= not is_sheet and part.file_size > PART_BYTES_AT_MOST
        too_large |= part.file_size > SMALL_PART_BYTES and times > PACKED_TIMES_AT_MOST
    if too_large:
        raise WrongFile(
            _("This workbook unpacks to far more than a table of readings. Save it as CSV.")
        )
