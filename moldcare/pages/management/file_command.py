"""What the commands that bring a file in have in common: answers, who does it, a verdict a row."""

import json
import sys
from abc import ABC, abstractmethod
from argparse import ArgumentParser
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any, Protocol
from zoneinfo import ZoneInfo

from django.core.management.base import CommandError
from django.utils import timezone
from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing
from moldcare.core.errors import DomainError
from moldcare.feeds.models import ImportBatch
from moldcare.feeds.queries import earlier_batch, importers
from moldcare.feeds.tables import Question, RowVerdict, Verdict, answers_from_command
from moldcare.pages.management.plant_command import PlantCommand
from moldcare.plant.models import Person
from moldcare.plant.queries import the_plant

#: Short words for the order of dates, beside those that the table reader knows.
_ORDERS = {"dmy": "day-first", "mdy": "month-first", "ymd": "year-first"}

APPLIED, NOT_ALL_APPLIED, QUESTION_OPEN = 0, 1, 2
FINE = frozenset({Verdict.ACCEPTED, Verdict.CHANGED, Verdict.DUPLICATE, Verdict.SKIPPED})

Tell = Callable[[RowVerdict], None]


class Opened(Protocol):
    """A file that was opened, with what will be read from it."""

    @property
    def sha256(self) -> str:
        """The hash of its bytes."""

    @property
    def plan(self) -> Any:
        """What will be read."""


class FileCommand(PlantCommand, ABC):
    """Reads a file, brings in what is good, says what became of every row.

    A command says which kind of file it takes, how it is opened, and how a row and their sum read.
    """

    kind: str = ImportBatch.Kind.READINGS
    #: What the columns can mean, for the help.
    meanings = ""

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Declare the file and the answers that the command line can give."""
        parser.add_argument("file", help="CSV or XLSX file, UTF-8, UTF-16 or Windows-1252.")
        parser.add_argument(
            "--dry-run",
            action="store_true",
            help="Say what would become of each row; write nothing.",
        )
        parser.add_argument("--format", choices=["text", "json"], default="text")
        parser.add_argument(
            "--dates",
            metavar="ORDER",
            help="dmy, mdy or ymd; with commas between, also a time of day for rows that name only "
            "a day (06:00), an instant for files that name none (2026-04-03T06:00), summer or "
            "winter for an hour that came twice, moved-on or moved-back for one that never came.",
        )
        parser.add_argument("--encoding", help="How the text is encoded, such as windows-1252.")
        parser.add_argument(
            "--column",
            action="append",
            default=[],
            metavar="NAME=MEANING",
            help=self.meanings,
        )
        parser.add_argument(
            "--as", dest="badge", metavar="BADGE", help="Badge number of who brings the file in."
        )

    @abstractmethod
    def open_file(self, stream: Any, *, name: str, zone: ZoneInfo, answers: dict[str, str]) -> Any:
        """Open the file and work out how to read it."""

    @abstractmethod
    def bring(self, doing: Doing, *, file: Any, tell: Tell, is_trial: bool) -> None:
        """Bring the file in, or try that out; tell what became of each row."""

    def more_answers(self, options: Mapping[str, Any]) -> dict[str, str]:
        """Return what further options answer."""
        return {}

    @abstractmethod
    def line(self, row: RowVerdict) -> str:
        """Return a row as one line."""

    @abstractmethod
    def sum(self, counts: Mapping[Verdict, int], *, is_trial: bool) -> str:
        """Return what it came to."""

    def how_to_answer(self, question: Question) -> str:
        """Return what answers a question on the command line; empty where only the page can."""
        return _option(question)

    def fine(self, file: Any) -> frozenset[Verdict]:
        """Return the verdicts that leave nothing to do."""
        return FINE

    def handle(self, *args: Any, **options: Any) -> None:
        """Do it, and leave with the code that says how it went."""
        person = self._person(options["badge"])
        try:
            answers = self._answers(options)
            with Path(options["file"]).open("rb") as stream:
                zone = ZoneInfo(the_plant().zone)
                file = self.open_file(
                    stream, name=Path(options["file"]).name, zone=zone, answers=answers
                )
                with timezone.override(zone):
                    code = self._run(file, person=person, options=options)
        except OSError as error:
            raise CommandError(
                _("%(file)s cannot be read: %(why)s.")
                % {"file": options["file"], "why": error.strerror or error}
            ) from error
        except DomainError as error:
            raise CommandError(str(error)) from error
        if code != APPLIED:
            sys.exit(code)

    def _answers(self, options: Mapping[str, Any]) -> dict[str, str]:
        words = [_ORDERS.get(word.strip(), word) for word in (options["dates"] or "").split(",")]
        more = {"encoding": options["encoding"]} if options["encoding"] else {}
        more |= self.more_answers(options)
        return answers_from_command(dates=",".join(words), columns=options["column"], more=more)

    def _person(self, badge: str | None) -> Person:
        if badge is not None:
            found = Person.objects.filter(badge=badge, is_active=True).first()
            if found is None:
                raise CommandError(_("Nobody in service has badge %(badge)s.") % {"badge": badge})
            return found
        people = list(importers()[:2])
        if len(people) == 1:
            return people[0]
        self.stderr.write(_("Who brings the file in? Answer with --as BADGE."))
        sys.exit(QUESTION_OPEN)

    def _run(self, file: Opened, *, person: Person, options: Mapping[str, Any]) -> int:
        as_json = options["format"] == "json"
        doing = Doing(person=person, now=timezone.now())
        is_asked = bool(file.plan.open_questions)
        for question in file.plan.questions:
            self.stderr.write(question_words(question, how=self.how_to_answer(question)))
        earlier = earlier_batch(file.sha256, kind=self.kind)
        if earlier is not None:
            self.stderr.write(
                _("This file was brought in before, %(when)s by %(who)s.")
                % {
                    "when": timezone.localtime(earlier.written_at).strftime("%Y-%m-%d %H:%M"),
                    "who": earlier.person.name,
                }
            )
        counts: dict[Verdict, int] = {}

        def tell(row: RowVerdict) -> None:
            counts[row.verdict] = counts.get(row.verdict, 0) + 1
            # whoever reads the lines may stop; what is written does not depend on them
            with suppress(BrokenPipeError):
                self.stdout.write(json.dumps(row.as_json()) if as_json else self.line(row))

        is_trial = options["dry_run"] or is_asked
        self.bring(doing, file=file, tell=tell, is_trial=is_trial)
        if not as_json:
            self.stdout.write(self.sum(counts, is_trial=is_trial))
        if is_asked:
            self.stderr.write(_("A question is open; nothing was written."))
            return QUESTION_OPEN
        return APPLIED if set(counts) <= self.fine(file) else NOT_ALL_APPLIED


def question_words(question: Question, *, how: str) -> str:
    """Say a question, what is taken meanwhile, and how the command line answers it."""
    said = question.text
    if question.choices:
        said += " " + ", ".join(choice.text for choice in question.choices) + "."
    if question.assumed is not None:
        said += " " + _("Taken: %(value)s.") % {"value": question.assumed}
    return f"{said} {_('Answer with')} {how}." if how else said


def _option(question: Question) -> str:
    kind, _colon, name = question.key.partition(":")
    options = {
        "dates": "--dates dmy, mdy or ymd",
        "years": "--dates ymd",
        "serial_days": "--dates 1900 or 1904",
        "clock_twice": "--dates summer or winter",
        "clock_never": "--dates moved-on or moved-back",
        "time_of_day": "--dates 06:00",
        "encoding": "--encoding NAME",
        "meaning": f"--column NAME={name}",
        "numbers": f"--column {name or 'NAME'}=value:thousands or value:decimal",
        "zeros": f"--column {name or 'NAME'}=mold:shown or mold:held",
    }
    if question.key == "meaning:at":
        return "--column NAME=at or --dates 2026-04-03T06:00"
    return options.get(kind, "")


def sum_words(said: str, *, counts: Mapping[Verdict, int], is_trial: bool) -> str:
    """Return how many rows had which verdict, after what they are."""
    by_verdict = ", ".join(f"{counts[each]} {each}" for each in Verdict if each in counts)
    ending = _("Nothing was written.") if is_trial else ""
    return f"{said}: {by_verdict or _('none')}. {ending}".strip()
