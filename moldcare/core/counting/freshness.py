"""How fast a mold has been counting, and from when its count is unsure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from moldcare.core.counting.course import Course
from moldcare.core.counting.values import HOUR_US, CounterSetup

#: Time in a press over which the recent rate is taken: ten shifts of 8 h.
RECENT_US = 80 * HOUR_US

#: With less time in a press than this no rate is said.
LEAST_RATE_US = HOUR_US

#: Shifts spent in a press after which a reading is too old, where mold and plant say nothing.
ALLOWED_SHIFTS = 3

_NEVER = 1 << 62


class UnsureWhy(StrEnum):
    """Why a mold's count is unsure; the words are stored."""

    OLD = "old"
    HELD = "held"
    AMBIGUOUS = "ambiguous"
    ROLLOVER = "rollover"


@dataclass(frozen=True, kw_only=True, slots=True)
class Unsure:
    """From which instant a mold's count is unsure [us since 1970], and why."""

    from_us: int
    why: UnsureWhy


@dataclass(frozen=True, kw_only=True, slots=True)
class RecentRate:
    """Cycles per hour in a press, and the time and cycles behind it."""

    cycles_per_hour: float
    hours: float
    cycles: int


def recent_rate(
    course: Course,
    *,
    in_press: Sequence[tuple[int, int | None]],
    window_us: int = RECENT_US,
) -> RecentRate | None:
    """Return the mold's recent rate while in a press [cycles/h].

    Parameters
    ----------
    course : Course
        The mold's accepted points (see `life_points`).
    in_press : sequence of (int, int or None)
        Stays in presses in time order [us since 1970]; None: still there.
    window_us : int
        Time in a press to look back over [us].

    Returns
    -------
    RecentRate or None
        Over the last ``window_us`` in a press up to the newest accepted reading, or as far as the
        readings go. None where that is less than an hour, or nothing was counted at all.
    """
    if len(course.at_us) < 2:
        return None
    first_us, newest_us = course.at_us[0], course.at_us[-1]
    left_us = window_us
    from_us = newest_us
    for start, end in reversed(in_press):
        stop = min(newest_us, _NEVER if end is None else end)
        begin = max(first_us, start)
        if begin >= stop:
            continue
        taken = min(left_us, stop - begin)
        left_us -= taken
        from_us = stop - taken
        if left_us == 0:
            break
    spent_us = window_us - left_us
    if spent_us < min(LEAST_RATE_US, window_us):
        return None
    cycles = course.totals[-1] - course.total_at(from_us).cycles
    if cycles <= 0:
        return None
    hours = spent_us / HOUR_US
    return RecentRate(cycles_per_hour=cycles / hours, hours=hours, cycles=cycles)


def half_turn_us(setup: CounterSetup, *, cycle_us: int) -> int | None:
    """Return the running time in which a counter makes half a turn [us].

    Parameters
    ----------
    setup : CounterSetup
        How far the counter counts.
    cycle_us : int
        Standard cycle [us].

    Returns
    -------
    int or None
        Readings have to come more often than this; None where the rollover is not known.

    Examples
    --------
    >>> half_turn_us(CounterSetup(rollover=65536), cycle_us=20_000_000) // (24 * HOUR_US)
    7
    """
    return None if setup.wrap is None else setup.wrap * cycle_us // 2


def unsure_from(
    newest_us: int,
    *,
    in_press: Sequence[tuple[int, int | None]],
    shifts: Sequence[tuple[int, int]],
    allowed_shifts: int = ALLOWED_SHIFTS,
    rollover_us: int | None = None,
    newest_held_us: int | None = None,
    ambiguous_us: int | None = None,
) -> Unsure | None:
    """Return from which instant a mold's count is unsure, and why.

    Parameters
    ----------
    newest_us : int
        Newest accepted reading, or the opening without one [us since 1970].
    in_press : sequence of (int, int or None)
        Stays in presses in time order [us since 1970]; None: still there.
    shifts : sequence of (int, int)
        Worked shifts in time order from the one in which the newest reading lies [us since
        1970], as far ahead as is asked.
    allowed_shifts : int
        Shifts spent in a press after which the reading is too old, above 0.
    rollover_us : int or None
        Time in a press after which the counter may have gone round; see `half_turn_us`.
    newest_held_us : int or None
        Newest held reading [us since 1970].
    ambiguous_us : int or None
        Beginning of the earliest span whose count is not certain [us since 1970].

    Returns
    -------
    Unsure or None
        The earliest; None where nothing makes it so within the shifts given.

    Notes
    -----
    Part of a shift counts as that part of one, by real time: a reading taken an hour into a
    night of 9 hours has used a ninth of it.
    """
    found: list[tuple[int, UnsureWhy]] = []
    if ambiguous_us is not None:
        found.append((ambiguous_us, UnsureWhy.AMBIGUOUS))
    if newest_held_us is not None and newest_held_us > newest_us:
        found.append((newest_held_us, UnsureWhy.HELD))
    stretches = [
        (max(start, newest_us), _NEVER if end is None else end)
        for start, end in in_press
        if end is None or end > newest_us
    ]
    old_us = _old_from(stretches, shifts, newest_us, allowed_shifts)
    if old_us is not None:
        found.append((old_us, UnsureWhy.OLD))
    if rollover_us is not None:
        left_us = rollover_us
        for start, end in stretches:
            if end - start >= left_us:
                found.append((start + left_us, UnsureWhy.ROLLOVER))
                break
            left_us -= end - start
    if not found:
        return None
    from_us, why = min(found, key=lambda each: each[0])
    return Unsure(from_us=from_us, why=why)


def _old_from(
    stretches: Sequence[tuple[int, int]],
    shifts: Sequence[tuple[int, int]],
    newest_us: int,
    allowed_shifts: int,
) -> int | None:
    left = Fraction(allowed_shifts)
    for shift_from, shift_to in shifts:
        for start, end in stretches:
            begin = max(start, shift_from, newest_us)
            stop = min(end, shift_to)
            if begin >= stop:
                continue
            share = Fraction(stop - begin, shift_to - shift_from)
            if share >= left:
                needed = left * (shift_to - shift_from)
                return begin + -(-needed.numerator // needed.denominator)
            left -= share
    return None
