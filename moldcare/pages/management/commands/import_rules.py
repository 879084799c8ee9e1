"""Bring in a maintenance sheet from a file: `manage.py import_rules FILE`."""

from argparse import ArgumentParser
from collections.abc import Mapping
from typing import Any

from moldcare.feeds.models import ImportBatch
from moldcare.feeds.register.opening import CARE
from moldcare.feeds.register_files import REASON
from moldcare.pages.management.register_command import RegisterCommand


class Command(RegisterCommand):
    """Read a maintenance sheet, write the rules that are new, say what became of every row."""

    help = (
        "Bring in care rules, and when they were last done, from a CSV or XLSX file. Exit code 0: "
        "every row was applied, skipped or here already; 1: some rows were not applied; 2: a "
        "question must be answered first, and nothing was written."
    )
    kind = ImportBatch.Kind.RULES
    meanings = f"{', '.join(CARE.meanings)}."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Declare the reason."""
        super().add_arguments(parser)
        parser.add_argument(
            "--reason",
            help="Why intervals that are here change; needed where the file changes any.",
        )

    def more_answers(self, options: Mapping[str, Any]) -> dict[str, str]:
        """Return what the further options answer."""
        reason = {REASON: options["reason"]} if options["reason"] else {}
        return {**super().more_answers(options), **reason}
