"""What all tests share: people, a fixed now, clients, copies of the database, the browser."""

import os
import shutil
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from typing import Any

import hypothesis
import pytest
import time_machine
from django.test import Client

from moldcare.acts.doing import Doing
from moldcare.plant.models import Person
from moldcare.plant.queries import forget_calendars
from tests import factories
from tests.databases import copy_instead_of_flush

CHROMIUM = os.environ.get("MOLDCARE_TESTS_CHROMIUM") or shutil.which("chromium") or ""
SOFFICE = shutil.which("soffice") or ""
DATABASE_FIXTURES = {"db", "transactional_db", "fresh_db", "live_server"}
NO_SKIPS = os.environ.get("MOLDCARE_NO_SKIPS", "") not in {"", "0"}

hypothesis.settings.register_profile(
    "quick", max_examples=40, derandomize=True, deadline=None, database=None
)
hypothesis.settings.register_profile(
    "ci", max_examples=200, derandomize=True, deadline=None, database=None
)
hypothesis.settings.load_profile(os.environ.get("MOLDCARE_TESTS_HYPOTHESIS", "quick"))

# the settings of the bench plant belong to a process of their own
collect_ignore = ["bench/settings.py"]

copy_instead_of_flush()


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what uses a browser or a database; skip with a reason what this machine cannot run.

    Files with a slow test come first: workers take files in this order, and none shall be left
    with a long one while the others have nothing to do.
    """
    no_browser = pytest.mark.skip(
        reason="Chromium is missing: install it (Debian: apt-get install chromium), "
        "or name its program in MOLDCARE_TESTS_CHROMIUM."
    )
    no_calc = pytest.mark.skip(
        reason="LibreOffice Calc is missing: install it "
        "(Debian: apt-get install libreoffice-calc-nogui)."
    )
    for item in items:
        fixtures = set(getattr(item, "fixturenames", ()))
        if fixtures & {"page", "context", "browser", "new_context"}:
            item.add_marker(pytest.mark.browser)
        if fixtures & DATABASE_FIXTURES or item.get_closest_marker("django_db"):
            item.add_marker(pytest.mark.stored)
        if item.get_closest_marker("browser") and not CHROMIUM:
            item.add_marker(no_browser)
        if item.get_closest_marker("calc") and not SOFFICE:
            item.add_marker(no_calc)
    slow = {item.path for item in items if item.get_closest_marker("slow")}
    items.sort(key=lambda item: item.path not in slow)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Iterator[None]:
    """Turn a skip into a failure where nothing may be skipped."""
    report: Any = yield
    if NO_SKIPS and report.skipped and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        reason = report.longrepr[2] if isinstance(report.longrepr, tuple) else report.longrepr
        report.longrepr = f"MOLDCARE_NO_SKIPS is set, and this was skipped: {reason}"
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report(collector: pytest.Collector) -> Iterator[None]:
    """Turn the skip of a whole file into a failure where nothing may be skipped."""
    report: Any = yield
    if NO_SKIPS and report.skipped:
        report.outcome = "failed"
        report.longrepr = f"MOLDCARE_NO_SKIPS is set, and this was skipped: {report.longrepr}"
    return report


@pytest.fixture(autouse=True)
def same_names_in_every_test() -> None:
    """Begin each test's numbers at 1, and forget calendars of rows that were rolled back."""
    factories.begin_again()
    forget_calendars()


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    """Drive the machine's own Chromium; without a sandbox, since it may run as root."""
    return {
        **browser_type_launch_args,
        "executable_path": CHROMIUM,
        "args": [
            "--no-sandbox",
            "--disable-quic",
            "--disable-background-networking",
            "--no-first-run",
        ],
    }


@pytest.fixture(scope="session")
def browser_context_args(browser_context_args: dict[str, Any]) -> dict[str, Any]:
    """A tablet on its side, in English, whatever the machine's own language is."""
    return {
        **browser_context_args,
        "viewport": {"width": 1024, "height": 768},
        "locale": "en-US",
        "timezone_id": "Europe/Berlin",
    }


@pytest.fixture
def fresh_db(transactional_db: None) -> None:
    """A copy of the migrated database of this test alone: commits are real, nothing is flushed."""


@pytest.fixture
def now() -> datetime:
    """Wednesday 2026-11-25, 07:12 in the plant: a little into the early shift."""
    return datetime(2026, 11, 25, 6, 12, tzinfo=UTC)


@pytest.fixture
def clock(now: datetime) -> Iterator[time_machine.Traveller]:
    """Stop the clock at `now`: for pages and commands, the only code that reads one."""
    with time_machine.travel(now, tick=False) as traveller:
        yield traveller


@pytest.fixture
def reader(db: None) -> Person:
    """Somebody who may look."""
    return factories.person(role=Person.Role.READER)


@pytest.fixture
def technician(db: None) -> Person:
    """Somebody who works on molds."""
    return factories.person(role=Person.Role.TECHNICIAN)


@pytest.fixture
def lead(db: None) -> Person:
    """Somebody who hands out work."""
    return factories.person(role=Person.Role.LEAD)


@pytest.fixture
def manager(db: None) -> Person:
    """Somebody who seals months and looks after people."""
    return factories.person(role=Person.Role.MANAGER)


@pytest.fixture
def feed(db: None) -> Person:
    """A feed's own account."""
    return factories.person(role=Person.Role.FEED)


@pytest.fixture
def doing(lead: Person, now: datetime) -> Doing:
    """A lead doing something now."""
    return Doing(person=lead, now=now)


@pytest.fixture
def managing(manager: Person, now: datetime) -> Doing:
    """A manager who does something now."""
    return Doing(person=manager, now=now)


@pytest.fixture
def client_of(db: None) -> Callable[[str], Client]:
    """Return a function: a role's name to a client that is signed in as somebody with that role.

    One person a role; `stranger` is nobody at all.
    """
    people: dict[str, Person] = {}

    def client_of_role(role: str) -> Client:
        client = Client()
        if role != "stranger":
            if role not in people:
                people[role] = Person.objects.filter(role=role).first() or factories.person(
                    role=role
                )
            client.force_login(people[role])
        return client

    return client_of_role
