"""Readings of nights on which the clock is changed: settled by the file's order, or asked about."""

from datetime import datetime, time, timedelta
from itertools import pairwise
from typing import NamedTuple
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from moldcare.feeds.tables.clock import Day, Never, Twice
from moldcare.feeds.tables.questions import Choice, Question
from moldcare.feeds.tables.verdicts import Problem, Proposal, Verdict


class Wall(NamedTuple):
    """A local date and the seconds since its midnight, None where no time is given."""

    day: Day
    seconds: int | None


def clock_problem(found: Twice | Never, *, wall: Wall, zone: ZoneInfo) -> Problem:
    """Why a row of such a night waits, with both instants to choose from."""
    at = datetime.combine(wall.day.date, time()) + timedelta(seconds=wall.seconds or 0)
    shown = {"at": at.isoformat(sep=" ", timespec="minutes")}
    if isinstance(found, Twice):
        reason = _("%(at)s comes twice: the clock is put back that night.") % shown
        instants = {"first": found.first, "second": found.second}
    else:
        reason = _("%(at)s does not exist: the clock is put forward over it.") % shown
        instants = {"moved_on": found.moved_on, "moved_back": found.moved_back}
    return Problem(
        verdict=Verdict.NEEDS_ANSWER,
        reason=reason,
        proposals=tuple(
            Proposal(value=value, text=_local(instant, zone=zone))
            for value, instant in instants.items()
        ),
    )


def clock_question(found: Twice | Never, *, wall: Wall, row: int, zone: ZoneInfo) -> Question:
    """Ask which instant a time that comes twice or never is, for all such rows."""
    problem = clock_problem(found, wall=wall, zone=zone)
    return Question(
        key="clock_twice" if isinstance(found, Twice) else "clock_never",
        text=_("Row %(row)d: %(reason)s Which time was it?")
        % {"row": row, "reason": problem.reason},
        choices=tuple(
            Choice(value=proposal.value, text=proposal.text) for proposal in problem.proposals
        ),
    )


def _local(instant: datetime, *, zone: ZoneInfo) -> str:
    local = instant.astimezone(zone)
    return f"{local:%Y-%m-%d %H:%M} {local.tzname()}"


class Night(NamedTuple):
    """One reading of a night on which the clock is changed."""

    row: int
    place: int
    instants: tuple[datetime, ...]
    value: int | None


def settled_by_order(readings: list[Night]) -> dict[tuple[int, int], datetime]:
    """Which of two instants each reading of one counter on one night was, where only one will do.

    Parameters
    ----------
    readings : list of Night
        In the file's order.

    Returns
    -------
    dict of (int, int) to datetime
        By row and place, those that are settled.

    Notes
    -----
    Values that never fall show that the file runs forward in time, values that never rise that it
    runs backward. Then each reading must be later than the one before it (or at the same instant,
    where the values are the same). The earliest and the latest series of instants that obey this
    are laid; where both give a reading the same instant, that is it.
    """
    values = [reading.value for reading in readings if reading.value is not None]
    pairs = list(pairwise(values))
    rises = all(first <= second for first, second in pairs)
    falls = all(first >= second for first, second in pairs)
    if rises == falls or len(values) != len(readings):
        return {}
    ordered = readings if rises else readings[::-1]
    earliest = _series(ordered, is_forward=True)
    latest = _series(ordered[::-1], is_forward=False)
    if earliest is None or latest is None:
        return {}
    return {
        (reading.row, reading.place): first
        for reading, first, last in zip(ordered, earliest, latest[::-1], strict=True)
        if first == last and len(reading.instants) > 1
    }


def _series(ordered: list[Night], *, is_forward: bool) -> list[datetime] | None:
    series: list[datetime] = []
    for place, reading in enumerate(ordered):
        possible = list(reading.instants)
        if series:
            is_same = reading.value == ordered[place - 1].value
            last = series[-1]
            possible = [
                instant
                for instant in possible
                if (instant > last if is_forward else instant < last)
                or (is_same and instant == last)
            ]
        if not possible:
            return None
        series.append(min(possible) if is_forward else max(possible))
    return series
