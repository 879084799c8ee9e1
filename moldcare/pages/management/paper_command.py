"""What commands that print to a file have in common."""

from collections.abc import Sequence
from pathlib import Path

from django.core.management.base import CommandError

from moldcare.pages.management.plant_command import PlantCommand
from moldcare.paper.frame import Paper


class PaperCommand(PlantCommand):
    """A command that writes a document to a PDF file."""

    def write_paper(
        self, paper: Paper, *, out: Path, what: str, remarks: Sequence[str] = ()
    ) -> None:
        """Write a document; say what it is, what is to be remarked, and what could not be set."""
        try:
            out.write_bytes(paper.content)
        except OSError as error:
            raise CommandError(f"{out} cannot be written: {error.strerror}.") from error
        pages = "page" if paper.pages == 1 else "pages"
        self.stdout.write(f"{out}: {what}, {paper.pages} {pages}.")
        for remark in remarks:
            self.stderr.write(remark)
        if paper.missing_signs:
            self.stderr.write(f"Printed as code points: {' '.join(paper.missing_signs)}")
