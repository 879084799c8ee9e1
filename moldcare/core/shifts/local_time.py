"""Local wall times and the instants they mean.

A time that somebody typed goes through `resolve_local`, which says when it exists twice or never,
so that the person can be asked. A time that we computed goes through `local_instant`, which takes
the first of two instants, and the first instant after a gap.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo


@dataclass(frozen=True, kw_only=True, slots=True)
class Unique:
    """The one instant at which the clocks showed a wall time."""

    at: datetime


@dataclass(frozen=True, kw_only=True, slots=True)
class Twice:
    """The two instants at which the clocks showed a wall time, when they went back."""

    first_at: datetime
    second_at: datetime


@dataclass(frozen=True, kw_only=True, slots=True)
class Never:
    """The clocks jumped over a wall time; `after_gap_at` is the first instant after the jump."""

    after_gap_at: datetime


def resolve_local(naive: datetime, *, zone: ZoneInfo) -> Unique | Twice | Never:
    """Which instants a typed wall time can mean.

    Parameters
    ----------
    naive : datetime
        Wall time without a zone.
    zone : ZoneInfo
        Zone whose clocks showed it.

    Returns
    -------
    Unique, Twice or Never
        All instants are in UTC.

    Examples
    --------
    >>> resolve_local(datetime(2026, 10, 25, 2, 30), zone=ZoneInfo("Europe/Berlin")).first_at
    datetime.datetime(2026, 10, 25, 0, 30, tzinfo=datetime.timezone.utc)
    """
    earlier = naive.replace(tzinfo=zone, fold=0).astimezone(UTC)
    later = naive.replace(tzinfo=zone, fold=1).astimezone(UTC)
    if earlier == later:
        return Unique(at=earlier)
    if earlier < later:
        return Twice(first_at=earlier, second_at=later)
    # In a gap the offset before the jump gives the later instant, so the jump lies between.
    return Never(after_gap_at=_first_with_new_offset(later, until=earlier, zone=zone))


def _first_with_new_offset(start: datetime, *, until: datetime, zone: ZoneInfo) -> datetime:
    """Return the first whole second after start at which the offset differs from that at start."""
    old = start.astimezone(zone).utcoffset()
    low, high = 0, int((until - start).total_seconds())
    while high - low > 1:
        middle = (low + high) // 2
        if (start + timedelta(seconds=middle)).astimezone(zone).utcoffset() == old:
            low = middle
        else:
            high = middle
    return (start + timedelta(seconds=high)).replace(microsecond=0)


def local_instant(naive: datetime, *, zone: ZoneInfo) -> datetime:
    """Return the instant in UTC of a computed wall time.

    Parameters
    ----------
    naive : datetime
        Wall time without a zone.
    zone : ZoneInfo
        Zone whose clocks show it.

    Returns
    -------
    datetime
        The first of two instants, or the first after a gap.

    Examples
    --------
    >>> local_instant(datetime(2026, 3, 29, 2, 30), zone=ZoneInfo("Europe/Berlin"))
    datetime.datetime(2026, 3, 29, 1, 0, tzinfo=datetime.timezone.utc)
    """
    found = resolve_local(naive, zone=zone)
    if isinstance(found, Unique):
        return found.at
    return found.first_at if isinstance(found, Twice) else found.after_gap_at
