"""Sums over time: accepted counts, running hours, and when each passed a value."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Protocol

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MICROSECOND = timedelta(microseconds=1)


def microseconds(instant: datetime) -> int:
    """Microseconds since 1970-01-01T00:00Z."""
    return (instant - _EPOCH) // _MICROSECOND


def instant_of(at_us: int) -> datetime:
    """Return the instant in UTC of microseconds since 1970-01-01T00:00Z."""
    return _EPOCH + timedelta(microseconds=at_us)


@dataclass(frozen=True, kw_only=True, slots=True)
class Span:
    """A stretch of time, open while `to_at` is None."""

    from_at: datetime
    to_at: datetime | None = None


class CountCourse(Protocol):
    """Accepted counts of a target over time, never falling."""

    @property
    def newest_count(self) -> int:
        """The newest accepted count."""

    @property
    def newest_at(self) -> datetime:
        """The instant of the newest accepted count."""

    def count_at(self, instant: datetime) -> int | None:
        """Return the count at an instant: None before the records, the newest one after them."""

    def passed_at(self, count: int) -> datetime | None:
        """When the count was reached; None when it is not yet, or was before the records begin."""


class RunningSpans:
    """Spans in which a target ran, with their sum.

    Parameters
    ----------
    spans : sequence of Span
        In the order of time, apart from each other; only the last may be open. A span that is open
        is taken to go on until a fact closes it.
    """

    __slots__ = ("_from_us", "_sums", "_to_us")

    def __init__(self, spans: Sequence[Span] = ()) -> None:
        self._from_us = [microseconds(span.from_at) for span in spans]
        self._to_us = [None if span.to_at is None else microseconds(span.to_at) for span in spans]
        self._sums = [0]
        for start, end in zip(self._from_us, self._to_us, strict=True):
            self._sums.append(self._sums[-1] + (0 if end is None else end - start))

    def sum_us(self, at_us: int) -> int:
        """Return running time from the first span up to an instant [us]."""
        place = bisect_right(self._from_us, at_us)
        if place == 0:
            return 0
        start, end = self._from_us[place - 1], self._to_us[place - 1]
        last = at_us if end is None or end > at_us else end
        return self._sums[place - 1] + last - start

    def reached_us(self, sum_us: int) -> int | None:
        """Return the first instant at which the sum is so much [us], or None."""
        place = bisect_left(self._sums, sum_us)
        if place == 0:
            return self._from_us[0] if self._from_us else None
        if place > len(self._from_us):
            place = len(self._from_us)
        if place == 0:
            return None
        start, end = self._from_us[place - 1], self._to_us[place - 1]
        at_us = start + sum_us - self._sums[place - 1]
        return at_us if end is None or at_us <= end else None


class KnotCourse:
    """A course through accepted counts, interpolated over running time where runs are known.

    Parameters
    ----------
    at_us : sequence of int
        Instants of accepted counts [us since 1970], rising.
    counts : sequence of int
        Accepted counts at those instants, never falling. As many as instants, at least one.
    running : RunningSpans, optional
        Between two counts the total rises while the mold ran. Left out, or where it did not run
        between them at all, the total rises with the clock.
    """

    __slots__ = ("_at_us", "_counts", "_running", "newest_at", "newest_count")

    def __init__(
        self, *, at_us: Sequence[int], counts: Sequence[int], running: RunningSpans | None = None
    ) -> None:
        self._at_us = at_us
        self._counts = counts
        self._running = running
        self.newest_count = counts[-1]
        self.newest_at = instant_of(at_us[-1])

    def count_at(self, instant: datetime) -> int | None:
        """See `CountCourse.count_at`."""
        at_us = microseconds(instant)
        place = bisect_right(self._at_us, at_us)
        if place == 0:
            return None
        if place == len(self._at_us):
            return self.newest_count
        start, end = self._at_us[place - 1], self._at_us[place]
        low, high = self._counts[place - 1], self._counts[place]
        elapsed, whole = at_us - start, end - start
        if self._running is not None:
            before = self._running.sum_us(start)
            run = self._running.sum_us(end) - before
            if run > 0:
                elapsed, whole = self._running.sum_us(at_us) - before, run
        return low + (high - low) * elapsed // whole

    def passed_at(self, count: int) -> datetime | None:
        """See `CountCourse.passed_at`."""
        if count > self.newest_count or count < self._counts[0]:
            return None
        place = bisect_left(self._counts, count)
        if place == 0:
            return instant_of(self._at_us[0])
        start, end = self._at_us[place - 1], self._at_us[place]
        low, high = self._counts[place - 1], self._counts[place]
        # Rounded up to the microsecond at which `count_at`, which rounds down, says so too.
        if self._running is not None:
            before = self._running.sum_us(start)
            run = self._running.sum_us(end) - before
            if run > 0:
                reached = self._running.reached_us(before - (low - count) * run // (high - low))
                return instant_of(end if reached is None else min(end, max(start, reached)))
        return instant_of(start - (low - count) * (end - start) // (high - low))
