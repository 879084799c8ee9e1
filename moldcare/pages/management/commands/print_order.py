"""Print a work order to a PDF file."""

from pathlib import Path
from typing import Any

from django.core.management.base import CommandError, CommandParser
from django.urls import reverse
from django.utils import timezone

from moldcare.pages.management.address_option import add_address_option, address_given
from moldcare.pages.management.paper_command import PaperCommand
from moldcare.pages.printing import order_document
from moldcare.paper.frame import PaperSize
from moldcare.paper.work_order import work_order_pdf
from moldcare.plant.queries import the_plant
from moldcare.work.queries import order_numbered


class Command(PaperCommand):
    """Writes the order as it stands now to a file."""

    help = "Print a work order as PDF, in the plant's language and paper size."

    def add_arguments(self, parser: CommandParser) -> None:
        """Add the options."""
        parser.add_argument("number", type=int, help="the order's number, as 1001")
        parser.add_argument("--out", type=Path, required=True, help="the file to write")
        add_address_option(parser)

    def handle(self, *args: Any, number: int, out: Path, address: str = "", **options: Any) -> None:
        """Print it."""
        address = address_given(address)
        order = order_numbered(number)
        if order is None:
            raise CommandError(f"There is no order {number}.")
        document = order_document(
            order,
            at=timezone.now(),
            printed_by="print_order",
            code_text=f"{address}{reverse('sheet', kwargs={'number': number})}" if address else "",
        )
        paper = work_order_pdf(document, paper_size=PaperSize(the_plant().paper))
        self.write_paper(paper, out=out, what=f"order {number}")
