"""When work was done, by a tablet whose clock may be off."""

from dataclasses import dataclass
from datetime import datetime, timedelta


@dataclass(frozen=True, kw_only=True, slots=True)
class TabletTime:
    """What a tablet says of the time of a piece of work.

    Parameters
    ----------
    worked_at : datetime
        By the tablet's clock as it stood then.
    offset_ms : int
        What must be added to the tablet's clock, as it was measured before handing in.
    offset_then_ms : int or None
        The same as it was known when the work was done; None where it was not.
    confirmed_at : datetime or None
        The instant that a person named, where the clock was changed in between.
    """

    worked_at: datetime
    offset_ms: int
    offset_then_ms: int | None = None
    confirmed_at: datetime | None = None


class ClockChanged(Exception):
    """The clock was set between the work and the hand-in: only a person knows when it was."""

    def __init__(self, candidates: tuple[datetime, ...]) -> None:
        super().__init__(candidates)
        self.candidates = candidates


def corrected(time: TabletTime, *, now: datetime, tolerance: timedelta) -> datetime:
    """Return when the work was done by the server's clock.

    Raises
    ------
    ClockChanged
        If the tablet's clock was set in between, or the work would lie in the future.

    Examples
    --------
    A tablet five hours ahead: 15:00 by its clock is 10:00.

    >>> from datetime import UTC
    >>> at = datetime(2026, 11, 25, 15, tzinfo=UTC)
    >>> said = TabletTime(worked_at=at, offset_ms=-18_000_000, offset_then_ms=-18_000_000)
    >>> noon = datetime(2026, 11, 25, 12, tzinfo=UTC)
    >>> corrected(said, now=noon, tolerance=timedelta(minutes=5)).hour
    10
    """
    if time.confirmed_at is not None:
        return min(time.confirmed_at, now)
    by_now = time.worked_at + timedelta(milliseconds=time.offset_ms)
    then_ms = time.offset_ms if time.offset_then_ms is None else time.offset_then_ms
    by_then = time.worked_at + timedelta(milliseconds=then_ms)
    if abs(by_now - by_then) > tolerance or by_now > now + tolerance:
        possible = (each for each in (by_then, by_now) if each <= now + tolerance)
        raise ClockChanged(tuple(dict.fromkeys(possible)))
    return min(by_now, now)
