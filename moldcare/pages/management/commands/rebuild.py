"""`manage.py rebuild`: derive everything again, or check that it would change nothing."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import CommandError

from moldcare.acts.rebuild import first_difference, rebuild
from moldcare.pages.management.plant_command import PlantCommand


class Command(PlantCommand):
    """Rebuild the derived tables."""

    help = "Drop the derived tables and rebuild them from the facts."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--check", action="store_true", help="write nothing; fail where a row would change"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if not options["check"]:
            self.stdout.write(f"{rebuild()} derived rows written from the facts.")
            return
        difference = first_difference()
        if difference is not None:
            raise CommandError(str(difference))
        self.stdout.write("Every derived row is what the facts say.")
