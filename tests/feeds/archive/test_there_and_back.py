"""A plant that was written into an archive and read back is the same plant."""

import io
import json
import os
import subprocess
import sys
from datetime import date
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.db import DatabaseError, connection

from moldcare.acts.doing import Doing
from moldcare.acts.files import add_file
from moldcare.acts.rebuild import first_difference, rebuild
from moldcare.core.chain import verify_chain
from moldcare.demo.load import load_demo
from moldcare.feeds.archive import read_archive
from moldcare.feeds.archive.tables import SECRET_TABLES, archive_tables, own_models
from moldcare.feeds.models import Token
from moldcare.handin.models import HandIn, SealingKey
from moldcare.logbook.convert import stored_entries
from moldcare.logbook.models import Chain, Entry
from moldcare.logbook.verify import verify_logbook
from moldcare.molds.models import Mold
from moldcare.plant.models import Person, Plant, Spot
from tests import factories
from tests.conventions.source import ROOT
from tests.conventions.test_tables import listed
from tests.demo.small_plant import SIX_PRESSES, TWELVE
from tests.feeds.archive.nonsense import one_of_each
from tests.feeds.archive.plants import (
    MADE_AT,
    another_database,
    another_store,
    archived,
    everything,
    members,
)
from tests.pages.small_world import small_world

pytestmark = pytest.mark.django_db
TOKEN_HASH, SEALED = "70ce" * 16, "5ea1" * 16
SECRETS = {model._meta.label for model in SECRET_TABLES}

# what a file of texts can stumble over, each as a name of a rack
AWKWARD = (
    "",
    " ",
    "\\N",
    "\\",
    "=1+1",
    "'=1+1",
    "'s-Hertog",
    "-0.35",
    'said "so", twice',
    "two\r\nlines\rand\nmore",
    "a\tb",
    "Du\u0308se, Düse",
    "\N{NO-BREAK SPACE}M\u200b\U0001f9ea",
    "null",
)


@pytest.fixture(scope="module")
def small_plant(
    django_db_setup: None, django_db_blocker: Any, tmp_path_factory: pytest.TempPathFactory
) -> dict[str, Any]:
    """Twenty days of a plant that works, its archive, and what stood in its database."""
    with (
        django_db_blocker.unblock(),
        another_database(),
        another_store(tmp_path_factory.mktemp("files")),
    ):
        load_demo(today=date(2026, 11, 25), days=20, molds=TWELVE[:6], presses=SIX_PRESSES)
        for number, name in enumerate(AWKWARD):
            factories.spot(kind="rack", number=f"R {number}", name=name)
        lead = Person.objects.filter(role=Person.Role.LEAD).order_by("pk")[0]
        photo = ROOT / "static" / "pictures" / "mold.png"
        add_file(Doing(person=lead, now=MADE_AT), content=photo.read_bytes(), name="=Düse.png")
        Token.objects.create(name="hall", token_hash=TOKEN_HASH, person=lead, made_at=MADE_AT)
        SealingKey.objects.create(public="shown", private_encrypted=SEALED, made_at=MADE_AT)
        return as_it_stands()


@pytest.fixture(scope="module")
def mixed_plant(
    django_db_setup: None, django_db_blocker: Any, tmp_path_factory: pytest.TempPathFactory
) -> dict[str, Any]:
    """One of each thing that a page is about, and of what the plant that works has none."""
    with (
        django_db_blocker.unblock(),
        another_database(),
        another_store(tmp_path_factory.mktemp("files")),
    ):
        one_of_each(small_world())
        rebuild()
        return as_it_stands()


def as_it_stands() -> dict[str, Any]:
    """The plant's archive, twice, and what stands in its database."""
    sign_in_by = Person.objects.values_list("password", "pin_hash")
    return {
        "archive": archived(),
        "again": archived(),
        "everything": everything(),
        "due": due(),
        "secrets": [each for row in sign_in_by for each in row if each],
    }


def due() -> list[dict[str, Any]]:
    out = StringIO()
    call_command("due", "--all", "--format", "json", stdout=out)
    found: list[dict[str, Any]] = json.loads(out.getvalue())
    return found


def test_an_archive_has_every_table_of_facts_and_records_but_secrets() -> None:
    kept = {label for label, kind in listed().items() if kind != "derived"}
    assert {"feeds.Token", "handin.SealingKey"} == SECRETS
    assert {table.label for table in archive_tables()} == kept - SECRETS
    assert {table.label: table.kind for table in archive_tables()} == {
        label: kind for label, kind in listed().items() if label in kept - SECRETS
    }


def test_nothing_that_somebody_signs_in_with_is_a_column_of_an_archive() -> None:
    words = ("password", "pin", "token", "secret", "session")
    for table in archive_tables():
        for name in table.names:
            assert not set(name.split("_")) & set(words), f"{table.label}.{name}"
        if table.model is not Person:
            everything_else = {field.attname for field in table.model._meta.concrete_fields}
            assert set(table.names) == everything_else


def test_the_same_plant_gives_the_same_bytes(small_plant: dict[str, Any]) -> None:
    assert small_plant["archive"] == small_plant["again"]


def test_the_manifest_names_every_file_with_its_rows_and_hash(small_plant: dict[str, Any]) -> None:
    contents = members(small_plant["archive"])
    manifest = json.loads(contents["manifest.json"])
    assert (manifest["version"], manifest["made_at"]) == (1, "2026-11-25T06:12:00.123456Z")
    for line in manifest["tables"]:
        assert line["rows"] == len(small_plant["everything"][line["table"]]), line["table"]
    tables = {name for name in contents if name.startswith("tables/")}
    assert {line["file"] for line in manifest["tables"]} == tables
    assert manifest["files"]["count"] == sum(name.startswith("files/") for name in contents) > 0


def test_no_secret_is_in_an_archive(small_plant: dict[str, Any]) -> None:
    assert small_plant["secrets"]
    everything_packed = b"".join(members(small_plant["archive"]).values())
    for secret in [*small_plant["secrets"], TOKEN_HASH, SEALED]:
        assert secret.encode() not in everything_packed


def test_entries_verify_from_the_archive_alone(small_plant: dict[str, Any]) -> None:
    """SHA-256 (FIPS 180-4) of the text as it stands in the file, as README.txt says."""
    import hashlib

    lines = members(small_plant["archive"])["tables/logbook.Entry.jsonl"].decode().split("\n")
    entries = [json.loads(line) for line in lines if line]
    assert len(entries) > 100
    heads: dict[int, str] = {}
    for entry in sorted(entries, key=lambda entry: (entry["chain_id"], entry["number"])):
        assert hashlib.sha256(entry["canonical"].encode()).hexdigest() == entry["hash"]
        if entry["chain_id"] in heads:
            assert heads[entry["chain_id"]] in entry["canonical"]
        heads[entry["chain_id"]] = entry["hash"]


def test_no_table_is_empty_in_both_plants(
    small_plant: dict[str, Any], mixed_plant: dict[str, Any]
) -> None:
    """Or a table that is there would not be seen to come back."""
    empty = {
        table.label
        for table in archive_tables()
        if not small_plant["everything"][table.label] + mixed_plant["everything"][table.label]
    }
    assert not empty


@pytest.mark.parametrize("name", ["small_plant", "mixed_plant"])
def test_a_plant_that_was_read_back_is_the_same_plant(
    name: str, request: pytest.FixtureRequest, fresh_db: None, tmp_path: Path
) -> None:
    plant = request.getfixturevalue(name)
    with another_database(), another_store(tmp_path):
        found = read_archive(io.BytesIO(plant["archive"]))
        assert found.difference == ""
        assert not found.new_tables + found.new_columns
        there = everything()
        for label, rows in plant["everything"].items():
            wanted = [] if label in SECRETS else rows
            assert there[label] == wanted, label
        assert there["counters.Verdict"]
        assert there["care.Standing"]
        assert due() == plant["due"] != []
        assert first_difference() is None
        assert verify_logbook(with_photos=True).is_whole
        for chain in Chain.objects.all():
            entries = stored_entries(Entry.objects.filter(chain=chain).order_by("number"))
            assert not verify_chain(
                entries, chain_kind=chain.kind, chain_label=chain.label, heads=[]
            )
        assert archived() == plant["archive"]


def test_a_plant_that_was_read_back_goes_on(
    small_plant: dict[str, Any], fresh_db: None, tmp_path: Path
) -> None:
    """New rows get numbers after those that came, and chains go on where they ended."""
    with another_database(), another_store(tmp_path):
        read_archive(io.BytesIO(small_plant["archive"]))
        lead = Person.objects.filter(role=Person.Role.LEAD).order_by("pk")[0]
        newest = max(Mold.objects.values_list("pk", flat=True))
        assert factories.mold(number="after").pk > newest
        mold = Mold.objects.order_by("pk")[0]
        before = Entry.objects.filter(chain=mold.chain_id).count()
        assert factories.entry(mold.chain, author=lead).number == before + 1
        assert verify_logbook().is_whole
        with pytest.raises(DatabaseError, match="append-only"), connection.cursor() as cursor:
            cursor.execute("UPDATE logbook_entry SET sentence = 'changed' WHERE number = 1")


def test_people_come_without_password_and_pin(
    small_plant: dict[str, Any], fresh_db: None, tmp_path: Path
) -> None:
    with another_database(), another_store(tmp_path):
        read_archive(io.BytesIO(small_plant["archive"]))
        assert Person.objects.exists()
        for person in Person.objects.all():
            assert not person.has_usable_password()
            assert person.pin_hash == ""


def test_hand_ins_are_known_again(
    fresh_db: None, tmp_path: Path, small_plant: dict[str, Any]
) -> None:
    """What a client sent before the plant moved is still seen before, and answered the same."""
    with another_database(), another_store(tmp_path):
        read_archive(io.BytesIO(small_plant["archive"]))
        rows = small_plant["everything"]["handin.HandIn"]
        assert HandIn.objects.count() == len(rows)


@pytest.mark.slow
def test_a_plant_moves_between_databases_by_the_commands(
    small_plant: dict[str, Any], fresh_db: None, tmp_path: Path
) -> None:
    """Into a SQLite file by other processes, out of it, and back into the suite's own engine."""
    first = tmp_path / "first.zip"
    first.write_bytes(small_plant["archive"])
    moved = tmp_path / "moved"
    moved.mkdir()

    def manage(*words: str, given: str = "") -> str:
        done = subprocess.run(
            [sys.executable, "manage.py", *words],
            cwd=ROOT,
            env=os.environ
            | {"DATABASE_URL": f"sqlite:///{moved}/plant.sqlite3", "MOLDCARE_DATA": str(moved)}
            | {"DJANGO_SETTINGS_MODULE": "moldcare.settings"},
            input=given,
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        return done.stdout

    manage("migrate", "--verbosity", "0")
    said = manage("import_plant", str(first))
    assert "The logbook is whole." in said
    assert "changepassword manager" in said
    second = tmp_path / "second.zip"
    manage("export_plant", "--out", str(second))
    assert "The logbook is whole" in manage("verify_logbook", "--photos")
    assert "Every derived row" in manage("rebuild", "--check")
    there, back = members(small_plant["archive"]), members(second.read_bytes())
    assert list(there) == list(back)
    assert {name for name in there if there[name] != back[name]} == {"manifest.json"}
    with another_database(), another_store(tmp_path / "files"):
        read_archive(io.BytesIO(second.read_bytes()))
        assert archived() == small_plant["archive"]
        assert due() == small_plant["due"]


def test_what_is_written_meanwhile_is_not_in_the_archive(fresh_db: None) -> None:
    """The archive is of one instant: a second connection writes while it is being made."""
    import threading
    from unittest import mock

    from django.db import connections

    from moldcare.feeds.archive import writing

    factories.plant()
    usual = writing.lines_of

    def meanwhile(table: Any) -> Any:
        if table.model is Spot and not Spot.objects.exists():
            writer = threading.Thread(target=add_elsewhere)
            writer.start()
            writer.join()
        return usual(table)

    def add_elsewhere() -> None:
        factories.spot(kind="rack", number="late")
        connections.close_all()

    with mock.patch.object(writing, "lines_of", meanwhile):
        contents = members(archived())
    assert b"late" not in contents["tables/plant.Spot.csv"]
    assert Spot.objects.filter(number="late").exists()
    assert not connection.in_atomic_block


def test_looking_back_in_time_leaves_nothing_out(db: None, tmp_path: Path) -> None:
    """An archive made while older facts are looked at still holds all of them."""
    from moldcare.facts import as_written_by

    with another_store(tmp_path):
        small_world()
        whole = archived()
        with as_written_by(factories.ENTERED_AT.replace(year=2000)):
            assert archived() == whole


def test_every_table_of_ours_is_known(db: None) -> None:
    assert {model._meta.label for model in own_models()} == set(listed())
    assert Plant.objects.count() == 0
