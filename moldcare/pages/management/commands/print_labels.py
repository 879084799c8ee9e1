"""Print labels to a PDF file."""

import math
from argparse import ArgumentTypeError
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError, CommandParser
from django.http import QueryDict
from django.utils import translation

from moldcare.core.errors import LabelsRefused
from moldcare.pages.management.address_option import add_address_option, address_given
from moldcare.pages.management.paper_command import PaperCommand
from moldcare.pages.printing.label_form import MOST_OFFSET_MM
from moldcare.pages.printing.labels import labels_document, refuse_unknown
from moldcare.pages.printing.things import CodeHolds, What, listed_things
from moldcare.paper.frame import PaperSize
from moldcare.paper.labels import STOCKS, checked_labels, labels_pdf, stock_named
from moldcare.plant.queries import the_plant


class Command(PaperCommand):
    """Writes labels of molds, circuits, presses and places to a file."""

    help = "Print labels as PDF: a square code, bars and the number."

    def add_arguments(self, parser: CommandParser) -> None:
        """Add the options."""
        parser.add_argument("--molds", nargs="*", default=[], help="numbers of molds")
        parser.add_argument("--circuits", nargs="*", default=[], help="molds, for all circuits")
        parser.add_argument("--presses", nargs="*", default=[], help="numbers of presses")
        parser.add_argument("--spots", nargs="*", default=[], help="benches and racks, as rack:B4")
        parser.add_argument("--all", choices=[*What], help="all that there are of a kind")
        keys = [stock.key for stock in STOCKS]
        parser.add_argument("--sheet", default=keys[0], help=f"one of {', '.join(keys)}")
        parser.add_argument("--start", type=int, default=1, help="the first free label")
        add_address_option(parser, without="; without it the code holds only the number")
        parser.add_argument("--right", type=_offset_mm, default=0.0, help="mm to the right")
        parser.add_argument("--down", type=_offset_mm, default=0.0, help="mm down")
        parser.add_argument("--out", type=Path, required=True, help="the file to write")

    def handle(self, *args: Any, out: Path, sheet: str, **options: Any) -> None:
        """Print them."""
        plant, address = the_plant(), address_given(options["address"])
        asked = QueryDict(mutable=True)
        for what in What:
            asked.setlist(what, options.get(what) or [])
        if options.get("all"):
            asked["what"] = options["all"]
        with translation.override(plant.language):
            listed = listed_things(asked)
        try:
            refuse_unknown(listed)
            document = labels_document(
                listed.things,
                stock=stock_named(sheet, paper=_paper_of(sheet)),
                plant=plant,
                address=address,
                holds=CodeHolds.ADDRESS if address else CodeHolds.NUMBER,
                start_at=options["start"],
                offsets_mm=(options["right"], options["down"]),
            )
            planned = checked_labels(document)
            paper = labels_pdf(document)
        except LabelsRefused as refused:
            raise CommandError(f"{refused} Nothing was printed.") from refused
        remarks = []
        without = [each.label.number for each in planned if each.layout.bars is None]
        if without:
            remarks.append(f"Without bars, for want of room or signs: {', '.join(without)}")
        if listed.more:
            remarks.append(f"{listed.more} more were left out: name them, or print in parts.")
        labels = f"{len(planned)} {'label' if len(planned) == 1 else 'labels'}"
        self.write_paper(paper, out=out, what=labels, remarks=remarks)


def _offset_mm(text: str) -> float:
    """Return by how much a printer is off; more than the page lets anybody type is refused."""
    try:
        offset = float(text)
    except ValueError:
        offset = math.nan
    if not -MOST_OFFSET_MM <= offset <= MOST_OFFSET_MM:
        raise ArgumentTypeError(
            f"{text} is no offset in mm between -{MOST_OFFSET_MM} and {MOST_OFFSET_MM}."
        )
    return offset


def _paper_of(sheet: str) -> PaperSize:
    """Return the paper of a sheet: who types its name holds it in the printer."""
    found = next((stock.paper for stock in STOCKS if stock.key == sheet), None)
    return found or PaperSize.A4
