"""Where one reading fits among the accepted points of its counter."""

from __future__ import annotations

from bisect import bisect_left, bisect_right, insort
from collections.abc import Iterable
from dataclasses import dataclass, field
from heapq import heappop, heappush

from moldcare.core.counting.fits import counts_between
from moldcare.core.counting.pace import Pace, Running
from moldcare.core.counting.values import (
    CounterSetup,
    Decision,
    DecisionKind,
    HoldReason,
    Note,
    PaceStep,
    Readings,
    Removed,
    RunningSpan,
    State,
)

EVER = -(1 << 62)
NEVER = 1 << 62

ACCEPTED = int(State.ACCEPTED)
HELD = int(State.HELD)
SET_ASIDE = int(State.SET_ASIDE)


@dataclass(slots=True)
class Stretch:
    """One fitting with its accepted points in time order (places in the columns)."""

    from_us: int
    to_us: int
    base: int | None
    at_us: list[int] = field(default_factory=list)
    points: list[int] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Fit:
    """Where a reading fits, and the cycles before and after it."""

    stretch: Stretch
    place: int
    count: int
    count_after: int | None
    choices: tuple[int, ...]
    choices_after: tuple[int, ...]


class Placing:
    """The points of one counter: readings by their place in the columns.

    Values shown at fittings and last values at removals are points past the readings.
    """

    def __init__(
        self,
        readings: Readings,
        *,
        setup: CounterSetup,
        pace: Iterable[PaceStep],
        running: Iterable[RunningSpan] | None,
        clock_error_us: int,
        is_always_fitted: bool,
    ) -> None:
        size = len(readings.ids)
        self.readings = readings
        self.size = size
        self.place_of: dict[int, int] | None = None
        self.wrap = setup.wrap
        self.pace = Pace(pace)
        self.running = None if running is None else Running(running)
        self.at_us = list(readings.at_us)
        self.values = list(readings.values)
        self.states = [ACCEPTED] * size
        self.notes = [0] * size
        self.cycles = [0] * size
        self.reasons: dict[int, HoldReason] = {}
        self.choices: dict[int, tuple[int, ...]] = {}
        self.rules: dict[int, Decision] = {}
        self.stretches: list[Stretch] = []
        self.last_values: dict[int, tuple[Stretch, Removed]] = {}
        self.void: list[Decision] = []
        # Held readings: those to be judged again by arrival, the others by instant.
        self.waiting: list[int] = []
        self.resting: list[tuple[int, int]] = []
        self.held_until_us = EVER
        self.start_total = 0
        self.clock_off: list[int] = []
        if readings.written_us is not None:
            self.clock_off = [
                place
                for place, (at_us, written_us) in enumerate(
                    zip(readings.at_us, readings.written_us, strict=True)
                )
                if at_us - written_us > clock_error_us
            ]
        self.clock_off_places = frozenset(self.clock_off)
        if is_always_fitted:
            self.stretches.append(Stretch(EVER, NEVER, None))

    def _judge_as_new(self, place: int) -> None:
        """Judge a reading as one that comes now, after all that was accepted so far."""
        newest = next((each.at_us[-1] for each in reversed(self.stretches) if each.points), EVER)
        if self.at_us[place] < newest:
            self.notes[place] |= Note.LATE
        self.states[place] = HELD
        if place in self.clock_off_places:
            self._hold(place, HoldReason.CLOCK_IS_OFF)
        else:
            self._judge(place)

    def _judge(self, place: int) -> None:
        """Accept a held reading where it fits, else say why not."""
        found = self._fit(place)
        if isinstance(found, Fit):
            self._insert(place, found)
        else:
            self._hold(place, found)

    def _hold(self, place: int, reason: HoldReason) -> None:
        if place in self.clock_off_places:
            reason = HoldReason.CLOCK_IS_OFF
        self.states[place] = HELD
        self.cycles[place] = 0
        self.reasons[place] = reason
        insort(self.resting, (self.at_us[place], place))
        if reason not in (HoldReason.CLOCK_IS_OFF, HoldReason.OUT_OF_RANGE):
            self.held_until_us = max(self.held_until_us, self.at_us[place])

    def _settle(self) -> None:
        """Judge waiting held readings, the earliest arrival first, until nothing moves."""
        while self.waiting:
            place = heappop(self.waiting)
            if self.states[place] == HELD and place not in self.clock_off_places:
                self._judge(place)

    def _counts(self, before: int, after: int) -> tuple[int, ...]:
        return counts_between(
            (self.at_us[before], self.values[before]),
            (self.at_us[after], self.values[after]),
            wrap=self.wrap,
            pace=self.pace,
            running=self.running,
        )

    def stretch_at(self, place: int) -> Stretch | None:
        if place in self.last_values:
            return self.last_values[place][0]
        at_us = self.at_us[place]
        for stretch in reversed(self.stretches):
            if stretch.from_us <= at_us:
                return stretch if at_us <= stretch.to_us else None
        return None

    def _stretches_at(self, place: int) -> list[Stretch]:
        """Return where a reading may belong; at the very instant of an exchange there are two."""
        newer = self.stretch_at(place)
        if newer is None or place in self.last_values or newer.from_us != self.at_us[place]:
            return [] if newer is None else [newer]
        spot = self.stretches.index(newer)
        older = self.stretches[spot - 1] if spot else None
        if older is None or older.to_us != newer.from_us:
            return [newer]
        shows_base = newer.base is not None and self.values[newer.base] == self.values[place]
        return [newer, older] if shows_base else [older, newer]

    def _is_restart(self, point: int) -> bool:
        rule = self.rules.get(point)
        return rule is not None and rule.kind is DecisionKind.RESTART

    def _fit(self, place: int) -> Fit | HoldReason:
        if self.wrap is not None and self.values[place] >= self.wrap:
            return HoldReason.OUT_OF_RANGE
        found: Fit | HoldReason = HoldReason.NOT_FITTED
        for stretch in self._stretches_at(place):
            found = self._fit_into(stretch, place)
            if isinstance(found, Fit):
                return found
        return found

    def _fit_into(self, stretch: Stretch, place: int) -> Fit | HoldReason:
        at_us, value = self.at_us[place], self.values[place]
        spot = bisect_right(stretch.at_us, at_us)
        before = stretch.points[spot - 1] if spot else None
        after = stretch.points[spot] if spot < len(stretch.points) else None
        if before is not None and self.at_us[before] == at_us:
            if self.values[before] != value:
                return HoldReason.CONTRADICTS
            return Fit(stretch, spot, 0, None, (), ())
        if before is None:
            if after is None or self._is_restart(after):
                return Fit(stretch, spot, 0, None, (), ())
            counts = self._counts_after_first(place, after)
            if not counts:
                return HoldReason.DOES_NOT_FIT
            return Fit(stretch, spot, 0, counts[0], (), counts)
        left = self._counts(before, place)
        if not left:
            backwards = value < self.values[before]
            return HoldReason.GOES_BACKWARDS if backwards else HoldReason.TOO_FAST
        if after is None or self._is_restart(after):
            return Fit(stretch, spot, left[0], None, left, ())
        return self._split(place, stretch, spot, left)

    def _counts_after_first(self, place: int, after: int) -> tuple[int, ...]:
        rule = self.rules.get(after)
        if rule is None or rule.kind is not DecisionKind.TURNS:
            return self._counts(place, after)
        count = self._turned(place, after, rule)
        return (count,) if count >= 0 else ()

    def _turned(self, before: int, point: int, rule: Decision) -> int:
        return self.values[point] + rule.turns * (self.wrap or 0) - self.values[before]

    def _split(
        self, place: int, stretch: Stretch, spot: int, left: tuple[int, ...]
    ) -> Fit | HoldReason:
        """Fit a reading into a counted span: the two parts add up to what was counted."""
        before, after = stretch.points[spot - 1], stretch.points[spot]
        is_decided = after in self.rules
        is_open = bool(self.choices.get(after)) and not is_decided
        wholes = self._counts(before, after) if is_open else ()
        right = self._counts(place, after)
        for whole in wholes or (self.cycles[after],):
            for count in left:
                rest = whole - count
                if rest < 0:
                    break
                if is_decided or rest in right:
                    return Fit(
                        stretch,
                        spot,
                        count,
                        rest,
                        left if is_open else (),
                        right if is_open else (),
                    )
        return HoldReason.DOES_NOT_FIT

    def _insert(self, place: int, fit: Fit) -> None:
        stretch, spot = fit.stretch, fit.place
        self.states[place] = ACCEPTED
        self.reasons.pop(place, None)
        stretch.at_us.insert(spot, self.at_us[place])
        stretch.points.insert(spot, place)
        self._count(place, stretch, spot, fit.count, fit.choices)
        if fit.count_after is not None:
            after = stretch.points[spot + 1]
            if after in self.rules or not fit.choices_after:
                self._count(after, stretch, spot + 1, fit.count_after, None)
            else:
                self._count(after, stretch, spot + 1, fit.count_after, fit.choices_after)
        self._wake(stretch, spot)

    def _count(
        self,
        point: int,
        stretch: Stretch,
        spot: int,
        count: int,
        choices: tuple[int, ...] | None,
    ) -> None:
        """Set the cycles of a point's span and what is to be said of it."""
        self.cycles[point] = count
        notes = self.notes[point] & ~(Note.ROLLED_OVER | Note.UNSURE)
        self.choices.pop(point, None)
        if choices is not None and len(choices) > 1:
            self.choices[point] = choices
            notes |= Note.UNSURE
        if (
            spot
            and not self._is_restart(point)
            and count > self.values[point] - self.values[stretch.points[spot - 1]]
        ):
            notes |= Note.ROLLED_OVER
        self.notes[point] = notes

    def _wake(self, stretch: Stretch, spot: int) -> None:
        """Let the held readings around a changed place be judged again."""
        low = stretch.at_us[spot - 1] if spot else EVER
        high = stretch.at_us[spot + 1] if spot + 1 < len(stretch.at_us) else NEVER
        self._wake_between(low, high)

    def _wake_between(self, low_us: int, high_us: int) -> None:
        first = bisect_left(self.resting, (low_us, 0))
        last = bisect_left(self.resting, (high_us + 1, 0), first)
        for _, place in self.resting[first:last]:
            heappush(self.waiting, place)
        del self.resting[first:last]

    def _wake_all(self) -> None:
        self._wake_between(EVER, NEVER)
