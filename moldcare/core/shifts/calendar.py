"""The plant's worked shifts as instants."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from moldcare.core.shifts.local_time import local_instant
from moldcare.core.shifts.values import Shift, ShiftException, ShiftPattern, ShiftSlot

ONE_DAY = timedelta(days=1)

#: Length of a shift where the plant has entered none [h]. Common practice, no source.
USUAL_SHIFT_H = 8.0

#: How far we look for a shift before we say that there is none [days].
SEARCH_DAYS = 400


class ShiftCalendar:
    """The plant's worked shifts, with what was looked up kept for the next question.

    Parameters
    ----------
    zone : ZoneInfo
        Zone of the plant.
    patterns : iterable of ShiftPattern
        In any order; before the first one there are no shifts.
    exceptions : iterable of ShiftException
        In the order in which they were written: of two about the same shift the later counts.
        An extra shift on a weekday without it takes the wall times that the pattern gives its name
        on the nearest weekday before.

    Notes
    -----
    Answers depend on the arguments only. Nothing here reads a clock.
    """

    __slots__ = (
        "_by_date",
        "_exceptions",
        "_midnights",
        "_patterns",
        "_starts",
        "_usual_h",
        "_whole",
        "zone",
    )

    def __init__(
        self,
        *,
        zone: ZoneInfo,
        patterns: Iterable[ShiftPattern] = (),
        exceptions: Iterable[ShiftException] = (),
    ) -> None:
        self.zone = zone
        self._patterns = sorted(patterns, key=lambda pattern: pattern.valid_from)
        self._starts = [pattern.valid_from for pattern in self._patterns]
        self._usual_h = [USUAL_SHIFT_H] + [
            max((slot.clock_h for slot in pattern.slots), default=USUAL_SHIFT_H)
            for pattern in self._patterns
        ]
        self._exceptions: dict[date, list[ShiftException]] = {}
        for exception in exceptions:
            self._exceptions.setdefault(exception.on, []).append(exception)
        self._by_date: dict[date, tuple[Shift, ...]] = {}
        self._midnights: dict[date, datetime] = {}
        self._whole: dict[datetime, datetime] = {}

    def midnight(self, on: date) -> datetime:
        """Return the instant at which a local date begins."""
        found = self._midnights.get(on)
        if found is None:
            found = self._midnights[on] = local_instant(
                datetime.combine(on, time()), zone=self.zone
            )
        return found

    def date_of(self, instant: datetime) -> date:
        """Return the local date of an instant."""
        return instant.astimezone(self.zone).date()

    def shifts_of(self, on: date) -> tuple[Shift, ...]:
        """Return the worked shifts that belong to a local date, in the order of their starts."""
        found = self._by_date.get(on)
        if found is None:
            found = self._by_date[on] = self._worked(on)
        return found

    def _worked(self, on: date) -> tuple[Shift, ...]:
        place = bisect_right(self._starts, on)
        if place == 0:
            return ()
        slots = self._patterns[place - 1].slots
        worked = {slot.name: slot for slot in slots if slot.weekday == on.weekday()}
        usual = dict(worked)
        for exception in self._exceptions.get(on, ()):
            if exception.starts is not None and exception.ends is not None:
                worked[exception.name] = ShiftSlot(
                    weekday=on.weekday(),
                    name=exception.name,
                    starts=exception.starts,
                    ends=exception.ends,
                )
                continue
            named = {exception.name} if exception.name else {slot.name for slot in slots}
            if not exception.is_worked:
                worked = {name: slot for name, slot in worked.items() if name not in named}
                continue
            for name in named:
                slot = usual.get(name) or _nearest_before(slots, name=name, weekday=on.weekday())
                if slot is not None:
                    worked[name] = slot
        shifts = (self._shift(slot, on=on) for slot in worked.values())
        # A shift that lies inside a gap of the clock has no time at all.
        real = [shift for shift in shifts if shift.starts_at < shift.ends_at]
        return tuple(sorted(real, key=lambda shift: shift.starts_at))

    def _shift(self, slot: ShiftSlot, *, on: date) -> Shift:
        last = on if slot.starts < slot.ends else on + ONE_DAY
        return Shift(
            starts_at=local_instant(datetime.combine(on, slot.starts), zone=self.zone),
            ends_at=local_instant(datetime.combine(last, slot.ends), zone=self.zone),
            name=slot.name,
            belongs_to=on,
        )

    def shift_at(self, instant: datetime) -> Shift | None:
        """Return the shift that is worked at an instant, or None."""
        on = self.date_of(instant)
        for day in (on - ONE_DAY, on):
            for shift in self.shifts_of(day):
                if shift.starts_at <= instant < shift.ends_at:
                    return shift
        return None

    def shifts_between(self, from_at: datetime, to_at: datetime) -> list[Shift]:
        """Return the shifts of which any part lies in the span, in the order of their starts."""
        found: list[Shift] = []
        day, last = self.date_of(from_at) - ONE_DAY, self.date_of(to_at)
        while day <= last:
            found += [
                shift
                for shift in self.shifts_of(day)
                if shift.starts_at < to_at and shift.ends_at > from_at
            ]
            day += ONE_DAY
        return found

    def next_shift_end(self, instant: datetime) -> datetime | None:
        """Return the first end of a shift after an instant; None when no shift follows."""
        day = self.date_of(instant) - ONE_DAY
        for _ in range(SEARCH_DAYS):
            ends = [shift.ends_at for shift in self.shifts_of(day) if shift.ends_at > instant]
            if ends:
                # A long shift of this day may end after a short one of the next.
                ends += [
                    shift.ends_at
                    for shift in self.shifts_of(day + ONE_DAY)
                    if shift.ends_at > instant
                ]
                return min(ends)
            day += ONE_DAY
        return None

    def nth_shift_start_after(self, instant: datetime, *, n: int = 1) -> datetime | None:
        """Return the start of the n-th shift that starts after an instant, or None."""
        day = self.date_of(instant)
        left = n
        for _ in range(SEARCH_DAYS):
            for shift in self.shifts_of(day):
                if shift.starts_at > instant:
                    left -= 1
                    if left == 0:
                        return shift.starts_at
            day += ONE_DAY
        return None

    def whole_shift_before(self, instant: datetime) -> datetime:
        """Return the start of the last shift that has ended by an instant: a whole shift's notice.

        Where no shifts are known, it is the usual length of one before the instant.
        """
        found = self._whole.get(instant)
        if found is None:
            found = self._whole[instant] = self._start_of_last_ended(instant)
        return found

    def _start_of_last_ended(self, instant: datetime) -> datetime:
        if self._patterns:
            day = self.date_of(instant)
            for _ in range(SEARCH_DAYS):
                starts = [
                    shift.starts_at for shift in self.shifts_of(day) if shift.ends_at <= instant
                ]
                if starts:
                    return max(starts)
                day -= ONE_DAY
        return instant - timedelta(hours=USUAL_SHIFT_H)

    def nth_whole_shift_end(self, instant: datetime, *, n: int = 1) -> datetime:
        """Return the end of the n-th shift that starts at or after an instant.

        Where there are not so many, it is n times the usual length after the instant.
        """
        left = n
        day = self.date_of(instant)
        for _ in range(SEARCH_DAYS if self._patterns else 0):
            for shift in self.shifts_of(day):
                if shift.starts_at >= instant:
                    left -= 1
                    if left <= 0:
                        return shift.ends_at
            day += ONE_DAY
        return instant + timedelta(hours=USUAL_SHIFT_H * n)

    def usual_shift_h(self, on: date) -> float:
        """Return the length by the clock of the longest shift in the pattern of a date [h]."""
        return self._usual_h[bisect_right(self._starts, on)]


def _nearest_before(slots: Sequence[ShiftSlot], *, name: str, weekday: int) -> ShiftSlot | None:
    """Return the slot of that name on the nearest weekday before, going round the week."""
    named = [slot for slot in slots if slot.name == name]
    return min(named, key=lambda slot: (weekday - slot.weekday) % 7, default=None)
