"""Local wall time and the plant's shifts.

Shifts are kept as people say them, in local wall times, and become instants only here. Hours are
real: the night shift over a clock change has seven or nine of them. A shift belongs to one named
day, the local date on which it starts.

Two ways lead from a wall time to an instant. A time that somebody typed goes through
`resolve_local`, which says when it exists twice or never, so that the person can be asked. A time
that we computed goes through `local_instant`, which takes the first of two instants, and the first
instant after a gap.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from moldcare.core.errors import ShiftsContradict

ONE_DAY = timedelta(days=1)

#: Length of a shift where the plant has entered none [h]. Common practice, no source.
USUAL_SHIFT_H = 8.0

#: How far we look for a shift before we say that there is none [days].
SEARCH_DAYS = 400


@dataclass(frozen=True, kw_only=True, slots=True)
class Unique:
    """The one instant at which the clocks showed a wall time."""

    at: datetime


@dataclass(frozen=True, kw_only=True, slots=True)
class Twice:
    """The two instants at which the clocks showed a wall time, when they went back."""

    first_at: datetime
    second_at: datetime


@dataclass(frozen=True, kw_only=True, slots=True)
class Never:
    """The clocks jumped over a wall time; `after_gap_at` is the first instant after the jump."""

    after_gap_at: datetime


def resolve_local(naive: datetime, *, zone: ZoneInfo) -> Unique | Twice | Never:
    """Which instants a typed wall time can mean.

    Parameters
    ----------
    naive : datetime
        Wall time without a zone.
    zone : ZoneInfo
        Zone whose clocks showed it.

    Returns
    -------
    Unique, Twice or Never
        All instants are in UTC.

    Examples
    --------
    >>> resolve_local(datetime(2026, 10, 25, 2, 30), zone=ZoneInfo("Europe/Berlin")).first_at
    datetime.datetime(2026, 10, 25, 0, 30, tzinfo=datetime.timezone.utc)
    """
    earlier = naive.replace(tzinfo=zone, fold=0).astimezone(UTC)
    later = naive.replace(tzinfo=zone, fold=1).astimezone(UTC)
    if earlier == later:
        return Unique(at=earlier)
    if earlier < later:
        return Twice(first_at=earlier, second_at=later)
    # In a gap the offset before the jump gives the later instant, so the jump lies between.
    return Never(after_gap_at=_first_with_new_offset(later, until=earlier, zone=zone))


def _first_with_new_offset(start: datetime, *, until: datetime, zone: ZoneInfo) -> datetime:
    """The first whole second in (start, until] at which the offset differs from that at start."""
    old = start.astimezone(zone).utcoffset()
    low, high = 0, int((until - start).total_seconds())
    while high - low > 1:
        middle = (low + high) // 2
        if (start + timedelta(seconds=middle)).astimezone(zone).utcoffset() == old:
            low = middle
        else:
            high = middle
    return (start + timedelta(seconds=high)).replace(microsecond=0)


def local_instant(naive: datetime, *, zone: ZoneInfo) -> datetime:
    """The instant in UTC of a computed wall time: the first of two, the first after a gap.

    Examples
    --------
    >>> local_instant(datetime(2026, 3, 29, 2, 30), zone=ZoneInfo("Europe/Berlin"))
    datetime.datetime(2026, 3, 29, 1, 0, tzinfo=datetime.timezone.utc)
    """
    found = resolve_local(naive, zone=zone)
    if isinstance(found, Unique):
        return found.at
    return found.first_at if isinstance(found, Twice) else found.after_gap_at


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
    """A day (`name` empty), or one shift of it, that is worked or not against the pattern."""

    on: date
    name: str = ""
    is_worked: bool
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
        or share their day and name, or an exception names a shift that its day's pattern does not
        know.
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
        """The instant at which a local date begins."""
        found = self._midnights.get(on)
        if found is None:
            found = self._midnights[on] = local_instant(
                datetime.combine(on, time()), zone=self.zone
            )
        return found

    def date_of(self, instant: datetime) -> date:
        """The local date of an instant."""
        return instant.astimezone(self.zone).date()

    def shifts_of(self, on: date) -> tuple[Shift, ...]:
        """The worked shifts that belong to a local date, in the order of their starts."""
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
        """The shift that is worked at an instant, or None."""
        on = self.date_of(instant)
        for day in (on - ONE_DAY, on):
            for shift in self.shifts_of(day):
                if shift.starts_at <= instant < shift.ends_at:
                    return shift
        return None

    def shifts_between(self, from_at: datetime, to_at: datetime) -> list[Shift]:
        """The shifts of which any part lies in the span, in the order of their starts."""
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
        """The first end of a shift after an instant; None when no shift follows within a year."""
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
        """The start of the n-th shift that starts after an instant; None when there are fewer."""
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
        """The start of the last shift that has ended by an instant: one whole shift of notice.

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
        """The end of the n-th shift that starts at or after an instant.

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
        """The length by the clock of the longest shift in the pattern of a date [h]."""
        return self._usual_h[bisect_right(self._starts, on)]


def _nearest_before(slots: Sequence[ShiftSlot], *, name: str, weekday: int) -> ShiftSlot | None:
    """The slot of that name on the nearest weekday before, going round the week."""
    named = [slot for slot in slots if slot.name == name]
    return min(named, key=lambda slot: (weekday - slot.weekday) % 7, default=None)
