"""Archives that were changed, cut off or made to harm get a sentence, and nothing is written."""

import io
import json
import os
import re
import struct
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from moldcare.feeds.archive import ArchiveRefused, container, read_archive
from moldcare.logbook.models import Entry
from moldcare.plant.models import Person, Plant
from tests import factories
from tests.feeds.archive.plants import (
    another_store,
    line_of,
    packed,
    table_text,
    with_manifest,
    with_table,
)

Contents = dict[str, bytes]
PHOTO = "files/" + "0" * 64 + ".jpg"


def photo_in(good: Contents) -> str:
    return next(name for name in good if name.startswith("files/"))


def test_the_archive_itself_is_read(good: Contents, db: None, tmp_path: Path) -> None:
    """Or none of the refusals below would say anything."""
    with another_store(tmp_path):
        found = read_archive(io.BytesIO(packed(good)))
    assert found.difference == ""
    assert Entry.objects.exists()
    assert Plant.objects.get().name


@pytest.mark.parametrize(
    "content",
    [b"", b"PK", b"id;name\n1;2\n", b"\xff\xd8\xff" * 99, b"PK\x05\x06" + b"\xff" * 18],
    ids=["empty", "two bytes", "text", "photo", "end of nothing"],
)
def test_what_is_no_zip_is_refused(refused: Callable[..., str], content: bytes) -> None:
    assert "no archive of a plant" in refused(content) or "list of files" in refused(content)


def test_a_zip_of_something_else_is_refused(refused: Callable[..., str]) -> None:
    assert "which is no part of a plant" in refused(packed({"letter.docx": b"dear"}))
    assert "lacks manifest.json" in refused(packed({"README.txt": b"dear"}))
    assert "does not say so" in refused(packed({"manifest.json": b"{}"}))
    assert "manifest.json cannot be read" in refused(packed({"manifest.json": b"[" * 99_999}))


@pytest.mark.parametrize(
    "name", ["../../etc/passwd", "/etc/passwd", "files/../../x", "tables/..csv", "C:\\x", "a\0b"]
)
def test_a_path_that_leads_elsewhere_is_refused(
    good: Contents, refused: Callable[..., str], name: str
) -> None:
    member = zipfile.ZipInfo("x")
    member.filename = name
    out = io.BytesIO(packed(good))
    with zipfile.ZipFile(out, "a") as archive:
        archive.writestr(member, b"x")
    assert "which is no part of a plant" in refused(out.getvalue())


def test_an_archive_that_was_cut_off_is_refused(
    good: Contents, refused: Callable[..., str]
) -> None:
    whole = packed(good)
    for share in (0.1, 0.5, 0.9, 0.999):
        assert "no archive" in refused(whole[: int(len(whole) * share)])


def test_a_changed_byte_is_found_anywhere(good: Contents, refused: Callable[..., str]) -> None:
    """In what the files hold; the parts of a ZIP that nothing reads may be as they like."""
    whole = packed(good)
    with zipfile.ZipFile(io.BytesIO(whole)) as archive:
        for member in archive.infolist():
            if member.filename == "README.txt" or not member.file_size:
                continue
            name = len(member.filename.encode())
            place = member.header_offset + 30 + name + member.compress_size // 2
            changed = bytearray(whole)
            changed[place] ^= 0x10
            assert refused(bytes(changed)), member.filename


def test_a_changed_file_is_found_though_the_zip_is_whole(
    good: Contents, refused: Callable[..., str]
) -> None:
    path, text = table_text(good, "plant.Spot")
    said = refused(packed({**good, path: text.replace("press", "bench").encode()}))
    assert said == f"The archive was changed: {path} has another SHA-256. Nothing was written."
    name = photo_in(good)
    assert name in refused(packed({**good, name: good[name] + b" "}))


def test_a_missing_file_is_refused(good: Contents, refused: Callable[..., str]) -> None:
    for name in good:
        if name == "README.txt":
            continue
        less = {each: content for each, content in good.items() if each != name}
        assert "lacks" in refused(packed(less)) or "photos" in refused(packed(less)), name


def test_a_photo_less_is_refused_though_the_manifest_counts_one_less(
    good: Contents, refused: Callable[..., str]
) -> None:
    less = {name: content for name, content in good.items() if name != photo_in(good)}

    def change(manifest: dict[str, Any]) -> None:
        manifest["files"]["count"] -= 1

    assert "lacks the file" in refused(with_manifest(less, change))


def test_a_photo_that_nothing_names_is_refused(good: Contents, refused: Callable[..., str]) -> None:
    import hashlib

    name = f"files/{hashlib.sha256(b'stranger').hexdigest()}.jpg"

    def change(manifest: dict[str, Any]) -> None:
        manifest["files"]["count"] += 1

    said = refused(with_manifest({**good, name: b"stranger"}, change))
    assert "which nothing in it names" in said


def test_wrong_counts_are_refused(good: Contents, refused: Callable[..., str]) -> None:
    def change(manifest: dict[str, Any]) -> None:
        line_of(manifest, table="counters.Reading")["rows"] += 1

    assert "rows and says" in refused(with_manifest(good, change))


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (lambda m: m.update(version=2), "Update the program first"),
        (lambda m: m.update(version="1"), "cannot be read"),
        (lambda m: m["migrations"]["care"].append("0999_later"), "newer version of the program"),
        (lambda m: m["migrations"].update(cooling=["0001_initial"]), "newer version"),
        (lambda m: m["tables"].pop(3), "lacks"),
        (lambda m: m["tables"].append(m["tables"][0]), "cannot be read"),
        (lambda m: m["tables"][0].update(table="auth.Group"), "lacks plant.Plant"),
        (lambda m: m["tables"][0]["columns"].append("password"), "which this program has not"),
        (lambda m: m["tables"][0]["columns"].remove("zone"), "lacks plant.Plant.zone"),
        (lambda m: m["tables"][0].update(rows=-1), "cannot be read"),
        (lambda m: m["tables"][0].update(file="../x.csv"), "lacks"),
        (lambda m: m.update(tables=7), "cannot be read"),
        (lambda m: m.update(made_at="yesterday"), "cannot be read"),
        (lambda m: m["files"].update(lost=[]), "cannot be read"),
    ],
)
def test_a_manifest_that_says_something_else_is_refused(
    good: Contents,
    refused: Callable[..., str],
    change: Callable[[dict[str, Any]], None],
    sentence: str,
) -> None:
    assert sentence in refused(with_manifest(good, change))


@pytest.mark.parametrize(
    ("table", "old", "new", "sentence"),
    [
        ("counters.Reading", ",typed,", ",magic,", "cannot stand"),
        ("counters.Reading", ",typed,", ",typed,9", "cannot stand"),
        ("plant.Spot", r"(?m)^\d+,press", "one,press", "id is no whole number"),
        ("plant.Spot", r"(?m)^\d+,press", "99999999999999999999,press", "id is no whole number"),
        ("plant.Spot", r"(?m)^\d+,press", r"\N,press", "id is missing"),
        ("plant.Spot", ",true", ",perhaps", "is_in_use is neither true nor false"),
        ("plant.Spot", ",true", ",true,more", "more or fewer values"),
        ("plant.Spot", ",true", ',"true', "Row"),
        ("plant.Plant", "Europe/Berlin", "Nowhere/Else", "Nowhere/Else"),
        ("plant.Plant", "Europe/Berlin", "Europe/" + "B" * 60, "has more than 60 signs"),
        ("plant.Plant", "Europe/Berlin", "../../etc/passwd", "cannot stand"),
        ("molds.Mold", "2026-01-05T05:00:00.000000Z", "2026-01-05T05:00:00", "offset"),
        ("molds.Mold", "2026-01-05T05:00:00.000000Z", "2026-13-05T05:00:00Z", "no instant"),
        ("logbook.Entry", '"number":1,', '"number":NaN,', "NaN is no number"),
        ("logbook.Entry", '"number":1,', '"digit":1,', "its columns are not those"),
        ("logbook.Entry", '"number":1,', '"number":1e400,', "number is no whole number"),
        ("logbook.Entry", r"\{", "[" * 9_999, "Row 1"),
        ("logbook.Entry", '"kind":"', '"kind":"\\ud800', "cannot stand"),
        ("logbook.Entry", '"kind":"', '"kind":"\\u0000', "no text holds"),
    ],
)
def test_rows_that_cannot_be_are_refused_though_their_hash_is_right(
    good: Contents,
    refused: Callable[..., str],
    table: str,
    old: str,
    new: str,
    sentence: str,
) -> None:
    _path, text = table_text(good, table)
    changed, times = re.subn(old, lambda _: new, text, count=1)
    assert times
    said = refused(with_table(good, table=table, content=changed.encode()))
    assert sentence in said
    assert said.endswith("Nothing was written.")


def test_a_row_less_that_others_name_is_refused(
    good: Contents, refused: Callable[..., str]
) -> None:
    path, text = table_text(good, "plant.Spot")
    lines = text.splitlines(keepends=True)
    changed = with_table(
        good, table="plant.Spot", content=lines[0].encode(), more_rows=1 - len(lines)
    )
    assert path not in refused(changed)


def test_a_logbook_that_somebody_wrote_over_is_refused_and_can_be_read_in_by_decision(
    good: Contents, refused: Callable[..., str], tmp_path: Path
) -> None:
    _path, text = table_text(good, "logbook.Entry")
    first = json.loads(text.splitlines()[0])
    changed = text.replace(json.dumps(first["sentence"])[1:-1], "Nothing happened", 1)
    assert changed != text
    archive = with_table(good, table="logbook.Entry", content=changed.encode())
    assert "The logbook in the archive is not whole." in refused(archive)
    with another_store(tmp_path):
        found = read_archive(io.BytesIO(archive), accepts_broken_logbook=True)
    assert found.difference


def test_a_zip_that_unpacks_without_end_is_refused(
    good: Contents, refused: Callable[..., str]
) -> None:
    path, _text = table_text(good, "counters.Reading")
    assert "far larger" in refused(packed({**good, path: b"\n" * (64 << 20)}))
    assert "far larger" in refused(packed({**good, PHOTO: b"\0" * (64 << 20)}))


def test_members_that_share_their_bytes_are_refused(
    good: Contents, refused: Callable[..., str]
) -> None:
    """Every photo's place in the list of the ZIP names the bytes of one and the same."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("manifest.json", good["manifest.json"])
        archive.writestr("files/" + "0" * 64, os.urandom(1 << 16))
        shared = archive.getinfo("files/" + "0" * 64)
        for number in range(1, 9):
            again = zipfile.ZipInfo(f"files/{number:064x}")
            again.header_offset, again.CRC = shared.header_offset, shared.CRC
            again.file_size, again.compress_size = shared.file_size, shared.compress_size
            archive.filelist.append(again)
            archive.NameToInfo[again.filename] = again
    assert refused(out.getvalue())


def test_a_list_of_members_without_end_is_refused(
    refused: Callable[..., str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(container, "MOST_LIST_BYTES", 500)
    many = packed({f"files/{number:064x}": b"" for number in range(20)})
    assert "list of files" in refused(many)


def test_what_lies_about_the_length_of_its_list_is_refused(
    good: Contents, refused: Callable[..., str]
) -> None:
    whole = bytearray(packed(good))
    place = whole.rfind(b"PK\x05\x06")
    struct.pack_into("<L", whole, place + 12, 2**31)
    assert "list of files" in refused(bytes(whole))


def test_a_locked_archive_is_refused(good: Contents, refused: Callable[..., str]) -> None:
    whole = bytearray(packed({"manifest.json": good["manifest.json"]}))
    listed = whole.rfind(b"PK\x01\x02")
    whole[listed + 8] |= 1
    assert "cannot be unpacked" in refused(bytes(whole))


def test_a_file_twice_is_refused(good: Contents, refused: Callable[..., str]) -> None:
    out = io.BytesIO(packed(good))
    with zipfile.ZipFile(out, "a") as archive, pytest.warns(UserWarning, match="Duplicate"):
        archive.writestr("manifest.json", b"{}")
    assert "twice" in refused(out.getvalue())


def test_a_database_that_is_not_empty_takes_no_archive(
    good: Contents, db: None, tmp_path: Path
) -> None:
    factories.owner(name="ours")
    with another_store(tmp_path), pytest.raises(ArchiveRefused, match="not empty"):
        read_archive(io.BytesIO(packed(good)))
    assert not Entry.objects.exists()
    assert not list(tmp_path.iterdir())


def test_photos_are_not_put_down_where_the_end_fails(
    good: Contents, db: None, tmp_path: Path
) -> None:
    def fail() -> None:
        raise ArchiveRefused("at the end")

    with another_store(tmp_path), pytest.raises(ArchiveRefused, match="at the end"):
        read_archive(io.BytesIO(packed(good)), at_the_end=fail)
    assert not Person.objects.exists()
    assert not list(tmp_path.iterdir())
