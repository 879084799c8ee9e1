"""`manage.py export_list NAME`: one list as CSV or XLSX."""

from argparse import ArgumentParser
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from django.core.management.base import CommandError
from django.utils import timezone, translation
from django.utils.translation import gettext as _

from moldcare.core.shifts import local_instant
from moldcare.feeds.export.delimited import COMMA, SEMICOLON, csv_lines, dialect_of
from moldcare.feeds.export.lists import LISTS
from moldcare.feeds.export.shapes import Asked, ListShape
from moldcare.feeds.export.workbook import write_workbook
from moldcare.pages.fields import EARLIEST, LATEST
from moldcare.pages.management.plant_command import PlantCommand
from moldcare.plant.queries import the_calendar, the_plant


class Command(PlantCommand):
    """Write the list, whatever its length, in the plant's language and zone."""

    help = "Write a list as CSV or XLSX: " + ", ".join(LISTS) + "."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name", choices=list(LISTS))
        parser.add_argument("--format", choices=["csv", "xlsx"], default="csv")
        parser.add_argument("--out", required=True, type=Path, metavar="FILE")
        parser.add_argument("--since", metavar="DATE", help="of long lists: the first day")
        parser.add_argument("--until", metavar="DATE", help="of long lists: the last day")
        parser.add_argument(
            "--separator",
            choices=["comma", "semicolon"],
            help="of CSV; without it, what spreadsheets in the plant's language open",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        plant = the_plant()
        zone = ZoneInfo(plant.zone)
        until = _day(options["until"])
        asked = Asked(
            now=timezone.now(),
            calendar=the_calendar(plant),
            from_at=_begin_of(_day(options["since"]), zone=zone),
            to_at=_begin_of(until and until + timedelta(days=1), zone=zone),
        )
        if asked.from_at and asked.to_at and asked.to_at <= asked.from_at:
            raise CommandError(_("The span ends before it begins."))
        out: Path = options["out"]
        try:
            with translation.override(plant.language):
                _write(out, shape=LISTS[options["name"]], asked=asked, zone=zone, options=options)
        except OSError as error:
            raise CommandError(
                _("%(file)s cannot be written: %(why)s.")
                % {"file": out, "why": error.strerror or error}
            ) from error
        self.stdout.write(f"{out}: {LISTS[options['name']].title}.")


def _write(
    out: Path, *, shape: ListShape, asked: Asked, zone: ZoneInfo, options: dict[str, Any]
) -> None:
    rows = shape.rows(asked)
    with out.open("wb") as file:
        if options["format"] == "xlsx":
            write_workbook(file, shape=shape, rows=rows, zone=zone, made_at=asked.now)
            return
        chosen = {"comma": COMMA, "semicolon": SEMICOLON}.get(options["separator"])
        dialect = chosen or dialect_of(translation.get_language() or "en")
        for lines in csv_lines(shape, rows=rows, zone=zone, dialect=dialect):
            file.write(lines)


def _day(text: str | None) -> date | None:
    if text is None:
        return None
    try:
        on = date.fromisoformat(text)
    except ValueError:
        raise CommandError(
            _("%(text)s is no date; write it like 2026-11-25.") % {"text": repr(text)}
        ) from None
    if not EARLIEST <= on <= LATEST:
        raise CommandError(_("No plant keeps records of that year."))
    return on


def _begin_of(on: date | None, *, zone: ZoneInfo) -> datetime | None:
    return None if on is None else local_instant(datetime.combine(on, time.min), zone=zone)
