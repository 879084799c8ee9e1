"""A counter's running total between and beyond its readings."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from moldcare.core.counting.pace import Running
from moldcare.core.counting.values import Judged, RunningSpan


class KnownBy(StrEnum):
    """How a count at an instant is known; the words are stored."""

    READING = "reading"
    INTERPOLATED = "interpolated"
    BEFORE_FIRST = "before_first"
    AFTER_LAST = "after_last"
    NO_COUNTER = "no_counter"


@dataclass(frozen=True, kw_only=True, slots=True)
class CountAt:
    """A count at an instant [cycles] and how it is known."""

    cycles: int
    known_by: KnownBy

    @property
    def is_estimated(self) -> bool:
        """Whether it was worked out, so that a page has to say so."""
        return self.known_by in (KnownBy.INTERPOLATED, KnownBy.AFTER_LAST)


@dataclass(frozen=True, kw_only=True, slots=True)
class Course:
    """Accepted points of one counter.

    Parameters
    ----------
    at_us : sequence of int
        Instants in time order [us since 1970].
    totals : sequence of int
        Running totals there [cycles], never falling, as many as instants.
    running : Running or None
        Known running spans of what the counter sits on; None where runs are not recorded.
    unsure : sequence of (int, int)
        Spans whose count is not certain [us since 1970].
    """

    at_us: Sequence[int]
    totals: Sequence[int]
    running: Running | None = None
    unsure: Sequence[tuple[int, int]] = ()

    def total_at(self, at_us: int) -> CountAt:
        """Return the running total at an instant [cycles].

        Parameters
        ----------
        at_us : int
            Instant [us since 1970].

        Returns
        -------
        CountAt
            Between two readings interpolated over running time where any is known between them,
            else over clock time, and rounded down. After the last reading its total: the least
            that is certain, never a forecast.
        """
        after = bisect_right(self.at_us, at_us)
        if after == 0:
            return CountAt(
                cycles=self.totals[0] if self.totals else 0, known_by=KnownBy.BEFORE_FIRST
            )
        low_us, low = self.at_us[after - 1], self.totals[after - 1]
        if low_us == at_us:
            return CountAt(cycles=low, known_by=KnownBy.READING)
        if after == len(self.at_us):
            return CountAt(cycles=low, known_by=KnownBy.AFTER_LAST)
        high_us, high = self.at_us[after], self.totals[after]
        if high == low:
            return CountAt(cycles=low, known_by=KnownBy.READING)
        elapsed, whole = at_us - low_us, high_us - low_us
        if self.running is not None:
            run = self.running.time_us(low_us, high_us)
            if run > 0:
                elapsed, whole = self.running.time_us(low_us, at_us), run
        return CountAt(cycles=low + (high - low) * elapsed // whole, known_by=KnownBy.INTERPOLATED)

    def is_unsure_within(self, from_us: int, to_us: int | None) -> bool:
        """Return whether any uncertain span touches a stretch."""
        return any(end > from_us and (to_us is None or start < to_us) for start, end in self.unsure)


def course_of(judged: Judged, *, running: Iterable[RunningSpan] | None = None) -> Course:
    """Return the course of a judged counter.

    Parameters
    ----------
    judged : Judged
        Verdicts on the counter.
    running : iterable of RunningSpan or None
        Known running spans; None: runs are not recorded.

    Returns
    -------
    Course
        Its accepted points, and the spans that are unsure.
    """
    unsure = []
    if judged.candidates:
        for place, reading_id in enumerate(judged.point_ids):
            if place and reading_id in judged.candidates:
                unsure.append((judged.point_at_us[place - 1], judged.point_at_us[place]))
    return Course(
        at_us=judged.point_at_us,
        totals=judged.point_totals,
        running=None if running is None else Running(running),
        unsure=unsure,
    )


def points_within(course: Course, *, from_us: int, to_us: int | None) -> range:
    """Return the places of the points strictly inside a stretch."""
    first = bisect_right(course.at_us, from_us)
    last = len(course.at_us) if to_us is None else bisect_left(course.at_us, to_us)
    return range(first, max(first, last))
