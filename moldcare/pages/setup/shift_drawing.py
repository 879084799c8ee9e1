"""Geometry of drawn shifts: a day as a line of 24 hours, a week as a line of seven days."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, time, timedelta

from moldcare.core.shifts import Shift, ShiftCalendar, ShiftSlot

MINUTES_A_DAY = 1440
DAY_WIDTH = 720
WEEK_WIDTH = 728
# a day's part of the week's line
_PART = WEEK_WIDTH // 7
_TOP, _BOTTOM = 8, 34
# what a sign of a name takes at its largest, on a phone
_SIGN = 15
# what two bars keep apart
_GAP = 2
HOURS = tuple(range(0, 25, 3))


@dataclass(frozen=True, kw_only=True, slots=True)
class Bar:
    """A shift, or the part of one that lies on a day; coordinates are texts for the SVG."""

    path: str
    name: str
    label_x: str
    is_wide: bool
    kind: str


@dataclass(frozen=True, kw_only=True, slots=True)
class DayLine:
    """A weekday: its bars, those of the night before included, and its shifts in words."""

    weekday: int
    bars: list[Bar]
    slots: list[ShiftSlot]


def week_of_slots(slots: Sequence[ShiftSlot]) -> list[DayLine]:
    """Return the week of a pattern, a line a day; a night runs on into the next day's line."""
    days: list[list[Bar]] = [[] for _ in range(7)]
    for slot in sorted(slots, key=lambda slot: (slot.weekday, slot.starts)):
        start = _minutes(slot.starts)
        end = start + round(slot.clock_h * 60)
        days[slot.weekday].append(_bar(slot.name, start=start, end=min(end, MINUTES_A_DAY), of=end))
        if end > MINUTES_A_DAY:
            following = (slot.weekday + 1) % 7
            rest = _bar(slot.name, start=0, end=end - MINUTES_A_DAY, of=0)
            days[following].insert(0, rest)
    return [
        DayLine(
            weekday=weekday,
            bars=bars,
            slots=sorted((s for s in slots if s.weekday == weekday), key=lambda s: s.starts),
        )
        for weekday, bars in enumerate(days)
    ]


def _bar(name: str, *, start: int, end: int, of: int) -> Bar:
    """Draw a bar; it stays open where its shift goes on beyond the day."""
    left = start * DAY_WIDTH / MINUTES_A_DAY
    right = end * DAY_WIDTH / MINUTES_A_DAY
    opens_left, opens_right = of == 0, of > MINUTES_A_DAY
    return Bar(
        path=_outline(left, right=right, opens_left=opens_left, opens_right=opens_right),
        name=name,
        label_x=_text((left + right) / 2),
        is_wide=right - left >= _SIGN * len(name) + 8,
        kind="worked",
    )


def _outline(left: float, *, right: float, opens_left: bool, opens_right: bool) -> str:
    x1 = _text(left if opens_left else left + _GAP)
    x2 = _text(right if opens_right else right - _GAP)
    if opens_left and opens_right:
        return f"M{x1} {_TOP}H{x2}M{x1} {_BOTTOM}H{x2}"
    if opens_left:
        return f"M{x1} {_TOP}H{x2}V{_BOTTOM}H{x1}"
    if opens_right:
        return f"M{x2} {_TOP}H{x1}V{_BOTTOM}H{x2}"
    return f"M{x1} {_TOP}H{x2}V{_BOTTOM}H{x1}Z"


@dataclass(frozen=True, kw_only=True, slots=True)
class WeekLine:
    """A week by the calendar: what is worked, what is not, and what is extra."""

    begins_on: date
    bars: list[Bar]
    worked: int


def weeks_ahead(
    calendar: ShiftCalendar, *, usual: ShiftCalendar, begins_on: date, weeks: int
) -> list[WeekLine]:
    """Return the weeks from a date on, each against what the pattern alone would say."""
    return [
        _week(calendar, usual=usual, begins_on=begins_on + timedelta(days=7 * place))
        for place in range(weeks)
    ]


def _week(calendar: ShiftCalendar, *, usual: ShiftCalendar, begins_on: date) -> WeekLine:
    bars, worked = [], 0
    for place in range(7):
        on = begins_on + timedelta(days=place)
        now, then = calendar.shifts_of(on), usual.shifts_of(on)
        worked += len(now)
        known = {(shift.name, shift.starts_at, shift.ends_at) for shift in then}
        for shift in now:
            is_usual = (shift.name, shift.starts_at, shift.ends_at) in known
            kind = "worked" if is_usual else "extra"
            bars.append(_week_bar(shift, calendar=calendar, place=place, kind=kind))
        held = {shift.name for shift in now}
        for shift in then:
            if shift.name not in held:
                bars.append(_week_bar(shift, calendar=calendar, place=place, kind="off"))
    return WeekLine(begins_on=begins_on, bars=bars, worked=worked)


def _week_bar(shift: Shift, *, calendar: ShiftCalendar, place: int, kind: str) -> Bar:
    local = shift.starts_at.astimezone(calendar.zone)
    start = place * MINUTES_A_DAY + _minutes(local.time())
    left = start * _PART / MINUTES_A_DAY
    right = left + shift.hours * 60 * _PART / MINUTES_A_DAY
    x1, x2 = _text(left + 1), _text(min(right, WEEK_WIDTH) - 1)
    return Bar(path=f"M{x1} 6H{x2}V24H{x1}Z", name=shift.name, label_x="", is_wide=False, kind=kind)


@dataclass(frozen=True, kw_only=True, slots=True)
class DayMark:
    """Where a day begins on a week's line, and where its name stands."""

    x: str
    label_x: str
    on: date


def day_marks(begins_on: date) -> list[DayMark]:
    """Return where the days of a week's line begin."""
    return [
        DayMark(
            x=_text(place * _PART),
            label_x=_text((place + 0.5) * _PART),
            on=begins_on + timedelta(days=place),
        )
        for place in range(7)
    ]


def hour_marks() -> list[tuple[str, str]]:
    """Return where the hours of a day's line stand, with their figures."""
    return [(_text(hour * DAY_WIDTH / 24), str(hour)) for hour in HOURS]


def _minutes(at: time) -> int:
    return at.hour * 60 + at.minute


def _text(number: float) -> str:
    """Return a coordinate with a point, whatever the reader's locale."""
    return f"{number:.1f}".rstrip("0").rstrip(".")


def week_of(on: date, *, week_starts_on: int) -> date:
    """Return the first day of the week that a date is in, by the plant's own first day."""
    return on - timedelta(days=(on.weekday() - week_starts_on) % 7)
