"""Writing the whole plant as one archive."""

import hashlib
import zipfile
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import IO, Final

from moldcare.feeds.archive.container import CHUNK, MANIFEST, README
from moldcare.feeds.archive.manifest import Manifest, TableLine, migrations_now
from moldcare.feeds.archive.readme import README_TEXT
from moldcare.feeds.archive.rows import lines_of
from moldcare.feeds.archive.snapshot import snapshot
from moldcare.feeds.archive.tables import (
    NEED_BYTES,
    ArchiveTable,
    archive_tables,
    names_bytes,
)
from moldcare.files import store
from moldcare.plant.queries import the_plant

# the first instant that a ZIP can name: the same plant gives the same bytes
_ALWAYS: Final = (1980, 1, 1, 0, 0, 0)
_UNIX: Final = 3
_READABLE: Final = 0o100644 << 16
_LEVEL: Final = 6
# the first bytes of what is kept; see also moldcare.acts.files
_ENDINGS: Final = ((b"\xff\xd8\xff", ".jpg"), (b"\x89PNG", ".png"), (b"%PDF-", ".pdf"))


@dataclass(frozen=True, kw_only=True, slots=True)
class Written:
    """What was written, and which photos were lost already, by their SHA-256."""

    tables: int
    rows: int
    files: int
    lost: dict[str, str]


def write_archive(out: IO[bytes], *, made_at: datetime) -> Written:
    """Write the plant's archive to a seekable file; the same plant gives the same bytes.

    Everything is seen as of one instant, however long it takes, and a few rows at a time.

    Parameters
    ----------
    out : binary file
    made_at : datetime
        When it is made, as the manifest says.
    """
    with snapshot(), zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        _put(archive, name=README, chunks=[README_TEXT.encode()])
        lines = [_table(archive, table=table) for table in archive_tables()]
        files, lost = _files(archive)
        manifest = Manifest(
            made_at=made_at,
            plant=the_plant().name,
            migrations=migrations_now(),
            tables=tuple(lines),
            files_count=files,
            files_lost=lost,
        )
        _put(archive, name=MANIFEST, chunks=[manifest.as_bytes()])
    return Written(tables=len(lines), rows=sum(line.rows for line in lines), files=files, lost=lost)


def _table(archive: zipfile.ZipFile, *, table: ArchiveTable) -> TableLine:
    sha256 = _put(archive, name=table.path, chunks=lines_of(table))
    return TableLine(
        table=table.label,
        kind=table.kind,
        file=table.path,
        columns=table.names,
        rows=table.model._base_manager.count(),
        sha256=sha256,
    )


def _files(archive: zipfile.ZipFile) -> tuple[int, dict[str, str]]:
    needed: dict[str, bool] = {}
    for table in archive_tables():
        if names_bytes(table):
            named = table.model._base_manager.values_list("sha256", flat=True)
            for sha256 in named.iterator():
                needed[sha256] = needed.get(sha256, False) or table.model in NEED_BYTES
    written, lost = 0, {}
    for sha256, is_needed in sorted(needed.items()):
        now = store.hash_now(sha256)
        if now == sha256:
            _put_file(archive, sha256=sha256)
            written += 1
        elif is_needed:
            lost[sha256] = "missing" if now is None else "changed"
    return written, lost


def _put_file(archive: zipfile.ZipFile, *, sha256: str) -> None:
    with store.opened(sha256) as stored:
        start = stored.read(16)
        stored.seek(0)
        ending = next((each for head, each in _ENDINGS if start.startswith(head)), "")
        if start[8:12] == b"WEBP":
            ending = ".webp"
        # photos are packed already
        _put(
            archive,
            name=f"files/{sha256}{ending}",
            chunks=iter(lambda: stored.read(CHUNK), b""),
            packing=zipfile.ZIP_STORED,
        )


def _put(
    archive: zipfile.ZipFile,
    *,
    name: str,
    chunks: Iterable[bytes],
    packing: int = zipfile.ZIP_DEFLATED,
) -> str:
    """Write a member and return the SHA-256 of its bytes."""
    member = zipfile.ZipInfo(name, date_time=_ALWAYS)
    member.create_system, member.external_attr = _UNIX, _READABLE
    member.compress_type = packing
    # a member of one's own making does not take the archive's level
    member._compresslevel = _LEVEL  # type: ignore[attr-defined]
    digest = hashlib.sha256()
    with archive.open(member, "w", force_zip64=True) as stream:
        for chunk in chunks:
            digest.update(chunk)
            stream.write(chunk)
    return digest.hexdigest()
