"""From counters to the life count of a mold."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from moldcare.core.counting.course import CountAt, Course, KnownBy, points_within
from moldcare.core.counting.entry import CounterStay

#: Two counters are compared once either has counted so many cycles.
COMPARED_CYCLES = 1_000

#: A difference of more than one in fifty (2 %) is reported.
REPORTED_SHARE = 50

_NEVER = 1 << 62


@dataclass(frozen=True, kw_only=True, slots=True)
class Opening:
    """A mold's life before the records: so many cycles, true as of an instant."""

    at_us: int
    cycles: int = 0


@dataclass(frozen=True, kw_only=True, slots=True)
class Preference:
    """A lead decided which counter counts over a span; a later one in the list wins."""

    from_us: int
    to_us: int | None
    is_press: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class LifeSegment:
    """From one instant to another a mold's count follows one counter's total.

    Parameters
    ----------
    from_us, to_us : int, int or None
        The stretch [us since 1970]; None: still going on.
    counter : int or None
        The counter; None where nothing counts.
    from_counter_total, to_counter_total : int, int or None
        The counter's running total at both ends [cycles].
    cycles_before : int
        The mold's life at the beginning [cycles].
    is_press : bool
        The counter is the press's.
    is_estimated : bool
        An end falls between two readings that differ, so that the span was shared.
    is_unsure : bool
        The count of a span inside is not certain.
    """

    from_us: int
    to_us: int | None
    counter: int | None
    from_counter_total: int
    to_counter_total: int | None
    cycles_before: int
    is_press: bool = False
    is_estimated: bool = False
    is_unsure: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Difference:
    """Mold's and press's counters disagree over a stretch [us since 1970, cycles]."""

    from_us: int
    to_us: int
    own_counter: int
    press_counter: int
    own_cycles: int
    press_cycles: int


@dataclass(frozen=True, kw_only=True, slots=True)
class _Source:
    counter: int | None
    is_press: bool
    stay: int


def overlaps(
    first: Sequence[CounterStay], *, stays: Sequence[tuple[int, int | None]]
) -> list[CounterStay]:
    """Return the parts of counters' stays that fall within other stays.

    Parameters
    ----------
    first : sequence of CounterStay
        A press's counters, say.
    stays : sequence of (int, int or None)
        When a mold was set there and when it was pulled [us since 1970].

    Returns
    -------
    list of CounterStay
        In time order.
    """
    found = []
    for stay in first:
        for from_us, to_us in stays:
            start = max(stay.from_us, from_us)
            end = min(_end(stay.to_us), _end(to_us))
            if start < end:
                found.append(
                    CounterStay(
                        counter=stay.counter,
                        from_us=start,
                        to_us=None if end == _NEVER else end,
                    )
                )
    return sorted(found, key=lambda each: (each.from_us, each.counter))


def life_segments(
    opening: Opening,
    *,
    own: Sequence[CounterStay] = (),
    press: Sequence[CounterStay] = (),
    courses: Mapping[int, Course],
    preferences: Sequence[Preference] = (),
) -> list[LifeSegment]:
    """Return what a mold's life count follows from its opening on, without a gap.

    Parameters
    ----------
    opening : Opening
        Its life before the records; what was counted earlier adds nothing.
    own : sequence of CounterStay
        Counters fitted to the mold.
    press : sequence of CounterStay
        Counters of presses while the mold was set there.
    courses : mapping of int to Course
        The judged course of each counter; one without readings may be left out.
    preferences : sequence of Preference
        Decided spans, in the order in which they were written.

    Returns
    -------
    list of LifeSegment
        In time order, the last one open; each begins where the one before it ends.

    Notes
    -----
    The mold's own counter counts where it is fitted, else the press's while the mold is set,
    else nothing. A press's span that covers a change of molds is split where a reading was
    taken; without one it is shared by running time, and both sides are marked estimated.
    """
    edges = {opening.at_us}
    for stay in (*own, *press):
        edges |= {stay.from_us, _end(stay.to_us)}
    for each in preferences:
        edges |= {each.from_us, _end(each.to_us)}
    cuts = sorted(edge for edge in edges if opening.at_us <= edge < _NEVER)
    segments: list[LifeSegment] = []
    life = opening.cycles
    pieces: list[tuple[int, _Source]] = []
    for cut in cuts:
        source = _source_at(cut, own=own, press=press, preferences=preferences)
        if not pieces or pieces[-1][1] != source:
            pieces.append((cut, source))
    for place, (from_us, source) in enumerate(pieces):
        to_us = pieces[place + 1][0] if place + 1 < len(pieces) else None
        segment = _segment(from_us, to_us, source, life, courses)
        segments.append(segment)
        life += (segment.to_counter_total or segment.from_counter_total) - (
            segment.from_counter_total
        )
    return segments


def _end(to_us: int | None) -> int:
    return _NEVER if to_us is None else to_us


def _source_at(
    at_us: int,
    *,
    own: Sequence[CounterStay],
    press: Sequence[CounterStay],
    preferences: Sequence[Preference],
) -> _Source:
    def newest(stays: Sequence[CounterStay]) -> CounterStay | None:
        here = [each for each in stays if each.from_us <= at_us < _end(each.to_us)]
        return max(here, key=lambda each: each.from_us, default=None)

    own_here, press_here = newest(own), newest(press)
    decided = [each for each in preferences if each.from_us <= at_us < _end(each.to_us)]
    prefers_press = bool(decided) and decided[-1].is_press
    if press_here is not None and (prefers_press or own_here is None):
        return _Source(counter=press_here.counter, is_press=True, stay=press_here.from_us)
    if own_here is not None:
        return _Source(counter=own_here.counter, is_press=False, stay=own_here.from_us)
    return _Source(counter=None, is_press=False, stay=0)


def _segment(
    from_us: int,
    to_us: int | None,
    source: _Source,
    life: int,
    courses: Mapping[int, Course],
) -> LifeSegment:
    course = None if source.counter is None else courses.get(source.counter)
    if course is None:
        return LifeSegment(
            from_us=from_us,
            to_us=to_us,
            counter=source.counter,
            from_counter_total=0,
            to_counter_total=None if to_us is None else 0,
            cycles_before=life,
            is_press=source.is_press,
        )
    start = course.total_at(from_us)
    end = None if to_us is None else course.total_at(to_us)
    shared = start.known_by is KnownBy.INTERPOLATED or (
        end is not None and end.known_by is KnownBy.INTERPOLATED
    )
    return LifeSegment(
        from_us=from_us,
        to_us=to_us,
        counter=source.counter,
        from_counter_total=start.cycles,
        to_counter_total=None if end is None else end.cycles,
        cycles_before=life,
        is_press=source.is_press,
        is_estimated=shared,
        is_unsure=course.is_unsure_within(from_us, to_us),
    )


def total_at(
    segments: Sequence[LifeSegment], *, courses: Mapping[int, Course], at_us: int
) -> CountAt | None:
    """Return a mold's life count at an instant [cycles].

    Parameters
    ----------
    segments : sequence of LifeSegment
        From `life_segments`.
    courses : mapping of int to Course
        The courses it was made from.
    at_us : int
        Instant [us since 1970].

    Returns
    -------
    CountAt or None
        None before the opening. After the last reading the last count, marked as such.
    """
    place = bisect_right(segments, at_us, key=lambda each: each.from_us) - 1
    if place < 0:
        return None
    segment = segments[place]
    course = None if segment.counter is None else courses.get(segment.counter)
    if course is None:
        known_by = KnownBy.NO_COUNTER if segment.counter is None else KnownBy.AFTER_LAST
        return CountAt(cycles=segment.cycles_before, known_by=known_by)
    here = course.total_at(at_us)
    counted = max(0, here.cycles - segment.from_counter_total)
    return CountAt(cycles=segment.cycles_before + counted, known_by=here.known_by)


def life_points(
    segments: Sequence[LifeSegment], *, courses: Mapping[int, Course]
) -> tuple[list[int], list[int]]:
    """Return the accepted points of a mold's life: instants and counts.

    Parameters
    ----------
    segments, courses
        As for `total_at`.

    Returns
    -------
    tuple of list of int and list of int
        Instants, strictly rising [us since 1970], and life counts, never falling [cycles]. The
        first is the opening; the last is the newest instant that readings reach: a reading, or
        the end of a stay where a later reading bounds it, as the stay's share of that span counts
        too; without any, the opening.
    """
    at_us: list[int] = []
    counts: list[int] = []
    newest = 0
    for segment in segments:
        if at_us and at_us[-1] == segment.from_us:
            counts[-1] = segment.cycles_before
        else:
            at_us.append(segment.from_us)
            counts.append(segment.cycles_before)
        course = None if segment.counter is None else courses.get(segment.counter)
        if course is None:
            continue
        if course.at_us and _is_read(course, segment.from_us):
            newest = len(at_us) - 1
        inside = points_within(course, from_us=segment.from_us, to_us=segment.to_us)
        for place in inside:
            count = segment.cycles_before + course.totals[place] - segment.from_counter_total
            # An exchange leaves two points at one instant, with the same total.
            if at_us[-1] != course.at_us[place]:
                at_us.append(course.at_us[place])
                counts.append(count)
        if inside:
            newest = len(at_us) - 1
        if segment.to_us is not None and course.at_us and course.at_us[-1] >= segment.to_us:
            at_us.append(segment.to_us)
            counts.append(
                segment.cycles_before + (segment.to_counter_total or 0) - segment.from_counter_total
            )
            newest = len(at_us) - 1
    return at_us[: newest + 1], counts[: newest + 1]


def _is_read(course: Course, at_us: int) -> bool:
    place = bisect_right(course.at_us, at_us)
    return place > 0 and course.at_us[place - 1] == at_us


def source_differences(
    *,
    own: Iterable[CounterStay],
    press: Iterable[CounterStay],
    courses: Mapping[int, Course],
) -> list[Difference]:
    """Return where a mold's and a press's counter disagree by more than 2 % over 1,000 cycles.

    Parameters
    ----------
    own, press, courses
        As for `life_segments`.

    Returns
    -------
    list of Difference
        In time order. Compared is the time in which both counters were there, from the first
        reading of the press's counter in it to the last: outside them it counted for other molds
        too. Short stays are added up until either counter has 1,000 cycles.
    """
    found: list[Difference] = []
    there = sorted(press, key=lambda each: each.from_us)
    for stay in sorted(own, key=lambda each: each.from_us):
        mine = courses.get(stay.counter)
        from_us: int | None = None
        counted = (0, 0)
        for other in there:
            theirs = courses.get(other.counter)
            if mine is None or theirs is None or not mine.at_us or not theirs.at_us:
                continue
            start = max(stay.from_us, other.from_us, mine.at_us[0], theirs.at_us[0])
            end = min(_end(stay.to_us), _end(other.to_us), mine.at_us[-1], theirs.at_us[-1])
            # the press went on for other molds: only from reading to reading is it this mold's
            first = bisect_left(theirs.at_us, start)
            last = bisect_right(theirs.at_us, end) - 1
            if last <= first:
                continue
            start, end = theirs.at_us[first], theirs.at_us[last]
            from_us = start if from_us is None else from_us
            counted = (
                counted[0] + mine.total_at(end).cycles - mine.total_at(start).cycles,
                counted[1] + theirs.total_at(end).cycles - theirs.total_at(start).cycles,
            )
            if max(counted) < COMPARED_CYCLES:
                continue
            if abs(counted[0] - counted[1]) * REPORTED_SHARE > counted[0]:
                found.append(
                    Difference(
                        from_us=from_us,
                        to_us=end,
                        own_counter=stay.counter,
                        press_counter=other.counter,
                        own_cycles=counted[0],
                        press_cycles=counted[1],
                    )
                )
            from_us, counted = None, (0, 0)
    return found
