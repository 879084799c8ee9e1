"""What an archive says of itself, and what is asked of that before anything is read in."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Final

from django.db import connection
from django.db.migrations.recorder import MigrationRecorder
from django.utils.translation import gettext as _

from moldcare.feeds.archive.errors import ArchiveRefused
from moldcare.feeds.archive.tables import own_models

FORMAT: Final = "moldcare plant archive"
VERSION: Final = 1


@dataclass(frozen=True, kw_only=True, slots=True)
class TableLine:
    """What is said of one table: its file, how many rows, the SHA-256 of the file's bytes."""

    table: str
    kind: str
    file: str
    columns: tuple[str, ...]
    rows: int
    sha256: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Manifest:
    """What an archive says of itself.

    Parameters
    ----------
    made_at : datetime
    plant : str
        The plant's name.
    migrations : mapping of str to tuple of str
        Which forms of the tables it was written from, a package.
    tables : tuple of TableLine
    files_count : int
        How many photos and documents lie in it.
    files_lost : mapping of str to str
        By SHA-256 those that rows name and that were missing or changed in the store already.
    """

    made_at: datetime
    plant: str
    migrations: Mapping[str, tuple[str, ...]]
    tables: tuple[TableLine, ...]
    files_count: int
    files_lost: Mapping[str, str]

    def as_bytes(self) -> bytes:
        """Return it as JSON, the same bytes each time."""
        content = {
            "format": FORMAT,
            "version": VERSION,
            "made_at": self.made_at.astimezone(UTC).isoformat().replace("+00:00", "Z"),
            "plant": self.plant,
            "migrations": self.migrations,
            "tables": [
                {name: getattr(line, name) for name in TableLine.__dataclass_fields__}
                for line in self.tables
            ],
            "files": {"count": self.files_count, "lost": self.files_lost},
        }
        return (json.dumps(content, ensure_ascii=False, indent=1) + "\n").encode()


def migrations_now() -> dict[str, tuple[str, ...]]:
    """Return the migrations of our packages that the database has had."""
    ours = sorted({model._meta.app_label for model in own_models()})
    had = sorted(MigrationRecorder(connection).applied_migrations())
    return {app: tuple(name for label, name in had if label == app) for app in ours}


def read_manifest(content: bytes) -> Manifest:
    """Return what an archive says of itself.

    Raises
    ------
    ArchiveRefused
        If it is no archive of ours, or of a newer form than this version of the program knows.
    """
    try:
        found = json.loads(content)
    except (ValueError, RecursionError):
        raise _unreadable("manifest.json") from None
    if not isinstance(found, dict) or found.get("format") != FORMAT:
        raise ArchiveRefused(_("This is no archive of a plant: its manifest.json does not say so."))
    version = found.get("version")
    if not isinstance(version, int) or version < 1:
        raise _unreadable("version")
    if version > VERSION:
        raise ArchiveRefused(
            _(
                "The archive has form %(theirs)d, and this version of the program reads forms up "
                "to %(ours)d. Update the program first; nothing was written."
            )
            % {"theirs": version, "ours": VERSION}
        )
    try:
        return _manifest(found)
    except (AttributeError, KeyError, TypeError, ValueError, OverflowError) as error:
        raise _unreadable(str(error)) from None


def _manifest(found: Mapping[str, Any]) -> Manifest:
    made_at = datetime.fromisoformat(found["made_at"])
    if made_at.tzinfo is None:
        raise ValueError("made_at")
    tables = tuple(
        TableLine(
            table=_text(each["table"]),
            kind=_text(each["kind"]),
            file=_text(each["file"]),
            columns=_texts(each["columns"]),
            rows=_whole(each["rows"]),
            sha256=_text(each["sha256"]),
        )
        for each in found["tables"]
    )
    if len({line.table for line in tables}) < len(tables):
        raise ValueError("tables")
    return Manifest(
        made_at=made_at,
        plant=_text(found["plant"]),
        migrations={_text(app): _texts(names) for app, names in found["migrations"].items()},
        tables=tables,
        files_count=_whole(found["files"]["count"]),
        files_lost={_text(key): _text(why) for key, why in found["files"]["lost"].items()},
    )


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError(f"{value!r:.40} is no text")
    return value


def _texts(values: Sequence[Any]) -> tuple[str, ...]:
    if not isinstance(values, list):
        raise TypeError(f"{values!r:.40} is no list")
    return tuple(_text(value) for value in values)


def _whole(value: Any) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or value < 0:
        raise TypeError(f"{value!r:.40} is no number of rows")
    return value


def _unreadable(why: str) -> ArchiveRefused:
    return ArchiveRefused(
        _("The archive's manifest.json cannot be read: %(why)s. Nothing was written.")
        % {"why": why}
    )
