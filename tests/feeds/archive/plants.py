"""Plants that are written into archives, archives that somebody changed, and all of a database."""

import hashlib
import io
import json
import zipfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import models

from moldcare.counters.models import LifeSegment
from moldcare.feeds.archive import write_archive
from moldcare.feeds.archive.tables import own_models
from moldcare.feeds.models import UploadLook, UploadRow
from moldcare.plant.queries import forget_calendars
from tests.databases import DatabaseCopies

MADE_AT = datetime(2026, 11, 25, 6, 12, 0, 123456, tzinfo=UTC)

# answers about old knots, kept so as not to be worked out twice
NOT_COMPARED = {("counters.Life", "memo")}


@contextmanager
def another_database() -> Iterator[None]:
    """A migrated and empty database of its own, thrown away afterwards."""
    copies = DatabaseCopies()
    copies.begin()
    forget_calendars()
    try:
        yield
    finally:
        copies.end()
        forget_calendars()


@contextmanager
def another_store(folder: Path) -> Iterator[None]:
    """A store of photos in another folder."""
    usual = settings.MEDIA_ROOT
    settings.MEDIA_ROOT = folder
    try:
        yield
    finally:
        settings.MEDIA_ROOT = usual


def archived() -> bytes:
    """The plant's archive."""
    out = io.BytesIO()
    write_archive(out, made_at=MADE_AT)
    return out.getvalue()


def everything() -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every table by its name, without secrets and the numbers of segments.

    What a file came to when it was looked at is found by looking again, not by reading a plant.
    """
    found = {}
    for model in own_models():
        if model in {UploadLook, UploadRow}:
            continue
        label = model._meta.label
        names = [field.attname for field in columns(model)]
        rows = model._base_manager.values_list(*names)
        found[label] = sorted(rows, key=repr)
    return found


def columns(model: type[models.Model]) -> list[Any]:
    """The columns that must be the same after a plant was read back."""
    return [
        field
        for field in model._meta.concrete_fields
        if (model._meta.label, field.name) not in NOT_COMPARED
        and not (model is LifeSegment and field.primary_key)
        and field.name not in {"password", "pin_hash", "token_hash"}
    ]


def members(archive: bytes) -> dict[str, bytes]:
    """The members of an archive by name."""
    with zipfile.ZipFile(io.BytesIO(archive)) as packed:
        return {name: packed.read(name) for name in packed.namelist()}


def packed(contents: Mapping[str, bytes]) -> bytes:
    """A ZIP of the members."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in contents.items():
            archive.writestr(name, content)
    return out.getvalue()


def with_manifest(contents: dict[str, bytes], change: Callable[[dict[str, Any]], None]) -> bytes:
    """The archive with another manifest."""
    manifest = json.loads(contents["manifest.json"])
    change(manifest)
    return packed({**contents, "manifest.json": json.dumps(manifest).encode()})


def with_table(
    contents: dict[str, bytes], *, table: str, content: bytes, more_rows: int = 0
) -> bytes:
    """The archive with other rows in a table, and a manifest that says so."""

    def change(manifest: dict[str, Any]) -> None:
        line = line_of(manifest, table=table)
        line["sha256"] = hashlib.sha256(content).hexdigest()
        line["rows"] += more_rows

    path = line_of(json.loads(contents["manifest.json"]), table=table)["file"]
    return with_manifest({**contents, path: content}, change)


def line_of(manifest: dict[str, Any], *, table: str) -> dict[str, Any]:
    """What the manifest says of a table."""
    return next(line for line in manifest["tables"] if line["table"] == table)


def table_text(good: Mapping[str, bytes], table: str) -> tuple[str, str]:
    """The path of a table's file and what it holds."""
    path = line_of(json.loads(good["manifest.json"]), table=table)["file"]
    return path, good[path].decode()
