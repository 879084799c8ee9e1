"""A mold's life from all its facts."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from moldcare.core.counting import Course
from moldcare.core.counting import LifeSegment as SegmentValue
from moldcare.counters.course import AllKnots


@dataclass(slots=True)
class WholeLife:
    """A mold's life from all its facts."""

    segments: list[SegmentValue]
    courses: dict[int, Course]
    at_us: list[int]
    cycles: list[int]
    shots: list[int] | None
    notices: list[dict[str, Any]] = field(default_factory=list)

    def knots(self) -> AllKnots:
        """Return the knots of the life."""
        return AllKnots(self.at_us, self.cycles, self.shots)

    @property
    def ambiguous_us(self) -> int | None:
        """Where the earliest span begins whose count is not certain."""
        starts = [
            start
            for segment in self.segments
            if segment.is_unsure and segment.counter in self.courses
            for start, end in self.courses[segment.counter].unsure
            if end > segment.from_us and (segment.to_us is None or start < segment.to_us)
        ]
        return min(starts, default=None)
