"""`manage.py demo`: make the demo plant and serve it."""

import os
import sys
import time
from argparse import ArgumentParser
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connections
from django.utils import timezone

from moldcare.demo.catalog import PASSWORD, PEOPLE, ZONE
from moldcare.demo.load import load_demo
from moldcare.plant.models import Person, Plant


class Command(BaseCommand):
    """Migrate an empty database, load the demo plant, serve it on this machine only."""

    help = "Make the demo plant in an empty database and serve it on this machine."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--no-serve", action="store_true", help="make the plant only")
        parser.add_argument("--today", help="the day that is today (2026-11-25)")
        parser.add_argument("--seed", type=int, default=1, help="another number, another plant")
        parser.add_argument("--port", type=int, default=8000)

    def handle(self, *args: Any, **options: Any) -> None:
        today = _day(options["today"])
        call_command("migrate", interactive=False, verbosity=0)
        plant = Plant.objects.filter(pk=1).first()
        if plant is None and Person.objects.exists():
            raise CommandError(
                "This database has people and no demo plant. Name an empty one in DATABASE_URL; "
                "nothing was written."
            )
        if plant is not None and not plant.is_demo:
            raise CommandError(
                f"This database holds the plant {plant.name}, which is no demo. Name an empty one "
                "in DATABASE_URL; nothing was written."
            )
        if plant is None:
            self._load(today, seed=options["seed"])
        self._say(options["port"], is_served=not options["no_serve"])
        if not options["no_serve"]:
            # the server takes this process's place, with what was not yet written out
            self.stdout.flush()
            _serve(options["port"])

    def _load(self, today: date | None, *, seed: int) -> None:
        now = timezone.now()
        local = now.astimezone(ZoneInfo(ZONE)).date()
        began = time.monotonic()
        loaded = load_demo(
            today=today or local, seed=seed, until=now if today in (None, local) else None
        )
        self.stdout.write(
            f"Demo plant made in {time.monotonic() - began:.0f} s: {loaded.acts} acts, "
            f"{loaded.readings} readings, {loaded.orders} orders, {loaded.entries} logbook "
            f"entries; {loaded.rows} rows."
        )

    def _say(self, port: int, *, is_served: bool) -> None:
        if is_served:
            self.stdout.write(f"Open http://127.0.0.1:{port}/ and sign in.")
        self.stdout.write(f"Password of all of them: {PASSWORD}")
        for spec in PEOPLE:
            if spec.signs_in or spec.pin:
                tablet = f", at a tablet badge {spec.badge} PIN {spec.pin}" if spec.pin else ""
                name = spec.username if spec.signs_in else "-"
                self.stdout.write(f"  {name:<11} {spec.name} ({spec.role}){tablet}")


def _serve(port: int) -> None:
    """Become the server of a plant, listening on this machine only."""
    call_command("collectstatic", interactive=False, verbosity=0)
    connections.close_all()
    program = [sys.executable, "-m", "gunicorn", "moldcare.wsgi"]
    program += ["--bind", f"127.0.0.1:{port}", "--workers", "1", "--log-level", "warning"]
    program += ["--worker-class", "gthread", "--threads", "8", "--chdir", str(settings.BASE_DIR)]
    os.execv(sys.executable, program)  # noqa: S606  no shell, no input of anybody


def _day(text: str | None) -> date | None:
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise CommandError(f"{text!r} is no day; write it like 2026-11-25.") from None
