"""What follows from a life's newest knots: counts, rate, doubt."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from moldcare.core.counting import (
    Course,
    half_turn_us,
    recent_rate,
    unsure_from,
)
from moldcare.core.counting import LifeSegment as SegmentValue
from moldcare.core.counting.values import State
from moldcare.core.due import UnsureWhy
from moldcare.core.shifts import ShiftCalendar
from moldcare.counters.convert import instant_of, microseconds
from moldcare.counters.life.facts import Stay
from moldcare.counters.models import (
    Life,
    Verdict,
)
from moldcare.molds.models import CycleTime, Mold
from moldcare.plant.models import Plant

# what core.counting says of doubt, in the words of core.due
_WHY = {
    "old": UnsureWhy.OLD_READING,
    "rollover": UnsureWhy.OLD_READING,
    "held": UnsureWhy.HELD_READING,
    "ambiguous": UnsureWhy.AMBIGUOUS_SPAN,
}

Held = list[tuple[int, int]]


def held_of(counter_ids: set[int]) -> dict[int, Held]:
    """Return (instant [us], number) of the held readings of counters."""
    found: dict[int, Held] = defaultdict(list)
    rows = Verdict.objects.filter(state=State.HELD, counter__in=counter_ids)
    for counter_id, at, number in rows.values_list("counter_id", "reading__at", "reading_id"):
        found[counter_id].append((microseconds(at), number))
    return found


def held_on(segment: SegmentValue | None, held: Mapping[int, Held]) -> Held:
    """Return the held readings of the counter that counts for a mold now."""
    if segment is None or segment.counter is None:
        return []
    return [
        one
        for one in held.get(segment.counter, [])
        if not segment.is_press or one[0] >= segment.from_us
    ]


def standard_us(cycle_times: Iterable[CycleTime]) -> int | None:
    """Return the standard cycle that is in force last [us]."""
    known = [row for row in cycle_times if row.standard_s is not None]
    newest = max(known, key=lambda row: (row.valid_from, row.pk), default=None)
    return None if newest is None else int((newest.standard_s or 0) * 1_000_000)


def settle(
    row: Life,
    *,
    mold: Mold,
    in_press: Sequence[Stay],
    held: Held,
    counter_setup: Any,
    standard_us: int | None,
    plant: Plant,
    calendar: ShiftCalendar,
) -> None:
    """Set what follows from a life's newest knots: counts, rate, doubt."""
    at_us, cycles = row.tail["at_us"], row.tail["cycles"]
    shots = row.tail["shots"] or cycles
    newest_us = at_us[-1]
    row.cycles, row.shots = cycles[-1], shots[-1]
    row.newest_at = instant_of(newest_us) if row.tail["is_read"] else None
    row.held_count = len(held)
    newest_held = max((one[0] for one in held), default=None)
    row.newest_held_at = None if newest_held is None else instant_of(newest_held)
    rate = recent_rate(Course(at_us=at_us, totals=cycles), in_press=in_press)
    row.rate_per_hour = None if rate is None else rate.cycles_per_hour
    allowed = mold.reading_age_shifts or plant.reading_age_shifts
    newest_at = instant_of(newest_us)
    begins = newest_at - timedelta(days=1)
    unsure = unsure_from(
        newest_us,
        in_press=in_press,
        shifts=[
            (microseconds(shift.starts_at), microseconds(shift.ends_at))
            for shift in calendar.shifts_between(
                begins, _horizon(newest_at, in_press, allowed=allowed)
            )
            if shift.ends_at > newest_at
        ],
        allowed_shifts=allowed,
        rollover_us=(
            half_turn_us(counter_setup, cycle_us=standard_us)
            if counter_setup is not None and standard_us
            else None
        ),
        newest_held_us=newest_held,
        ambiguous_us=row.tail["ambiguous_us"],
    )
    row.unsure_at = None if unsure is None else instant_of(unsure.from_us)
    row.unsure_why = "" if unsure is None else _WHY[unsure.why]


def _horizon(newest_at: datetime, in_press: Sequence[Stay], *, allowed: int) -> datetime:
    """Return how far ahead shifts are looked at: until the reading would surely be old."""
    ahead = timedelta(days=14 + 2 * allowed)
    if in_press and in_press[-1][1] is None:
        return max(newest_at, instant_of(in_press[-1][0])) + ahead
    last = in_press[-1][1] if in_press else None
    return max(newest_at, instant_of(last)) if last is not None else newest_at
