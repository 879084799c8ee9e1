"""Which accepted reading later ones show to be wrong, and which standard cycle is stale."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from moldcare.core.counting.fits import counts_between
from moldcare.core.counting.pace import Pace, Running
from moldcare.core.counting.values import (
    CounterSetup,
    Held,
    HoldReason,
    Judged,
    Note,
    PaceStep,
    RunningSpan,
)

#: Later readings that must speak against an accepted one before it is named.
WITNESSES_NEEDED = 2

#: Neighbouring readings that are too fast before the cycle is doubted.
STALE_READINGS = 3

#: Paces up to a quarter apart count as about the same.
SAME_PACE = (5, 4)


@dataclass(frozen=True, kw_only=True, slots=True)
class OddOneOut:
    """An accepted reading that later ones show to be wrong, and which ones do."""

    reading_id: int
    witnesses: tuple[int, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class StaleCycle:
    """A standard cycle that the readings do not bear out.

    Parameters
    ----------
    cycle_us : int
        Mean cycle over the readings named [us].
    reading_ids : tuple of int
        The neighbouring readings that are too fast at about the same pace.
    """

    cycle_us: int
    reading_ids: tuple[int, ...]


def odd_ones_out(
    judged: Judged,
    *,
    setup: CounterSetup,
    pace: Iterable[PaceStep] = (),
    running: Iterable[RunningSpan] | None = None,
) -> list[OddOneOut]:
    """Return accepted readings that later ones show to be wrong.

    Parameters
    ----------
    judged : Judged
        Verdicts on the counter.
    setup, pace, running
        As for `judge_counter`, as known now.

    Returns
    -------
    list of OddOneOut
        In time order; may be empty.

    Notes
    -----
    A reading is odd when at least two held readings between it and the next accepted one fit the
    accepted one before it, but not it. One is enough against an estimated reading. Readings that
    a person decided are not named.
    """
    wrap = setup.wrap
    steps = Pace(pace)
    runs = None if running is None else Running(running)
    groups: dict[int, list[Held]] = {}
    for held in judged.held:
        if held.reason in (HoldReason.GOES_BACKWARDS, HoldReason.TOO_FAST):
            place = bisect_right(judged.point_at_us, held.at_us) - 1
            groups.setdefault(place, []).append(held)
    found = []
    for place, group in sorted(groups.items()):
        reading_id = judged.point_ids[place] if place > 0 else None
        if reading_id is None or not _same_fitting(judged, place - 1, place):
            continue
        notes = judged.notes[bisect_left(judged.ids, reading_id)]
        if notes & Note.DECIDED:
            continue
        before = (judged.point_at_us[place - 1], judged.point_values[place - 1])
        witnesses = tuple(
            held.reading_id
            for held in group
            if counts_between(before, (held.at_us, held.value), wrap=wrap, pace=steps, running=runs)
        )
        needed = 1 if notes & Note.ESTIMATED else WITNESSES_NEEDED
        if len(witnesses) >= needed:
            found.append(OddOneOut(reading_id=reading_id, witnesses=witnesses))
    return found


def _same_fitting(judged: Judged, before: int, after: int) -> bool:
    start, end = judged.point_at_us[before], judged.point_at_us[after]
    return not any(
        fitting.from_us is not None and start < fitting.from_us <= end
        for fitting in judged.fittings
    )


def stale_cycle(judged: Judged) -> StaleCycle | None:
    """Return the cycle that the newest neighbouring too fast readings agree on.

    Parameters
    ----------
    judged : Judged
        Verdicts on the counter.

    Returns
    -------
    StaleCycle or None
        None unless three neighbouring readings, with no accepted one between them, are too fast
        at about the same pace (at most a quarter apart).

    Notes
    -----
    The pace is the mean from the accepted point before the three to the last of them. It is
    said once a mold, whichever of its counters shows it; a lead corrects the cycle, and what was
    held is then judged again.
    """
    groups: dict[tuple[int, int], list[Held]] = {}
    for held in judged.held:
        if (
            held.reason is HoldReason.TOO_FAST
            and held.previous_at_us is not None
            and held.previous_value is not None
        ):
            groups.setdefault((held.previous_at_us, held.previous_value), []).append(held)
    for before, group in sorted(groups.items(), reverse=True):
        group.sort(key=lambda held: held.at_us)
        for last in range(len(group), STALE_READINGS - 1, -1):
            chosen = group[last - STALE_READINGS : last]
            start = (
                before
                if last == STALE_READINGS
                else (
                    group[last - STALE_READINGS - 1].at_us,
                    group[last - STALE_READINGS - 1].value,
                )
            )
            if _same_pace([start, *((held.at_us, held.value) for held in chosen)]):
                elapsed_us = chosen[-1].at_us - start[0]
                return StaleCycle(
                    cycle_us=elapsed_us // (chosen[-1].value - start[1]),
                    reading_ids=tuple(held.reading_id for held in chosen),
                )
    return None


def _same_pace(points: Sequence[tuple[int, int]]) -> bool:
    paces = []
    for (from_us, low), (to_us, high) in pairwise(points):
        if to_us <= from_us or high <= low:
            return False
        paces.append((to_us - from_us) / (high - low))
    return max(paces) * SAME_PACE[1] <= min(paces) * SAME_PACE[0]
