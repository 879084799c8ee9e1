"""The outcome of a replay as columns."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from itertools import accumulate

from moldcare.core.counting.deciding import Deciding
from moldcare.core.counting.values import (
    FittingTotals,
    Held,
    HoldReason,
    Judged,
    Note,
    OpenHeld,
    Resume,
    State,
)

_EVER = -(1 << 62)
_NEVER = 1 << 62


def collect(replay: Deciding) -> Judged:
    """Return verdict columns, held details and running totals of a replay."""
    size = replay.size
    ids = list(replay.readings.ids)
    totals: list[int | None] = [None] * size
    point_at_us: list[int] = []
    point_totals: list[int] = []
    point_values: list[int] = []
    point_ids: list[int | None] = []
    fittings: list[FittingTotals] = []
    running_total = replay.start_total
    for stretch in replay.stretches:
        counted = list(accumulate(map(replay.cycles.__getitem__, stretch.points)))
        if running_total:
            counted = [running_total + each for each in counted]
        start_total = running_total
        for point, total in zip(stretch.points, counted, strict=True):
            if point < size:
                totals[point] = total
        if counted:
            running_total = counted[-1]
        point_at_us += stretch.at_us
        point_totals += counted
        point_values += map(replay.values.__getitem__, stretch.points)
        point_ids += [ids[point] if point < size else None for point in stretch.points]
        fittings.append(
            FittingTotals(
                from_us=None if stretch.from_us == _EVER else stretch.from_us,
                to_us=None if stretch.to_us == _NEVER else stretch.to_us,
                from_total=start_total,
                to_total=running_total,
                is_base_known=stretch.base is not None,
            )
        )
        if stretch.base is None and stretch.points and stretch.points[0] < size:
            replay.notes[stretch.points[0]] |= Note.FIRST
    notes = replay.notes[:size]
    sources = replay.readings.sources
    if sources is not None and "estimated" in sources:
        for place, source in enumerate(sources):
            if source == "estimated":
                notes[place] |= Note.ESTIMATED
    reasons = [""] * size
    for place, reason in replay.reasons.items():
        if place < size:
            reasons[place] = str(reason)
            notes[place] = 0
    return Judged(
        ids=ids,
        states=replay.states[:size],
        notes=notes,
        reasons=reasons,
        cycles=replay.cycles[:size],
        totals=totals,
        candidates={ids[place]: counts for place, counts in replay.choices.items() if place < size},
        held=tuple(
            _held(replay, place, reason)
            for place, reason in sorted(replay.reasons.items())
            if place < size
        ),
        point_at_us=point_at_us,
        point_totals=point_totals,
        point_values=point_values,
        point_ids=point_ids,
        fittings=tuple(fittings),
        unfit_last_values=tuple(
            removed
            for point, (_, removed) in replay.last_values.items()
            if replay.states[point] == State.HELD
        ),
        void_decisions=tuple(replay.void),
        resume=_resume(replay, running_total),
    )


def _held(replay: Deciding, place: int, reason: HoldReason) -> Held:
    at_us = replay.at_us[place]
    stretch = replay.stretch_at(place)
    before = after = possible = None
    if stretch is not None:
        left = bisect_left(stretch.at_us, at_us)
        right = bisect_right(stretch.at_us, at_us)
        if reason is HoldReason.CONTRADICTS and left < right:
            before = stretch.points[left]
        elif left:
            before = stretch.points[left - 1]
        if right < len(stretch.points):
            after = stretch.points[right]
        if before is not None:
            possible = replay.pace.possible(replay.at_us[before], at_us)
    return Held(
        reading_id=replay.readings.ids[place],
        at_us=at_us,
        value=replay.values[place],
        reason=reason,
        previous_at_us=None if before is None else replay.at_us[before],
        previous_value=None if before is None else replay.values[before],
        next_at_us=None if after is None else replay.at_us[after],
        next_value=None if after is None else replay.values[after],
        possible=possible,
    )


def _resume(replay: Deciding, newest_total: int) -> Resume | None:
    stretch = replay.stretches[-1] if replay.stretches else None
    if stretch is None or not stretch.points:
        return None
    newest = stretch.points[-1]
    newest_at_us = replay.at_us[newest]
    ids = replay.readings.ids
    return Resume(
        newest_at_us=newest_at_us,
        newest_value=replay.values[newest],
        newest_total=newest_total,
        fitted_to_us=None if stretch.to_us == _NEVER else stretch.to_us,
        last_id=ids[-1] if replay.size else 0,
        open_held=tuple(
            OpenHeld(
                reading_id=ids[place],
                at_us=replay.at_us[place],
                value=replay.values[place],
                is_clock_off=place in replay.clock_off_places,
            )
            for place in sorted(replay.reasons)
            if place < replay.size and replay.at_us[place] >= newest_at_us
        ),
    )
