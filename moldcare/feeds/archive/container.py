"""The ZIP itself: opened only as far as it is one of ours, and read in bounded memory."""

import hashlib
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from typing import IO, BinaryIO, Final

from django.utils.translation import gettext as _

from moldcare.feeds.archive.errors import ArchiveRefused

MANIFEST: Final = "manifest.json"
README: Final = "README.txt"
CHUNK: Final = 1 << 20
#: How many bytes the list of an archive's members may take: some 200,000 photos.
MOST_LIST_BYTES: Final = 32 << 20
MOST_MANIFEST_BYTES: Final = 16 << 20
#: A photo or a file that was being looked at, in memory as a whole.
MOST_FILE_BYTES: Final = 64 << 20
#: Rows of a table come to a tenth or a fiftieth of their size; what comes to less is a trap.
MOST_TIMES: Final = 200
SMALL_BYTES: Final = 1 << 20

_TABLE: Final = re.compile(r"tables/[a-z]+\.\w+\.(?:csv|jsonl)", re.ASCII)
_FILE: Final = re.compile(r"files/([0-9a-f]{64})(?:\.[a-z]{3,4})?", re.ASCII)
# ZIP, APPNOTE 6.3.10 of PKWARE: 4.3.14 to 4.3.16, the records at the end
_END: Final = struct.Struct("<4s4H2LH")
_END_64_PLACE: Final = struct.Struct("<4sLQL")
_END_64: Final = struct.Struct("<4sQ2H2L4Q")
_LONGEST_COMMENT: Final = (1 << 16) - 1


class Container:
    """An archive's ZIP, looked over: every member is one that an archive of ours can hold."""

    def __init__(self, archive: zipfile.ZipFile, *, members: dict[str, zipfile.ZipInfo]) -> None:
        self._archive = archive
        self._members = members
        self.files = {
            match[1]: name for name in members if (match := _FILE.fullmatch(name)) is not None
        }

    @property
    def tables(self) -> set[str]:
        """The names of the tables' files."""
        return {name for name in self._members if _TABLE.fullmatch(name)}

    @contextmanager
    def opened(self, name: str) -> Iterator[IO[bytes]]:
        """Open a member; what is damaged in it is said in a sentence.

        Raises
        ------
        ArchiveRefused
            If it is not there or cannot be unpacked.
        """
        member = self._members.get(name)
        if member is None:
            raise ArchiveRefused(
                _("The archive lacks %(name)s. Nothing was written.") % {"name": name}
            )
        with _unpacking(name), self._archive.open(member) as stream:
            yield stream

    def content(self, name: str, *, most: int) -> bytes:
        """Return the bytes of a small member."""
        with self.opened(name) as stream:
            content = stream.read(most + 1)
        if len(content) > most:
            raise _too_large(name)
        return content

    def sha256(self, name: str) -> str:
        """Return the SHA-256 of a member's bytes."""
        digest = hashlib.sha256()
        with self.opened(name) as stream:
            while chunk := stream.read(CHUNK):
                digest.update(chunk)
        return digest.hexdigest()


@contextmanager
def opened_container(file: BinaryIO) -> Iterator[Container]:
    """Open a seekable file as an archive's ZIP.

    Raises
    ------
    ArchiveRefused
        If it is no ZIP, or one that no archive of ours is.
    """
    size = _size_of(file)
    if _list_bytes(file, size=size) > MOST_LIST_BYTES:
        raise _too_large(_("its list of files"))
    try:
        archive = zipfile.ZipFile(file)
    except (zipfile.BadZipFile, NotImplementedError, OSError, ValueError, struct.error):
        raise _no_zip() from None
    with archive:
        yield Container(archive, members=_looked_over(archive, size=size))


def _looked_over(archive: zipfile.ZipFile, *, size: int) -> dict[str, zipfile.ZipInfo]:
    members: dict[str, zipfile.ZipInfo] = {}
    for member in archive.infolist():
        name = member.filename
        is_ours = (
            name in (MANIFEST, README)
            or _TABLE.fullmatch(name) is not None
            or _FILE.fullmatch(name) is not None
        )
        if not is_ours or name != member.orig_filename:
            raise ArchiveRefused(
                _("The archive holds %(name)s, which is no part of a plant. Nothing was written.")
                % {"name": repr(name[:80])}
            )
        if name in members:
            raise ArchiveRefused(
                _("The archive holds %(name)s twice. Nothing was written.") % {"name": name}
            )
        is_packed_as_ours = member.compress_type in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
        if member.flag_bits & 1 or not is_packed_as_ours:
            raise _damaged(name)
        packed = max(member.compress_size, 1)
        if member.file_size > SMALL_BYTES and member.file_size > MOST_TIMES * packed:
            raise _too_large(name)
        members[name] = member
    # members that share bytes unpack to any size
    if sum(member.compress_size for member in members.values()) > size:
        raise _damaged(MANIFEST)
    return members


def _list_bytes(file: BinaryIO, *, size: int) -> int:
    """Return how many bytes the list of members takes, before it is read into memory."""
    start = max(0, size - _LONGEST_COMMENT - _END.size)
    file.seek(start)
    tail = file.read()
    place = tail.rfind(b"PK\x05\x06")
    if place < 0 or len(tail) < place + _END.size:
        raise _no_zip()
    listed = int(_END.unpack_from(tail, place)[5])
    file.seek(max(0, start + place - _END_64_PLACE.size))
    before = file.read(_END_64_PLACE.size)
    if len(before) == _END_64_PLACE.size and before.startswith(b"PK\x06\x07"):
        file.seek(min(_END_64_PLACE.unpack(before)[2], size))
        end = file.read(_END_64.size)
        if len(end) == _END_64.size and end.startswith(b"PK\x06\x06"):
            listed = int(_END_64.unpack(end)[8])
    return listed


def _size_of(file: BinaryIO) -> int:
    return file.seek(0, 2)


@contextmanager
def _unpacking(name: str) -> Iterator[None]:
    try:
        yield
    except (
        zipfile.BadZipFile,
        zlib.error,
        EOFError,
        NotImplementedError,
        struct.error,
    ):
        raise _damaged(name) from None


def _no_zip() -> ArchiveRefused:
    return ArchiveRefused(_("This is no archive of a plant: it is no ZIP file, or is cut off."))


def _damaged(name: str) -> ArchiveRefused:
    return ArchiveRefused(
        _("The archive is damaged: %(name)s cannot be unpacked. Nothing was written.")
        % {"name": name}
    )


def _too_large(name: str) -> ArchiveRefused:
    return ArchiveRefused(
        _("The archive is not read: %(name)s is far larger than it can be. Nothing was written.")
        % {"name": name}
    )
