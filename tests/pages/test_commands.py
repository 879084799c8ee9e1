"""Every command for scripts: what it cannot do it says in a sentence, and exits with no 0."""

import os
import subprocess
import sys
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from tests.conventions.source import ROOT

COMMANDS = (
    ("due",),
    ("due", "--at", "2026-01-01T00:00Z", "--format", "json"),
    ("import_readings", "fixtures/readings/shift-round.csv"),
    ("rebuild",),
    ("rebuild", "--check"),
    ("verify_logbook",),
    ("print_order", "1001", "--out", "order.pdf"),
    ("print_logbook", "--month", "2026-11", "--out", "month.pdf"),
)


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
@pytest.mark.parametrize(
    ("content", "sentence"),
    [(None, "Run manage.py migrate first."), (b"no database at all\n" * 99, "cannot be read")],
)
def test_a_database_that_is_not_ready_is_said(
    tmp_path: Path, command: tuple[str, ...], content: bytes | None, sentence: str
) -> None:
    file = tmp_path / "plant.sqlite3"
    if content is not None:
        file.write_bytes(content)
    done = subprocess.run(
        [sys.executable, "manage.py", *command],
        cwd=ROOT,
        env=os.environ
        | {"DATABASE_URL": f"sqlite:///{file}", "MOLDCARE_DATA": str(tmp_path)}
        | {"DJANGO_SETTINGS_MODULE": "moldcare.settings"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1
    assert sentence in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""


@pytest.mark.parametrize(
    "at", ["", " ", "9999-12-31T23:59:59-12:00", "0001-01-01T00:00+14:00", "2026-11-25T06:00Zulu"]
)
def test_an_instant_out_of_all_calendars_is_refused(db: None, at: str) -> None:
    with pytest.raises(CommandError, match="instant"):
        call_command("due", "--at", at, stdout=StringIO())


@pytest.mark.parametrize("month", ["", "0001-01", "9999-12", "2026-13", "2026-1", "2026-11-01"])
def test_a_month_that_no_logbook_has_is_refused(db: None, tmp_path: Path, month: str) -> None:
    with pytest.raises(CommandError, match="is no month"):
        call_command("print_logbook", month=month, out=tmp_path / "x.pdf", stdout=StringIO())
    assert not (tmp_path / "x.pdf").exists()


@pytest.mark.parametrize("mold", ["", "NOPE"])
def test_a_mold_that_is_not_there_is_not_taken_for_the_whole_plant(
    db: None, tmp_path: Path, mold: str
) -> None:
    with pytest.raises(CommandError, match="There is no mold"):
        call_command(
            "print_logbook", month="2026-11", mold=mold, out=tmp_path / "x.pdf", stdout=StringIO()
        )
