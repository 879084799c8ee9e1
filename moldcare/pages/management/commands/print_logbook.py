"""Print a month of the logbook to a PDF file."""

from pathlib import Path
from typing import Any

from django.core.management.base import CommandError, CommandParser

from moldcare.molds.queries import mold_numbered
from moldcare.pages.logbook.listing import month_of
from moldcare.pages.management.paper_command import PaperCommand
from moldcare.pages.printing import logbook_month
from moldcare.paper.frame import PaperSize
from moldcare.paper.logbook import logbook_pdf
from moldcare.plant.queries import the_plant


class Command(PaperCommand):
    """Writes what was written in a month, of one mold or of all chains, to a file."""

    help = "Print a month of the logbook as PDF: of one mold, or of all chains."

    def add_arguments(self, parser: CommandParser) -> None:
        """Add the options."""
        parser.add_argument("--month", required=True, help="the month, as 2026-11")
        parser.add_argument("--mold", help="the mold's number; all chains without it")
        parser.add_argument("--out", type=Path, required=True, help="the file to write")

    def handle(
        self, *args: Any, month: str, out: Path, mold: str | None = None, **options: Any
    ) -> None:
        """Print it."""
        first = month_of(month)
        if first is None:
            raise CommandError(f"{month!r} is no month of a logbook; write it as 2026-11.")
        row = None if mold is None else mold_numbered(mold)
        if mold is not None and row is None:
            raise CommandError(f"There is no mold {mold or 'without a number'}.")
        document = logbook_month(first, mold=row)
        paper = logbook_pdf(document, paper_size=PaperSize(the_plant().paper))
        entries = len(document.entries)
        what = f"{entries} {'entry' if entries == 1 else 'entries'}"
        self.write_paper(paper, out=out, what=what)
