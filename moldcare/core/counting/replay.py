"""The replay of one counter: what is accepted so far, what is held, and how each event moves it."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass, field
from heapq import heapify, heappop, heappush

from moldcare.core.counting.fits import counts_between
from moldcare.core.counting.outcome import collect
from moldcare.core.counting.pace import Pace, Running
from moldcare.core.counting.values import (
    CounterSetup,
    Decision,
    DecisionKind,
    Event,
    Fitted,
    HoldReason,
    Judged,
    Note,
    PaceKnown,
    PaceStep,
    Readings,
    Removed,
    Resume,
    RunningSpan,
    State,
)

EVER = -(1 << 62)
NEVER = 1 << 62

_ACCEPTED = int(State.ACCEPTED)
_HELD = int(State.HELD)
_SET_ASIDE = int(State.SET_ASIDE)


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


class Replay:
    """State of a replay; values shown at fittings and last values are points past the readings."""

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
        self.states = [_ACCEPTED] * size
        self.notes = [0] * size
        self.cycles = [0] * size
        self.reasons: dict[int, HoldReason] = {}
        self.choices: dict[int, tuple[int, ...]] = {}
        self.rules: dict[int, Decision] = {}
        self.stretches: list[Stretch] = []
        self.last_values: dict[int, tuple[Stretch, Removed]] = {}
        self.void: list[Decision] = []
        self.waiting: list[int] = []
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

    # -- readings ---------------------------------------------------------------------------

    def read(self, start: int, stop: int) -> None:
        """Judge the readings from one place up to another, in arrival order."""
        place = start
        for halt in [*(each for each in self.clock_off if start <= each < stop), stop]:
            while place < halt:
                place = self._read_plain(place, halt)
                if place < halt:
                    self._read_one(place)
                    place += 1
            if halt < stop:
                self._hold(halt, HoldReason.CLOCK_IS_OFF)
                place = halt + 1

    def _read_plain(self, start: int, stop: int) -> int:
        """Take readings in time order that are plainly possible; return the first that is not."""
        stretch = self.stretches[-1] if self.stretches else None
        if stretch is None or not stretch.points or self.held_until_us > stretch.at_us[-1]:
            return start
        last_at = stretch.at_us[-1]
        last_value = self.values[stretch.points[-1]]
        shortest, until = self.pace.step_at(last_at)
        until = min(until, stretch.to_us)
        # Below this many microseconds a full turn more is not possible.
        sure_us = NEVER if self.wrap is None else (self.wrap - 2) * shortest
        wrap = NEVER if self.wrap is None else self.wrap
        at_column, values, cycles = self.at_us, self.values, self.cycles
        keep_at, keep_point = stretch.at_us.append, stretch.points.append
        for place in range(start, stop):
            at_us = at_column[place]
            value = values[place]
            elapsed = at_us - last_at
            count = value - last_value
            if (
                count >= 0
                and 0 < elapsed < sure_us
                and (count - 2) * shortest <= elapsed
                and at_us <= until
                and value < wrap
            ):
                cycles[place] = count
                keep_at(at_us)
                keep_point(place)
                last_at = at_us
                last_value = value
            else:
                return place
        return stop

    def _read_one(self, place: int) -> None:
        at_us = self.at_us[place]
        newest = next((each.at_us[-1] for each in reversed(self.stretches) if each.points), EVER)
        if at_us < newest:
            self.notes[place] |= Note.LATE
        self.states[place] = _HELD
        self._judge(place)
        self._settle()

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
        self.states[place] = _HELD
        self.cycles[place] = 0
        self.reasons[place] = reason
        if reason not in (HoldReason.CLOCK_IS_OFF, HoldReason.OUT_OF_RANGE):
            self.held_until_us = max(self.held_until_us, self.at_us[place])

    def _settle(self) -> None:
        """Judge waiting held readings, the earliest arrival first, until nothing moves."""
        while self.waiting:
            place = heappop(self.waiting)
            if self.states[place] == _HELD and place not in self.clock_off_places:
                self._judge(place)

    # -- fitting one reading in -------------------------------------------------------------

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
        self.states[place] = _ACCEPTED
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
        if self.held_until_us < low:
            return
        for place in self.reasons:
            if low <= self.at_us[place] <= high:
                heappush(self.waiting, place)

    def _wake_all(self) -> None:
        self.waiting = list(self.reasons)
        heapify(self.waiting)

    # -- events -----------------------------------------------------------------------------

    def learn(self, event: Event) -> None:
        """Take in one event and judge again what it touches."""
        if isinstance(event, Decision):
            self._decide(event)
        elif isinstance(event, Fitted):
            self._fitted(event)
        elif isinstance(event, Removed):
            self._removed(event)
        elif isinstance(event, PaceKnown):
            self.pace.learn(event.steps)
            self._wake_all()
        else:
            if self.running is None:
                self.running = Running()
            self.running.learn(event.spans)
            self._look_again_at_unsure()
            self._wake_all()
        self._settle()
        self.held_until_us = max(
            (self.at_us[place] for place in self.reasons if place not in self.clock_off_places),
            default=EVER,
        )

    def _look_again_at_unsure(self) -> None:
        for stretch in self.stretches:
            for spot, point in enumerate(stretch.points):
                if spot and point in self.choices and point not in self.rules:
                    counts = self._counts(stretch.points[spot - 1], point)
                    if counts:
                        count = self.cycles[point]
                        count = count if count in counts else counts[0]
                        self._count(point, stretch, spot, count, counts)

    def _decide(self, decision: Decision) -> None:
        if self.place_of is None:
            self.place_of = {each: place for place, each in enumerate(self.readings.ids)}
        place = self.place_of.get(decision.reading_id)
        if place is None or decision.reading_id > decision.after_reading:
            self.void.append(decision)
            return
        if decision.kind is DecisionKind.SET_ASIDE:
            was_accepted = self.states[place] == _ACCEPTED
            if was_accepted:
                self._take_out(place)
            self.states[place] = _SET_ASIDE
            self.reasons.pop(place, None)
            self.rules.pop(place, None)
            self.notes[place] = 0
            return
        if not self._force(place, decision):
            self.void.append(decision)

    def _take_out(self, place: int) -> None:
        """Remove an accepted point; the span after it is counted from the point before."""
        stretch, spot = self._find(place)
        taken = self.cycles[place]
        del stretch.at_us[spot], stretch.points[spot]
        self.cycles[place] = 0
        self.choices.pop(place, None)
        if spot < len(stretch.points):
            after = stretch.points[spot]
            if spot == 0:
                self._count(after, stretch, spot, self._first_count(after), None)
            elif not self._is_restart(after):
                self._bridge(stretch, spot, self.cycles[after] + taken)
        self._wake_gap(stretch, spot)

    def _wake_gap(self, stretch: Stretch, spot: int) -> None:
        low = stretch.at_us[spot - 1] if spot else EVER
        high = stretch.at_us[spot] if spot < len(stretch.at_us) else NEVER
        for place in self.reasons:
            if low <= self.at_us[place] <= high:
                heappush(self.waiting, place)

    def _find(self, place: int) -> tuple[Stretch, int]:
        for stretch in self.stretches:
            if place in stretch.points:
                return stretch, stretch.points.index(place)
        raise LookupError(place)

    def _first_count(self, point: int) -> int:
        rule = self.rules.get(point)
        if rule is None or rule.kind is not DecisionKind.RESTART or rule.base_value is None:
            return 0
        return max(0, self.values[point] - rule.base_value)

    def _bridge(self, stretch: Stretch, spot: int, whole: int) -> None:
        """Count an accepted point from a new point before it, keeping the total where it fits."""
        point = stretch.points[spot]
        rule = self.rules.get(point)
        if rule is not None and rule.kind is DecisionKind.TURNS:
            self._count(point, stretch, spot, max(0, whole), None)
            return
        counts = self._counts(stretch.points[spot - 1], point)
        if counts:
            count = whole if whole in counts else counts[0]
            self._count(point, stretch, spot, count, None if rule else counts)
            return
        ahead = self.values[point] - self.values[stretch.points[spot - 1]]
        if rule is not None and ahead >= 0:
            self._count(point, stretch, spot, ahead, None)
            return
        self._count(point, stretch, spot, max(0, whole), None)
        self.notes[point] |= Note.UNSURE
        self.choices[point] = ()

    def _force(self, place: int, decision: Decision) -> bool:
        """Accept a reading by decision; return False where the decision cannot take effect."""
        stretch = self.stretch_at(place)
        if stretch is None or (decision.kind is DecisionKind.TURNS and self.wrap is None):
            return False
        if self.states[place] == _ACCEPTED:
            old_stretch, spot = self._find(place)
            stretch = old_stretch
            taken = self.cycles[place]
            del stretch.at_us[spot], stretch.points[spot]
        else:
            taken = 0
            spot = bisect_right(stretch.at_us, self.at_us[place])
            rival = stretch.points[spot - 1] if spot else None
            if (
                rival is not None
                and rival != stretch.base
                and self.at_us[rival] == self.at_us[place]
                and self.values[rival] != self.values[place]
            ):
                spot -= 1
                taken = self.cycles[rival]
                del stretch.at_us[spot], stretch.points[spot]
                self.rules.pop(rival, None)
                self.choices.pop(rival, None)
                self.notes[rival] &= Note.LATE
                self._hold(rival, HoldReason.CONTRADICTS)
        after = stretch.points[spot] if spot < len(stretch.points) else None
        whole = taken + (self.cycles[after] if after is not None else 0)
        self.rules[place] = decision
        self.states[place] = _ACCEPTED
        self.reasons.pop(place, None)
        stretch.at_us.insert(spot, self.at_us[place])
        stretch.points.insert(spot, place)
        count = self._decided_count(stretch, spot, decision)
        self._count(place, stretch, spot, count, None)
        self.notes[place] |= Note.DECIDED
        if decision.kind is DecisionKind.RESTART:
            self.notes[place] |= Note.RESTART
        if after is not None and not self._is_restart(after):
            self._bridge(stretch, spot + 1, whole - count)
        self._wake(stretch, spot)
        return True

    def _decided_count(self, stretch: Stretch, spot: int, decision: Decision) -> int:
        point = stretch.points[spot]
        value = self.values[point]
        if decision.kind is DecisionKind.RESTART:
            return self._first_count(point)
        if spot == 0:
            return 0
        before = stretch.points[spot - 1]
        if decision.kind is DecisionKind.TURNS:
            return max(0, self._turned(before, point, decision))
        counts = self._counts(before, point)
        return counts[0] if counts else max(0, value - self.values[before])

    # -- fittings ---------------------------------------------------------------------------

    def _add_point(self, at_us: int, value: int) -> int:
        self.at_us.append(at_us)
        self.values.append(value)
        self.states.append(_ACCEPTED)
        self.notes.append(0)
        self.cycles.append(0)
        return len(self.values) - 1

    def _fitted(self, event: Fitted) -> None:
        spot = bisect_right([each.from_us for each in self.stretches], event.at_us)
        earlier = self.stretches[spot - 1] if spot else None
        loose: list[int] = []
        if earlier is not None and earlier.from_us == event.at_us:
            loose += self._empty(earlier, EVER)
            del self.stretches[spot - 1]
            spot -= 1
            to_us = earlier.to_us
        else:
            following = self.stretches[spot].from_us if spot < len(self.stretches) else NEVER
            to_us = following
            if earlier is not None and earlier.to_us > event.at_us:
                to_us = earlier.to_us
                loose += self._empty(earlier, event.at_us)
                earlier.to_us = event.at_us
        base = None
        if event.value_shown is not None:
            base = self._add_point(event.at_us, event.value_shown)
        stretch = Stretch(event.at_us, to_us, base)
        if base is not None:
            stretch.at_us.append(event.at_us)
            stretch.points.append(base)
        self.stretches.insert(spot, stretch)
        for point, (owner, removed) in self.last_values.items():
            if owner is earlier and self.at_us[point] > event.at_us:
                self.last_values[point] = (stretch, removed)
        self._judge_again(loose)

    def _removed(self, event: Removed) -> None:
        open_now = [each for each in self.stretches if each.from_us < event.at_us]
        stretch = (
            open_now[-1]
            if open_now
            else next((each for each in self.stretches if each.from_us == event.at_us), None)
        )
        if stretch is None:
            return
        self._drop_last_value(stretch)
        loose = self._empty(stretch, event.at_us)
        stretch.to_us = event.at_us
        if event.last_value is not None:
            point = self._add_point(event.at_us, event.last_value)
            self.states[point] = _HELD
            self.reasons[point] = HoldReason.DOES_NOT_FIT
            self.last_values[point] = (stretch, event)
            self.held_until_us = max(self.held_until_us, event.at_us)
        self._judge_again(loose)

    def _drop_last_value(self, stretch: Stretch) -> None:
        for point in [each for each, (owner, _) in self.last_values.items() if owner is stretch]:
            if point in stretch.points:
                self._take_out(point)
            self.states[point] = _SET_ASIDE
            self.reasons.pop(point, None)
            del self.last_values[point]

    def _empty(self, stretch: Stretch, after_us: int) -> list[int]:
        """Take every reading dated after an instant out of a stretch, and return them."""
        keep = bisect_right(stretch.at_us, after_us)
        loose = [
            point
            for point in stretch.points[keep:]
            if point < self.size or point in self.last_values
        ]
        del stretch.at_us[keep:], stretch.points[keep:]
        for point in loose:
            self.choices.pop(point, None)
            self.notes[point] &= Note.LATE
            self._hold(point, HoldReason.NOT_FITTED)
        return [point for point in loose if point < self.size]

    def _judge_again(self, loose: list[int]) -> None:
        for place in sorted(loose):
            if place in self.rules and not self._force(place, self.rules[place]):
                self.void.append(self.rules.pop(place))
        self._wake_all()

    # -- going on, and the outcome ----------------------------------------------------------

    def go_on_from(self, resume: Resume) -> None:
        """Begin at the newest accepted point of an earlier replay."""
        end = NEVER if resume.fitted_to_us is None else resume.fitted_to_us
        base = self._add_point(resume.newest_at_us, resume.newest_value)
        stretch = Stretch(resume.newest_at_us, end, base, [resume.newest_at_us], [base])
        self.stretches.append(stretch)
        self.start_total = resume.newest_total

    def judged(self) -> Judged:
        """Return what became of the readings."""
        return collect(self)
