"""A whole plant goes from one database to another, and its logbook verifies there."""

import json
import os
import subprocess
import sys
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal
from pathlib import Path

import pytest
from django.core.management import call_command

from moldcare.counters.models import Reading
from moldcare.logbook.models import Chain, Entry
from moldcare.logbook.verify import verify_logbook
from moldcare.molds.models import Mold
from moldcare.plant.models import Person
from tests import factories

pytestmark = [pytest.mark.slow, pytest.mark.usefixtures("fresh_db")]

# what every database makes for itself, and what sessions leave behind
OWN_TABLES = ("contenttypes", "auth", "sessions", "admin")
PROGRAM = Path(__file__).resolve().parents[2] / "manage.py"
# instants in four finenesses and two zones, facts in odd order, a name in two spellings
INSTANTS = (
    datetime(2026, 11, 3, 12, 0, tzinfo=UTC),
    datetime(2026, 11, 3, 12, 0, 0, 500_000, tzinfo=UTC),
    datetime(2026, 11, 3, 12, 0, 0, 123_456, tzinfo=UTC),
    datetime(2026, 11, 3, 14, 0, 1, tzinfo=timezone(timedelta(hours=2))),
)
FACTS: dict[str, object] = {
    "z": "",
    "a": None,
    "€": [1, [2, ["x", None]], {}],
    "exact": Decimal("1.0"),
    "whole": 1,
    "thousand": Decimal("1e3"),
    "name": "Du\u0308se 王 🔧",
}


def write_a_plant() -> None:
    factories.plant(name="Düse & Söhne")
    lead = factories.person(role="lead", name="Mu\u0308ller")
    mold = factories.mold(number="0417")
    for at in INSTANTS:
        factories.entry(mold.chain, author=lead, at=at, facts=FACTS, sentence="Du\u0308se")
    counter = factories.counter(on=mold, author=lead)
    factories.readings(counter, rows=[(INSTANTS[2], 12_400)], author=lead)


def run_on(database: Path, *words: str, given: str = "") -> str:
    """Run a command of the product on a SQLite file of its own."""
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "tests.settings",
        "DATABASE_URL": f"sqlite:///{database}",
    }
    done = subprocess.run(
        [sys.executable, str(PROGRAM) if words[0] != "-c" else "-c", *words[words[0] == "-c" :]],
        env=environment,
        cwd=PROGRAM.parent,
        input=given,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout[-1500:] + done.stderr[-500:]
    return done.stdout


def dumped(where: Path) -> None:
    call_command("dumpdata", exclude=list(OWN_TABLES), output=str(where), verbosity=0)


def test_a_plant_moves_to_a_sqlite_file(tmp_path: Path) -> None:
    write_a_plant()
    content, other = tmp_path / "plant.json", tmp_path / "other.sqlite3"
    dumped(content)
    assert len(json.loads(content.read_text())) > 10
    run_on(other, "migrate", "-v", "0")
    run_on(other, "loaddata", str(content))
    said = run_on(other, "verify_logbook")
    assert "whole" in said
    assert "4 entries" in said


def test_a_plant_moves_from_a_sqlite_file(tmp_path: Path) -> None:
    other, content = tmp_path / "other.sqlite3", tmp_path / "plant.json"
    run_on(other, "migrate", "-v", "0")
    run_on(
        other,
        "-c",
        "import django; django.setup();"
        "from tests.cases.test_moving_between_databases import write_a_plant; write_a_plant()",
    )
    run_on(other, "dumpdata", "-o", str(content), *(f"--exclude={each}" for each in OWN_TABLES))
    assert not Chain.objects.exists()
    call_command("loaddata", str(content), verbosity=0)
    found = verify_logbook()
    assert (found.entries, found.is_whole) == (4, True)
    assert list(Entry.objects.values_list("happened_at", flat=True)) == list(INSTANTS)
    assert Entry.objects.filter(sentence="Düse").count() == 4
    assert Reading.objects.get().at == INSTANTS[2]
    # numbers go on behind those that came along
    mold = Mold.objects.get(number="0417")
    author = Person.objects.get()
    assert author.name == "Mu\u0308ller"
    assert factories.entry(mold.chain, author=author, at=INSTANTS[3]).number == 5
    assert factories.mold(number="0418").pk != mold.pk
    assert verify_logbook().is_whole
