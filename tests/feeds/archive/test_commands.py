"""The commands that write and read archives."""

import io
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command

from moldcare.logbook.models import Entry
from moldcare.plant.models import Person
from tests.conventions.source import ROOT
from tests.feeds.archive.plants import another_store, members, packed, table_text
from tests.pages.small_world import small_world

Contents = dict[str, bytes]


def test_a_manager_gets_a_password_while_the_archive_is_read(
    good: Contents, db: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "plant.zip"
    file.write_bytes(packed(good))
    manager = next(
        line.split(",")[2]
        for line in table_text(good, "plant.Person")[1].splitlines()
        if "manager" in line
    )
    reader = manager.replace("manager", "reader")
    with another_store(tmp_path / "store"):
        for name, password, sentence in (
            (reader, "steel and water", "no manager with the sign-in name"),
            ("nobody", "steel and water", "no manager with the sign-in name"),
            (manager, "short", "password"),
        ):
            monkeypatch.setattr(sys, "stdin", io.StringIO(f"{password}\n"))
            with pytest.raises(CommandError, match=sentence):
                call_command(
                    "import_plant",
                    str(file),
                    manager=name,
                    password_stdin=True,
                    stdout=io.StringIO(),
                )
            assert not Person.objects.exists()
        monkeypatch.setattr(sys, "stdin", io.StringIO("steel and water\n"))
        out = io.StringIO()
        call_command("import_plant", str(file), manager=manager, password_stdin=True, stdout=out)
    assert f"{manager} may sign in now." in out.getvalue()
    assert Person.objects.get(username=manager).check_password("steel and water")
    assert Entry.objects.filter(kind="password_set").count() == 1


def test_what_the_commands_cannot_do_they_say(db: None, tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="cannot be read"):
        call_command("import_plant", str(tmp_path / "nowhere.zip"))
    (tmp_path / "text.zip").write_text("no archive")
    with pytest.raises(CommandError, match="no archive of a plant"):
        call_command("import_plant", str(tmp_path / "text.zip"))
    with pytest.raises(CommandError, match="cannot be written"):
        call_command("export_plant", out=str(tmp_path / "nowhere" / "plant.zip"))
    assert not list(tmp_path.glob(".plant*"))


def test_a_photo_that_was_lost_before_is_said_and_the_rest_moves(db: None, tmp_path: Path) -> None:
    with another_store(tmp_path / "store"):
        world = small_world()
        stored = Path(settings.MEDIA_ROOT) / world.photo.sha256[:2] / world.photo.sha256
        stored.unlink()
        err = io.StringIO()
        call_command("export_plant", out=str(tmp_path / "a.zip"), stdout=io.StringIO(), stderr=err)
    assert f"File {world.photo.sha256} is missing" in err.getvalue()
    contents = members((tmp_path / "a.zip").read_bytes())
    manifest = json.loads(contents["manifest.json"])
    assert manifest["files"]["lost"] == {world.photo.sha256: "missing"}


def test_commands_run_as_programs(tmp_path: Path) -> None:
    """A database that is not ready is said without a trace of the program."""
    (tmp_path / "a.zip").write_bytes(b"")
    for command in (
        ("export_plant", "--out", "x.zip"),
        ("export_list", "molds", "--out", "x.csv"),
        ("import_plant", str(tmp_path / "a.zip")),
    ):
        done = subprocess.run(
            [sys.executable, str(ROOT / "manage.py"), *command],
            cwd=tmp_path,
            env=os.environ
            | {"DATABASE_URL": f"sqlite:///{tmp_path}/x.sqlite3", "MOLDCARE_DATA": str(tmp_path)}
            | {"DJANGO_SETTINGS_MODULE": "moldcare.settings", "PYTHONPATH": str(ROOT)},
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 1
        assert "Run manage.py migrate first." in done.stderr
        assert "Traceback" not in done.stderr
