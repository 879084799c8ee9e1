"""The tests' own house: fresh copies instead of flushes, fixed names, the browser, the clock."""

import os
import subprocess
import sys
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import pytest
import time_machine
from django.conf import settings
from django.contrib.sessions.models import Session
from django.db import connection, transaction
from django.test import Client
from django.utils import timezone
from playwright.sync_api import Page
from pytest_django.live_server_helper import LiveServer

from moldcare.acts.doing import Doing
from moldcare.logbook.models import Entry
from moldcare.plant.models import Person, Spot
from tests import factories
from tests.conventions.source import ROOT
from tests.databases import current_database_url


@pytest.mark.parametrize("time", ["first", "second"])
def test_every_transactional_test_begins_with_an_empty_database(fresh_db: None, time: str) -> None:
    assert not Entry.objects.exists()
    author = factories.person(role="lead")
    factories.entry(factories.mold().chain, author=author)
    assert Entry.objects.get().number == 1


def test_a_rolled_back_test_sees_no_copy(db: None) -> None:
    assert not Entry.objects.exists()
    assert not Person.objects.exists()


def test_another_connection_sees_what_a_transactional_test_committed(fresh_db: None) -> None:
    with transaction.atomic():
        factories.spot(number="7")
    connection.close()
    assert Spot.objects.get().number == "7"
    assert str(connection.settings_dict["NAME"]) in current_database_url()


def test_numbers_begin_at_one_in_every_test(db: None) -> None:
    assert [factories.mold().number, factories.mold().number] == ["M-101", "M-102"]


def test_now_is_fixed_and_in_the_past_of_what_it_writes(doing: Doing, now: datetime) -> None:
    assert doing.now == now
    assert timezone.is_aware(now)
    assert now - factories.ENTERED_AT > timedelta(days=300)


def test_the_clock_can_be_stopped_for_pages(clock: time_machine.Traveller, now: datetime) -> None:
    assert timezone.now() == now


def test_clients_are_signed_in_as_their_role(client_of: Callable[[str], Client]) -> None:
    for role in Person.Role.values:
        signed_in = client_of(role).session["_auth_user_id"]
        assert Person.objects.get(pk=signed_in).role == role
    assert "_auth_user_id" not in client_of("stranger").session


def test_tests_write_their_files_outside_the_product() -> None:
    assert settings.BASE_DIR not in settings.DATA_DIR.parents
    assert settings.MEDIA_ROOT.is_relative_to(settings.DATA_DIR)


def test_a_browser_is_served_what_the_test_committed(
    live_server: LiveServer, page: Page, client_of: Callable[[str], Client]
) -> None:
    session = client_of("lead").session.session_key
    assert session
    assert Session.objects.filter(pk=session).exists()
    answer = page.goto(f"{live_server.url}/static/css/tokens.css")
    assert answer is not None
    assert answer.status == 200
    assert page.evaluate("navigator.language") == "en-US"


@pytest.mark.parametrize("strict", ["1", "0"])
def test_a_skip_is_a_failure_where_nothing_may_be_skipped(tmp_path: Path, strict: str) -> None:
    """Run the hooks of the conftest on a file of their own, in a process of their own."""
    (tmp_path / "conftest.py").write_text(
        "from tests.conftest import pytest_make_collect_report, pytest_runtest_makereport\n"
    )
    (tmp_path / "test_left_out.py").write_text(
        "import pytest\n"
        "def test_left_out():\n    pytest.skip('no such program')\n"
        "@pytest.mark.xfail(strict=True)\ndef test_known():\n    raise ValueError\n"
    )
    finished = subprocess.run(
        [
            *(sys.executable, "-m", "pytest", "-q", "-c", str(ROOT / "pyproject.toml")),
            str(tmp_path),
        ],
        cwd=ROOT,
        env={**os.environ, "MOLDCARE_NO_SKIPS": strict},
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert "no such program" in finished.stdout
    assert ("1 failed" in finished.stdout) == (strict == "1")
    assert finished.returncode == int(strict)
