"""`manage.py due`: where every rule stands, at an instant."""

import json
from argparse import ArgumentParser
from collections.abc import Iterator
from datetime import datetime
from typing import Any

from django.core.management.base import CommandError
from django.utils import timezone

from moldcare.care.convert import standing_value
from moldcare.care.models import Standing
from moldcare.care.past import standings_as_of
from moldcare.care.queries import standings_in_order
from moldcare.core import due
from moldcare.core.shifts import ShiftCalendar
from moldcare.pages.management.plant_command import PlantCommand
from moldcare.plant.queries import the_calendar, the_plant

# what lies beyond is a slip of the pen, and calendars end
FIRST_YEAR, LAST_YEAR = 1900, 2199


class Command(PlantCommand):
    """Print one line, or one object, a rule."""

    help = "Say what is due: one object a rule, sorted by when."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--at",
            help="an instant (2026-11-25T06:00Z); in the past it is answered from the facts "
            "that were written by then",
        )
        parser.add_argument("--all", action="store_true", help="also what is not due")
        parser.add_argument("--format", choices=["text", "json"], default="text")

    def handle(self, *args: Any, **options: Any) -> None:
        now = timezone.now()
        at = now if options["at"] is None else _instant(options["at"])
        calendar = the_calendar(the_plant())
        rows = standings_as_of(at, calendar=calendar) if at < now else list(standings_in_order())
        found = list(_objects(rows, at=at, calendar=calendar, is_all=options["all"]))
        if options["format"] == "json":
            self.stdout.write(json.dumps(found, indent=1, ensure_ascii=False))
            return
        for one in found:
            when = one["due_at"] or "-"
            self.stdout.write(
                f"{one['state']:<11} {when:<26} {_whose(one):<10} {one['rule']}: {one['reason']}"
            )
        self.stdout.write(f"{len(found)} rules.")


def _whose(one: dict[str, Any]) -> str:
    """Return the mold, or what else the rule looks after."""
    if one["mold"] is None:
        return str(one["target"])
    return one["mold"] if one["target"] == "mold" else f"{one['mold']} {one['target']}"


def _instant(text: str) -> datetime:
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        raise CommandError(
            f"{text!r} is not an instant; write it like 2026-11-25T06:00Z."
        ) from None
    if at.tzinfo is None:
        raise CommandError(
            f"{text!r} is an instant without an offset; write Z or +01:00 behind it."
        )
    if not FIRST_YEAR <= at.year <= LAST_YEAR:
        raise CommandError(
            f"{text!r} is no instant of a plant's; name one from {FIRST_YEAR} to {LAST_YEAR}."
        )
    return at


def _objects(
    rows: list[Standing], *, at: datetime, calendar: ShiftCalendar, is_all: bool
) -> Iterator[dict[str, Any]]:
    for row in rows:
        standing = standing_value(row)
        state = due.state_at(standing, at=at)
        if state is due.State.NOT_DUE and not is_all:
            continue
        rule = row.rule
        due_at = standing.due_at or standing.forecast_due_at
        yield {
            "mold": rule.mold.number if rule.mold else None,
            "target": target_words(row),
            "rule": rule.name,
            "family": rule.family.key,
            "state": state.value,
            "due_at": due_at.isoformat() if due_at else None,
            "due_count": row.due_count,
            "count": row.count,
            "since_count": row.since_count,
            "interval": row.interval,
            "share": due.share_at(standing, at=at, calendar=calendar),
            "reason": due.say(due.reason(standing, at=at, calendar=calendar)),
        }


def target_words(row: Standing) -> str:
    """Return what a rule looks after."""
    rule = row.rule
    if rule.position is not None:
        return f"position {rule.position.ident}"
    if rule.circuit is not None:
        return f"circuit {rule.circuit.ident}"
    if rule.auxiliary is not None:
        return f"auxiliary {rule.auxiliary.number}"
    return "all circuits" if rule.target == rule.Target.ALL_CIRCUITS else "mold"
