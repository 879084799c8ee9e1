"""Shifts as people say them, in local wall times, and what of them cannot be worked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time

from moldcare.core.errors import ShiftsContradict


@dataclass(frozen=True, kw_only=True, slots=True)
class ShiftSlot:
    """One shift of a weekly pattern in wall times; `ends` at or before `starts` is the next day.

    `weekday` counts from 0 for Monday, and is that of the start.
    """

    weekday: int
    name: str
    starts: time
    ends: time

    @property
    def clock_h(self) -> float:
        """Length by the clock on the wall [h], as on a day without a clock change."""
        minutes = (self.ends.hour - self.starts.hour) * 60 + self.ends.minute - self.starts.minute
        return (minutes if minutes > 0 else minutes + 1440) / 60


@dataclass(frozen=True, kw_only=True, slots=True)
class ShiftPattern:
    """A week's shifts, true from a date until the next pattern's."""

    valid_from: date
    slots: tuple[ShiftSlot, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class ShiftException:
    """A day (`name` empty), or one shift of it, that is worked or not against the pattern.

    With `starts` and `ends` the named shift has times of its own on that day.
    """

    on: date
    name: str = ""
    is_worked: bool
    starts: time | None = None
    ends: time | None = None
    reason: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Shift:
    """One worked shift as instants, from `starts_at` up to but not including `ends_at`."""

    starts_at: datetime
    ends_at: datetime
    name: str
    belongs_to: date

    @property
    def hours(self) -> float:
        """Real length [h]."""
        return (self.ends_at - self.starts_at).total_seconds() / 3600


def check_shifts(
    patterns: Sequence[ShiftPattern], *, exceptions: Sequence[ShiftException] = ()
) -> None:
    """Refuse patterns and exceptions that cannot be worked as they stand.

    Parameters
    ----------
    patterns : sequence of ShiftPattern
        In any order; may be empty.
    exceptions : sequence of ShiftException
        In any order; may be empty.

    Raises
    ------
    ShiftsContradict
        Two patterns start on one date, a weekday does not exist, two shifts of a pattern overlap
        or share their day and name, an exception names a shift that its day's pattern does not
        know and gives it no times, or it gives times to what is no worked shift with a name.
    """
    starts = [pattern.valid_from for pattern in patterns]
    for start in starts:
        if starts.count(start) > 1:
            raise ShiftsContradict(f"Two shift patterns start on {start}; keep one of them.")
    for pattern in patterns:
        _check_slots(pattern)
    ordered = sorted(patterns, key=lambda pattern: pattern.valid_from)
    for exception in exceptions:
        known = [pattern for pattern in ordered if pattern.valid_from <= exception.on]
        names = {slot.name for slot in known[-1].slots} if known else set()
        if (exception.starts is None) != (exception.ends is None):
            raise ShiftsContradict("A shift with times of its own needs its start and its end.")
        if exception.starts is not None:
            if not exception.name or not exception.is_worked:
                raise ShiftsContradict("Only a worked shift with a name has times of its own.")
            continue
        if exception.name and exception.name not in names:
            raise ShiftsContradict(
                f"No shift is called “{exception.name}” in the pattern of {exception.on}."
            )


def _check_slots(pattern: ShiftPattern) -> None:
    """Refuse weekdays that do not exist and shifts that overlap, also over the week's end."""
    week_minutes = 7 * 1440
    spans: list[tuple[int, int, ShiftSlot]] = []
    named = [(slot.weekday, slot.name) for slot in pattern.slots]
    for slot in pattern.slots:
        if not 0 <= slot.weekday <= 6:
            raise ShiftsContradict(f"Weekday {slot.weekday} does not exist; 0 is Monday, 6 Sunday.")
        if named.count((slot.weekday, slot.name)) > 1:
            raise ShiftsContradict(f"Two shifts of one day are called “{slot.name}”.")
        start = slot.weekday * 1440 + slot.starts.hour * 60 + slot.starts.minute
        spans.append((start, start + round(slot.clock_h * 60), slot))
    spans.sort(key=lambda span: span[0])
    if not spans:
        return
    following = [*spans[1:], (spans[0][0] + week_minutes, 0, spans[0][2])]
    for (_, end, slot), (start, _, after) in zip(spans, following, strict=True):
        if start < end:
            raise ShiftsContradict(f"The shifts “{slot.name}” and “{after.name}” overlap.")
