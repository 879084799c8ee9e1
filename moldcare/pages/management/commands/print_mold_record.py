"""Print the record of a mold to a PDF file."""

from pathlib import Path
from typing import Any

from django.core.management.base import CommandError, CommandParser
from django.urls import reverse
from django.utils import timezone

from moldcare.molds.queries import mold_numbered
from moldcare.pages.management.address_option import add_address_option, address_given
from moldcare.pages.management.paper_command import PaperCommand
from moldcare.pages.printing.mold_record import mold_record
from moldcare.paper.frame import PaperSize
from moldcare.paper.mold_record import mold_record_pdf
from moldcare.plant.queries import the_plant


class Command(PaperCommand):
    """Writes the record of a mold as it stands now to a file."""

    help = "Print the record of a mold as PDF, in the plant's language and paper size."

    def add_arguments(self, parser: CommandParser) -> None:
        """Add the options."""
        parser.add_argument("--mold", required=True, help="the mold's number, as 0417")
        parser.add_argument("--out", type=Path, required=True, help="the file to write")
        add_address_option(parser)

    def handle(self, *args: Any, mold: str, out: Path, address: str = "", **options: Any) -> None:
        """Print it."""
        address = address_given(address)
        found = mold_numbered(mold)
        if found is None:
            raise CommandError(f"There is no mold {mold}.")
        path = reverse("mold", kwargs={"number": found.number})
        record = mold_record(
            found,
            at=timezone.now(),
            printed_by="print_mold_record",
            code_text=f"{address}{path}" if address else "",
        )
        paper = mold_record_pdf(record, paper_size=PaperSize(the_plant().paper))
        self.write_paper(paper, out=out, what=f"mold {found.number}")
