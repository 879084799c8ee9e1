"""A server and a browser that are killed in the middle of writing."""

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, BrowserType

from moldcare.plant.models import Person
from moldcare.work.models import Order
from tests.browser.outbox.faulty_proxy import FaultyProxy, Net, faulty_net
from tests.browser.outbox.waiting import (
    OutboxTablet,
    outbox_tablet,
    sign_in,
    wait_until,
    words,
    written,
)
from tests.databases import current_database_url
from tests.smoke import free_port, wait_for

pytestmark = pytest.mark.slow
ROOT = Path(__file__).resolve().parents[3]


@contextmanager
def server_of_its_own(port: int) -> Iterator[subprocess.Popen[bytes]]:
    """A server process on the test's own database."""
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "tests.settings",
        "DATABASE_URL": current_database_url(),
    }
    where = f"127.0.0.1:{port}"
    server = subprocess.Popen(
        [sys.executable, "-m", "django", "runserver", "--noreload", "--insecure", where],
        env=environment,
        cwd=ROOT,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        wait_for(server, port)
        yield server
    finally:
        server.kill()
        server.wait()


def test_a_server_killed_in_mid_write_has_each_entry_once(
    context: BrowserContext, order: Order, tomas: Person
) -> None:
    port = free_port()
    with faulty_net(port) as net:
        with server_of_its_own(port) as server:
            bench = outbox_tablet(context, net.url, person=tomas)
            bench.go("/tablet")
            bench.ready()
            net.net = Net.REFUSED
            expected = [f"cavity {number}" for number in range(8)]
            for value in expected:
                assert words(bench, order, value)
            net.net = Net.GOOD
            bench.send_now()
            wait_until(lambda: len(written(order)) >= 2)
            server.send_signal(signal.SIGKILL)
            server.wait()
        assert bench.entries()
        with server_of_its_own(port):
            bench.send_now()
            bench.wait_for(0)
    assert written(order) == expected


def killed(folder: Path) -> None:
    """Kill the browser that works on a profile, with all its processes."""
    for entry in Path("/proc").iterdir():
        if not entry.name.isdigit():
            continue
        try:
            command = (entry / "cmdline").read_bytes().decode(errors="replace")
        except OSError:
            continue
        if f"--user-data-dir={folder}" in command:
            os.kill(int(entry.name), signal.SIGKILL)


def test_a_browser_killed_right_after_it_said_kept_has_kept_it(
    browser_type: BrowserType,
    browser_type_launch_args: dict[str, object],
    tmp_path: Path,
    net: FaultyProxy,
    order: Order,
    tomas: Person,
) -> None:
    def opened() -> OutboxTablet:
        context = browser_type.launch_persistent_context(
            str(tmp_path),
            **browser_type_launch_args,  # type: ignore[arg-type]
        )
        sign_in(context, net.url, tomas)
        bench = OutboxTablet(context=context, home=net.url, page=context.new_page())
        bench.go("/tablet")
        return bench

    bench = opened()
    bench.ready()
    net.net = Net.REFUSED
    expected = [f"cavity {number}" for number in range(5)]
    for value in expected:
        assert words(bench, order, value)
    killed(tmp_path)
    net.net = Net.GOOD
    again = opened()
    again.wait_for(0)
    assert written(order) == expected
    again.context.close()
