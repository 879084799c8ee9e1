"""`manage.py demo`: a plant that holds together, and sign-ins that exist nowhere else."""

import json
import re
from datetime import date
from io import StringIO
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.core.management import CommandError, call_command

from moldcare.acts.rebuild import first_difference
from moldcare.care.models import Board
from moldcare.demo.catalog import PASSWORD, PEOPLE
from moldcare.demo.load import load_demo
from moldcare.demo.management.commands import demo
from moldcare.logbook.models import Entry
from moldcare.logbook.verify import verify_logbook
from moldcare.pages.printing.logbook import fact_lines
from moldcare.plant.models import Person, Plant
from moldcare.work.models import Order
from moldcare.work.queries import first_unbacked
from tests import factories
from tests.demo.small_plant import SIX_PRESSES, TWELVE


def _small(**wanted: Any) -> Any:
    return load_demo(**wanted, days=12, molds=TWELVE[:6], presses=SIX_PRESSES)


@pytest.fixture
def small_plant(monkeypatch: pytest.MonkeyPatch) -> None:
    """The command makes a small plant of twelve days."""
    monkeypatch.setattr(demo, "load_demo", _small)


def _run(*args: str) -> str:
    out = StringIO()
    call_command("demo", "--no-serve", "--today", "2026-11-25", *args, stdout=out)
    return out.getvalue()


def test_the_demo_plant_is_made_once_and_holds_together(fresh_db: None, small_plant: None) -> None:
    said = _run()
    assert PASSWORD in said
    assert Plant.objects.get().is_demo
    entries = Entry.objects.count()
    assert Order.objects.exists()
    assert Board.objects.count() == 6
    assert first_difference() is None
    assert not verify_logbook(with_photos=False).difference
    assert not first_unbacked()
    again = _run()
    assert PASSWORD in again
    assert Entry.objects.count() == entries
    for spec in PEOPLE:
        person = Person.objects.get(username=spec.username)
        assert person.check_password(PASSWORD) is spec.signs_in
        assert bool(person.pin_hash) is bool(spec.pin)


def test_a_plant_that_is_no_demo_is_left_alone(fresh_db: None, small_plant: None) -> None:
    factories.plant(name="Hall 4")
    with pytest.raises(CommandError, match="Hall 4"):
        _run()
    assert not Person.objects.exists()
    assert not Plant.objects.get().is_demo


def test_people_without_a_plant_are_left_alone(fresh_db: None, small_plant: None) -> None:
    factories.person(role="manager")
    with pytest.raises(CommandError, match="no demo plant"):
        _run()
    assert not Plant.objects.exists()


def test_a_day_that_is_none_is_said(fresh_db: None) -> None:
    with pytest.raises(CommandError, match="is no day"):
        call_command("demo", "--no-serve", "--today", "yesterday")


def test_newest_facts_lie_in_the_morning_of_the_day(db: None) -> None:
    loaded = _small(today=date(2026, 11, 25), seed=3)
    newest = Entry.objects.order_by("-written_at").values_list("written_at", flat=True)[0]
    assert newest <= loaded.simulation.stop
    assert f"{loaded.simulation.stop:%Y-%m-%d %H:%M}" == "2026-11-25 05:42"


def test_entries_are_said_in_words_and_in_the_plants_time(db: None) -> None:
    _small(today=date(2026, 11, 25), seed=3)
    for_machines = re.compile(r"\d{4}-\d{2}-\d{2}T|[+]00:00|\bUTC\b|\b[a-z]+_[a-z]+|\bNone\b|[{}]")
    said = list(Entry.objects.values_list("kind", "sentence"))
    assert {"set", "rule_changed", "dry_cycles", "reading decision"} <= {
        kind for kind, _sentence in said
    }
    assert [sentence for _kind, sentence in said if for_machines.search(sentence)] == []
    printed = [
        (entry.kind, line)
        for entry in Entry.objects.all()
        for line in fact_lines(json.loads(entry.facts), zone=ZoneInfo("Europe/Berlin"), locale="en")
    ]
    assert {"reading decision", "dry_cycles"} <= {kind for kind, _line in printed}
    assert [
        (kind, line)
        for kind, line in printed
        if re.search(r"\d{4}-\d{2}-\d{2}T|[+]00:00", f"{line.label} {line.value}")
    ] == []
