"""The course of a mold's counts, read from what is derived and only as far back as asked."""

from __future__ import annotations

from array import array
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from moldcare.core.due import KnotCourse, RunningSpans
from moldcare.counters.convert import instant_of, microseconds

# How many of its newest knots a life keeps: about three weeks of shift readings.
TAIL_KNOTS = 64

Knots = tuple[Sequence[int], Sequence[int]]


@dataclass(frozen=True, slots=True)
class AllKnots:
    """All knots of a mold's life: instants [us since 1970], cycles, and shots where they differ."""

    at_us: Sequence[int]
    cycles: Sequence[int]
    shots: Sequence[int] | None

    def packed(self) -> AllKnots:
        """Return the same in a few bytes a knot, to be kept for many molds."""
        return AllKnots(
            array("q", self.at_us),
            array("q", self.cycles),
            None if self.shots is None else array("q", self.shots),
        )


@dataclass(slots=True)
class StoredCourse:
    """A count over time: the newest knots at hand, older ones read when somebody asks.

    Answers are kept in `memo`, which goes into the mold's life: they stay true as long as only
    newer readings come, and the knots behind them leave the tail sooner or later.
    """

    at_us: Sequence[int]
    counts: Sequence[int]
    running: RunningSpans | None
    load: Callable[[], Knots]
    memo: dict[str, dict[str, int | None]]
    used: dict[str, dict[str, int | None]] = field(
        default_factory=lambda: {"count_at": {}, "passed_at": {}}
    )
    _tail: KnotCourse = field(init=False)
    _whole: KnotCourse | None = field(init=False, default=None)

    def __post_init__(self) -> None:
        self._tail = KnotCourse(at_us=self.at_us, counts=self.counts, running=self.running)

    @property
    def newest_count(self) -> int:
        """The newest accepted count."""
        return self._tail.newest_count

    @property
    def newest_at(self) -> datetime:
        """The instant of the newest accepted count."""
        return self._tail.newest_at

    def count_at(self, instant: datetime) -> int | None:
        """See `moldcare.core.due.CountCourse.count_at`."""
        at_us = microseconds(instant)
        if at_us >= self.at_us[-1]:
            return self._tail.newest_count
        key = str(at_us)
        known = self.memo.get("count_at", {})
        if at_us >= self.at_us[0]:
            found = self._tail.count_at(instant)
        else:
            found = known[key] if key in known else self._all().count_at(instant)
        self.used["count_at"][key] = found
        return found

    def passed_at(self, count: int) -> datetime | None:
        """See `moldcare.core.due.CountCourse.passed_at`."""
        if count > self.newest_count:
            return None
        key = str(count)
        known = self.memo.get("passed_at", {})
        if key in known:
            at_us = known[key]
        else:
            course = self._tail if count > self.counts[0] else self._all()
            passed = course.passed_at(count)
            at_us = None if passed is None else microseconds(passed)
        self.used["passed_at"][key] = at_us
        return None if at_us is None else instant_of(at_us)

    def _all(self) -> KnotCourse:
        if self._whole is None:
            at_us, counts = self.load()
            self._whole = KnotCourse(at_us=at_us, counts=counts, running=self.running)
        return self._whole
