"""Wall times of a plant as instants, where a clock change makes one time two or none."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo


@dataclass(frozen=True, kw_only=True, slots=True)
class Twice:
    """A wall time that comes twice: the two instants."""

    first: datetime
    second: datetime


@dataclass(frozen=True, kw_only=True, slots=True)
class Never:
    """A wall time that is skipped: the instants as far before and behind the gap.

    `moved_on` reads the clock as if it had not been put forward, `moved_back` as if it had been
    before.
    """

    moved_on: datetime
    moved_back: datetime


def instant_of(wall: datetime, *, zone: ZoneInfo) -> datetime | Twice | Never:
    """Give the UTC instant of a wall time without zone, or what keeps it from having one.

    Examples
    --------
    >>> instant_of(datetime(2026, 10, 25, 2, 30), zone=ZoneInfo("Europe/Berlin")).second
    datetime.datetime(2026, 10, 25, 1, 30, tzinfo=datetime.timezone.utc)
    """
    first = wall.replace(tzinfo=zone, fold=0).astimezone(UTC)
    second = wall.replace(tzinfo=zone, fold=1).astimezone(UTC)
    if first == second:
        return first
    if first < second:
        return Twice(first=first, second=second)
    return Never(moved_on=first, moved_back=second)


@dataclass(frozen=True, kw_only=True, slots=True)
class Day:
    """One local date: its first instant, and whether every wall time on it exists once."""

    date: date
    midnight: datetime
    is_plain: bool


def day_of(on: date, *, zone: ZoneInfo) -> Day:
    """Give a local date with its midnight in UTC.

    Notes
    -----
    A date is plain where all its hours and those of the next midnight have one offset; on others
    each time is looked up for itself.
    """
    start = datetime.combine(on, time())
    offsets = {
        (start + timedelta(hours=hours)).replace(tzinfo=zone, fold=fold).utcoffset()
        for hours in range(25)
        for fold in (0, 1)
    }
    midnight = start.replace(tzinfo=zone).astimezone(UTC)
    return Day(date=on, midnight=midnight, is_plain=len(offsets) == 1)
