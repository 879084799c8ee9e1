"""Bring in counter readings from a file: `manage.py import_readings FILE`."""

from argparse import ArgumentParser
from collections.abc import Mapping
from typing import Any
from zoneinfo import ZoneInfo

from django.utils import timezone
from django.utils.translation import ngettext

from moldcare.acts.doing import Doing
from moldcare.feeds.bring_in import bring_in, try_out
from moldcare.feeds.reading_files import ReadingFile, open_reading_file
from moldcare.feeds.tables import RowVerdict, Verdict
from moldcare.pages.management.file_command import FINE, FileCommand, Tell, sum_words


class Command(FileCommand):
    """Read a file, bring in what is good, say what became of every row."""

    help = (
        "Bring in counter readings from a CSV or XLSX file. Exit code 0: every row was applied, "
        "skipped or here already; 1: some rows were not applied; 2: a question must be answered "
        "first, and nothing was written."
    )
    meanings = (
        "mold, counter, at, date, time, value, press, note, reported_by, estimated or "
        "rest; a number's style may follow: Stand=value:thousands or Stand=value:decimal; "
        "Mold=mold:shown or Mold=mold:held."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Declare what further can be answered."""
        super().add_arguments(parser)
        parser.add_argument(
            "--take-estimates",
            action="store_true",
            help="Take values that the file calls estimates, as estimates.",
        )

    def more_answers(self, options: Mapping[str, Any]) -> dict[str, str]:
        """Return what the further option answers."""
        return {"estimates": "take"} if options["take_estimates"] else {}

    def open_file(self, stream: Any, *, name: str, zone: ZoneInfo, answers: dict[str, str]) -> Any:
        """Open a file of readings."""
        return open_reading_file(stream, name=name, zone=zone, answers=answers)

    def bring(self, doing: Doing, *, file: ReadingFile, tell: Tell, is_trial: bool) -> None:
        """Bring the readings in, or try that out."""
        (try_out if is_trial else bring_in)(doing, file=file, tell=tell)

    def fine(self, file: ReadingFile) -> frozenset[Verdict]:
        """Return the verdicts that leave nothing to do; estimates where they are taken."""
        return FINE | {Verdict.ESTIMATED} if file.takes_estimates else FINE

    def line(self, row: RowVerdict) -> str:
        """Return a row as one line: where, what, what became of it and why."""
        at = "" if row.at is None else timezone.localtime(row.at).strftime("%Y-%m-%d %H:%M")
        value = "" if row.value is None else str(row.value)
        what = "  ".join(each for each in (row.mold or row.counter or "", at, value) if each)
        said = f"{row.row}{row.column}  {row.verdict}"
        parts = [said, what, row.reason, *(proposal.text for proposal in row.proposals)]
        return "  ".join(part for part in parts if part)

    def sum(self, counts: Mapping[Verdict, int], *, is_trial: bool) -> str:
        """Return how many readings had which verdict."""
        rows = sum(counts.values())
        said = ngettext("%(n)d reading", "%(n)d readings", rows) % {"n": rows}
        return sum_words(said, counts=counts, is_trial=is_trial)
