"""What the commands that bring in registers and maintenance sheets have in common."""

from argparse import ArgumentParser
from collections.abc import Mapping
from typing import Any
from zoneinfo import ZoneInfo

from django.core.management.base import CommandError
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from moldcare.acts.doing import Doing
from moldcare.acts.moving_in import TAKE
from moldcare.feeds.register.bring_in import bring_in_register, try_out_register
from moldcare.feeds.register_files import RegisterFile, open_register_file
from moldcare.feeds.tables import Question, RowVerdict, Verdict
from moldcare.pages.management.file_command import FileCommand, Tell, sum_words

#: How keys of questions begin that an option of its own answers for registers as well.
_HAVE_OPTIONS = frozenset({"dates", "years", "serial_days", "encoding", "meaning", "zeros"})


class RegisterCommand(FileCommand):
    """Reads a register or a sheet; differences from what is here are left unless they are taken."""

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Declare what further can be answered."""
        super().add_arguments(parser)
        parser.add_argument("--sheet", help="Which sheet of a workbook is read.")
        parser.add_argument(
            "--take-changes",
            action="store_true",
            help="Where the file differs from what is here, take what the file says.",
        )
        parser.add_argument(
            "--answer",
            action="append",
            default=[],
            metavar="KEY=VALUE",
            help="Answer any other question under its key, as the page does.",
        )

    def more_answers(self, options: Mapping[str, Any]) -> dict[str, str]:
        """Return what the further options answer."""
        answers = {"sheet": options["sheet"]} if options["sheet"] else {}
        if options["take_changes"]:
            answers["changes"] = TAKE
        for each in options["answer"]:
            key, equals, value = each.rpartition("=")
            if not equals or not key.strip() or not value.strip():
                raise CommandError(
                    _("“%(answer)s” should read KEY=VALUE, for example is:mold:WZ 7=0417.")
                    % {"answer": each}
                )
            answers[key.strip()] = value.strip()
        return answers

    def how_to_answer(self, question: Question) -> str:
        """Return what answers a question: an option of its own, or its key and a value."""
        if question.key == "sheet":
            return "--sheet NAME"
        if question.key.partition(":")[0] in _HAVE_OPTIONS:
            return super().how_to_answer(question)
        values = [f'--answer "{question.key}={choice.value}"' for choice in question.choices]
        return _(" or ").join(values) or f'--answer "{question.key}=…"'

    def open_file(self, stream: Any, *, name: str, zone: ZoneInfo, answers: dict[str, str]) -> Any:
        """Open a register or sheet."""
        return open_register_file(stream, name=name, kind=self.kind, zone=zone, answers=answers)

    def bring(self, doing: Doing, *, file: RegisterFile, tell: Tell, is_trial: bool) -> None:
        """Bring it in, or try that out."""
        if is_trial:
            try_out_register(doing, file=file, tell=tell)
        else:
            bring_in_register(doing, file=file, tell=tell)

    def line(self, row: RowVerdict) -> str:
        """Return a row as one line: where, what, what became of it and why."""
        what = "  ".join(each for each in (row.mold, row.task) if each)
        ways = "" if row.choice_key else "  ".join(each.text for each in row.proposals)
        parts = [f"{row.row}{row.column}  {row.verdict}", what, row.reason, ways]
        return "  ".join(part for part in parts if part)

    def sum(self, counts: Mapping[Verdict, int], *, is_trial: bool) -> str:
        """Return how many rows had which verdict."""
        rows = sum(counts.values())
        said = ngettext("%(n)d row", "%(n)d rows", rows) % {"n": rows}
        return sum_words(said, counts=counts, is_trial=is_trial)
