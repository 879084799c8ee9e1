"""The board refreshes, a round comes in, work is signed, a file is imported: all at one time."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from moldcare.acts.rebuild import first_difference
from moldcare.acts.refresh import refresh_counts
from moldcare.care.models import Completion
from moldcare.counters.models import Life, Reading, Verdict
from moldcare.logbook.models import Entry
from moldcare.logbook.verify import verify_logbook
from moldcare.plant.queries import forget_calendars
from tests import factories
from tests.databases import current_database_url

pytestmark = [pytest.mark.slow, pytest.mark.usefixtures("fresh_db")]

MOLDS = 6
TURNS = {"look": 20, "read": 30, "bring": 20, "sign": 20}


@pytest.fixture
def lead() -> int:
    """A lead in a plant of some molds in presses, each with a counter and a rule."""
    factories.plant()
    factories.three_shifts()
    forget_calendars()
    person = factories.person(role="lead")
    for _each in range(MOLDS):
        mold = factories.mold(opening_at=factories.ENTERED_AT)
        factories.set_in_press(mold, press=factories.spot(), author=person)
        factories.cycle_time(mold, author=person, standard_s="12.0")
        counter = factories.counter(on=mold, author=person, value_shown=900)
        factories.care_rule(mold=mold, name="Vents, wipe", count_base=100)
        refresh_counts(counters=[counter.pk], molds=[mold.pk])
    return person.pk


def test_nobody_finds_the_database_locked(lead: int) -> None:
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "tests.settings",
        "DATABASE_URL": current_database_url(),
    }
    started = []
    for process, (work, turns) in enumerate(TURNS.items(), start=1):
        job = {"person": lead, "work": work, "process": process, "turns": turns}
        started.append(
            subprocess.Popen(
                [sys.executable, "-m", "tests.cases.at_work", json.dumps(job)],
                env=environment,
                cwd=Path(__file__).resolve().parents[2],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                text=True,
            )
        )
    for each in started:
        assert each.stdout is not None
        assert each.stdout.readline() == "ready\n", each.stderr.read() if each.stderr else ""
    for each in started:
        assert each.stdin is not None
        each.stdin.write("go\n")
        each.stdin.flush()
    for each, turns in zip(started, TURNS.values(), strict=True):
        said, warned = each.communicate(timeout=300)
        assert each.returncode == 0, warned[-3000:]
        assert said == f"{turns}\n"

    assert Entry.objects.filter(kind="order").count() == TURNS["sign"]
    assert Completion.objects.count() == TURNS["sign"]
    # one reading a minute and counter from the rounds, four from the files
    assert Reading.objects.filter(source="typed").count() == MOLDS * TURNS["read"]
    assert Reading.objects.filter(source="file").count() == MOLDS * TURNS["bring"] * 4
    assert not Verdict.objects.exclude(reason="").exists()
    # 100 up to the first reading, then two a minute until the newest, a minute before the last turn
    assert {life.cycles for life in Life.objects.all()} == {100 + 2 * (TURNS["read"] - 1)}
    assert verify_logbook().is_whole
    assert first_difference() is None
