"""Verify the logbook: every chain, every seal, and that work and completions match."""

import sys
from typing import Any

from django.core.management.base import CommandParser

from moldcare.logbook.verify import verify_logbook
from moldcare.pages.management.plant_command import PlantCommand
from moldcare.work.queries import first_unbacked


class Command(PlantCommand):
    """Says in one line that all holds, or names the first difference and exits with 1."""

    help = (
        "Compute the logbook again from what is stored: chains, seals, and completions against "
        "their entries. Exits with 1 and names the first difference when something was changed."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        """Add the options."""
        parser.add_argument(
            "--photos", action="store_true", help="read and hash the stored files, too"
        )

    def handle(self, *args: Any, photos: bool = False, **options: Any) -> None:
        """Verify and say so."""
        found = verify_logbook(with_photos=photos)
        difference = found.difference or first_unbacked() or ""
        if difference:
            self.stdout.write(difference)
            sys.exit(1)
        files = f", {found.files} files" if photos else ""
        self.stdout.write(
            f"The logbook is whole: {found.chains} chains, {found.entries} entries, "
            f"{found.seals} seals{files}."
        )
