"""Unsure spans that a second counter settles."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

from moldcare.core.counting import CounterStay, Course
from moldcare.core.counting.fits import settled_by_second_counter
from moldcare.core.counting.values import Judged


def without_settled(
    course: Course, *, judged: Judged, others: Sequence[CounterStay], courses: Mapping[int, Course]
) -> Course:
    """Return a counter's course without the unsure spans of which another bears out the count.

    Where the other counter speaks for another number of full turns, the span stays unsure: then a
    person says what is true.
    """
    if not course.unsure:
        return course
    points = list(zip(judged.point_at_us, judged.point_totals, judged.point_ids, strict=True))
    unsure = []
    for before, after in pairwise(points):
        candidates = judged.candidates.get(after[2]) if after[2] is not None else None
        if candidates is None:
            continue
        span = (before[0], after[0])
        counted = _counted(span, others=others, courses=courses)
        settled = {settled_by_second_counter(candidates, other_cycles=each) for each in counted}
        if settled != {after[1] - before[1]}:
            unsure.append(span)
    return replace(course, unsure=unsure)


def _counted(
    span: tuple[int, int], *, others: Sequence[CounterStay], courses: Mapping[int, Course]
) -> list[int]:
    """Return what counters that sat there all the time, and were read past it, counted."""
    from_us, to_us = span
    return [
        course.total_at(to_us).cycles - course.total_at(from_us).cycles
        for stay in others
        if (course := courses.get(stay.counter)) is not None
        and course.at_us
        and stay.from_us <= from_us
        and (stay.to_us is None or to_us <= stay.to_us)
        and course.at_us[0] <= from_us
        and to_us <= course.at_us[-1]
        and not course.is_unsure_within(from_us, to_us)
    ]
