"""Archives of older versions, and instants on the way."""

import hashlib
import io
import json
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from moldcare.care.models import Standing
from moldcare.feeds.archive import read_archive
from moldcare.feeds.archive.errors import ArchiveRefused
from moldcare.feeds.archive.manifest import read_manifest
from moldcare.feeds.archive.tables import archive_tables
from moldcare.logbook.verify import verify_logbook
from moldcare.molds.models import Mold
from moldcare.plant.models import Person, Rate
from tests import factories
from tests.feeds.archive.plants import (
    another_store,
    archived,
    line_of,
    members,
    table_text,
    with_manifest,
)

Contents = dict[str, bytes]


# what the first version that wrote archives wrote of a small plant; never made anew
FIRST_FORM = Path(__file__).with_name("first_form.zip")


def test_the_first_archives_are_still_read(fresh_db: None, tmp_path: Path) -> None:
    """With all their rows, a logbook that verifies in the form of its time, and a plant at work.

    Rates had no currency of their own: they are in the plant's.
    """
    content = FIRST_FORM.read_bytes()
    said = json.loads(members(content)["manifest.json"])
    with another_store(tmp_path):
        found = read_archive(io.BytesIO(content))
        assert found.difference == ""
        assert "plant.Rate.currency" in found.new_columns
        kept = {table.label: table.model._base_manager.count() for table in archive_tables()}
        for line in said["tables"]:
            assert kept[line["table"]] == line["rows"], line["table"]
        assert {rate.currency for rate in Rate.objects.all()} == {"CHF"}
        assert verify_logbook(with_photos=True).is_whole
        assert Standing.objects.exists()
        mold = Mold.objects.order_by("pk")[0]
        factories.entry(mold.chain, author=Person.objects.filter(role="lead")[0])
        assert verify_logbook().is_whole
        again = archived()
    assert read_manifest(members(again)["manifest.json"]).plant == said["plant"]


def test_a_column_that_went_is_left_only_with_a_table_without_rows(
    fresh_db: None, tmp_path: Path
) -> None:
    contents = members(FIRST_FORM.read_bytes())
    line = line_of(json.loads(contents["manifest.json"]), table="work.Handover")
    assert ("taken_by_id" in line["columns"], line["rows"]) == (True, 0)
    contents[line["file"]] = json.dumps(dict.fromkeys(line["columns"], 1)).encode() + b"\n"

    def change(manifest: dict[str, Any]) -> None:
        changed = line_of(manifest, table="work.Handover")
        changed["sha256"] = hashlib.sha256(contents[line["file"]]).hexdigest()

    with another_store(tmp_path), pytest.raises(ArchiveRefused, match="Handover"):
        read_archive(io.BytesIO(with_manifest(contents, change)))


def test_an_archive_of_an_older_version_takes_defaults_and_says_so(
    good: Contents, db: None, tmp_path: Path
) -> None:
    """As if the last migration had brought a table, and a column with a default."""
    manifest = json.loads(good["manifest.json"])
    path, text = table_text(good, "plant.Spot")
    without = [",".join(line.split(",")[:-1]) + "\r\n" for line in text.splitlines()]
    contents = {**good, path: "".join(without).encode()}
    ends = line_of(manifest, table="production.InterruptionEnd")["file"]
    del contents[ends]

    def change(manifest: dict[str, Any]) -> None:
        line = line_of(manifest, table="plant.Spot")
        assert line["columns"].pop() == "is_in_use"
        line["sha256"] = hashlib.sha256(contents[path]).hexdigest()
        manifest["migrations"]["plant"].pop()
        manifest["tables"].remove(line_of(manifest, table="production.InterruptionEnd"))

    with another_store(tmp_path):
        found = read_archive(io.BytesIO(with_manifest(contents, change)))
    assert found.new_columns == ("plant.Spot.is_in_use",)
    assert found.new_tables == ("production.InterruptionEnd",)
    assert found.difference == ""


def test_an_older_archive_cannot_lack_what_has_no_default(
    good: Contents, refused: Callable[..., str]
) -> None:
    def change(manifest: dict[str, Any]) -> None:
        line_of(manifest, table="plant.Spot")["columns"].remove("number")
        manifest["migrations"]["plant"].pop()

    assert "lacks plant.Spot.number" in refused(with_manifest(good, change))


def test_instants_keep_their_microseconds_on_the_way(db: None, tmp_path: Path) -> None:
    """12:00:00, 12:00:00.5 and 12:00:00.123456 come back as they were hashed."""
    at = factories.ENTERED_AT
    with another_store(tmp_path):
        factories.plant()
        for microseconds in (0, 500_000, 123_456):
            factories.spot(kind="rack")
            factories.owner(name=f"o{microseconds}")
            mold = factories.mold()
            written_at = at + timedelta(hours=7, microseconds=microseconds)
            factories.entry(mold.chain, author=factories.person(), written_at=written_at)
        text = members(archived())["tables/logbook.Entry.jsonl"].decode()
    for ending in ("12:00:00.000000Z", "12:00:00.500000Z", "12:00:00.123456Z"):
        assert text.count(ending) >= 2, "as a column, and inside what was hashed"
