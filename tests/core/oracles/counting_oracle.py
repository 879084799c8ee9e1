"""The slow, obvious way to judge one counter: everything is looked at afresh after every event.

Nothing is cached. One pass walks all held readings after each change, in arrival order, and
starts again from the earliest whenever one is accepted.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from moldcare.core.counting.values import (
    CounterSetup,
    Decision,
    DecisionKind,
    Event,
    Fitted,
    HoldReason,
    PaceKnown,
    PaceStep,
    Readings,
    Removed,
    RunningKnown,
    RunningSpan,
    State,
)

SECOND = 1_000_000


@dataclass
class Point:
    """A reading, a value shown at fitting, or a last value at removal."""

    arrival: tuple[int, int]
    at: int
    value: int
    kind: str = "reading"
    state: State = State.HELD
    reason: HoldReason = HoldReason.NONE
    cycles: int = 0
    counts: tuple[int, ...] | None = None
    decision: Decision | None = None
    is_future: bool = False
    is_late: bool = False
    fitting: Fitting | None = None
    accepted_as: int = 0


@dataclass(eq=False)
class Fitting:
    """From when to when the counter was fitted."""

    start: float
    end: float
    base: Point | None = None


@dataclass
class CounterOracle:
    """One counter and all that is known about it so far."""

    wrap: int | None
    steps: list[PaceStep] = field(default_factory=list)
    runs: list[RunningSpan] | None = None
    points: list[Point] = field(default_factory=list)
    fittings: list[Fitting] = field(default_factory=list)
    pseudo_points: int = 0
    acceptances: int = 0

    # How many cycles are possible.

    def shortest_at(self, at: float) -> int:
        known = [step for step in self.steps if step.from_us <= at]
        if not known:
            return SECOND
        return max(known, key=lambda step: step.from_us).shortest_us

    def time_and_pace(self, start: int, end: int) -> list[tuple[int, int]]:
        cuts = sorted({start, end, *(s.from_us for s in self.steps if start < s.from_us < end)})
        return [(b - a, self.shortest_at(a)) for a, b in neighbours_of(cuts)]

    def possible(self, start: int, end: int) -> int:
        return whole_cycles(self.time_and_pace(start, end)) + 2

    def run_possible(self, start: int, end: int) -> tuple[int, int]:
        edges = {start, end}
        for run in self.runs or []:
            edges |= {edge for edge in (run.from_us, run.to_us) if start < edge < end}
        cuts = sorted(edges)
        pieces, time = [], 0
        for a, b in neighbours_of(cuts):
            if any(run.from_us <= a and b <= run.to_us for run in self.runs or []):
                pieces += self.time_and_pace(a, b)
                time += b - a
        return whole_cycles(pieces) + 2, time

    def counts(self, before: Point, after: Point) -> tuple[int, ...]:
        most = self.possible(before.at, after.at)
        turns = 0
        if after.value < before.value:
            if self.wrap is None:
                return ()
            turns = 1
        first = after.value - before.value + turns * (self.wrap or 0)
        if first > most or first < 0:
            return ()
        if turns:
            is_near_end = before.value * 10 >= (self.wrap or 0) * 9
            explained = False
            if self.runs is not None:
                run_most, time = self.run_possible(before.at, after.at)
                explained = time > 0 and first <= run_most
            if not (is_near_end or explained):
                return ()
        found = [first]
        while self.wrap is not None and found[-1] + self.wrap <= most and len(found) < 50:
            found.append(found[-1] + self.wrap)
        if len(found) > 1 and self.runs is not None:
            run_most, _ = self.run_possible(before.at, after.at)
            makeable = [each for each in found if each <= run_most]
            likely = [each for each in makeable if each * 2 >= run_most]
            if len(makeable) == 1:
                return (makeable[0],)
            if len(makeable) > 1:
                return tuple(likely) if len(likely) == 1 else tuple(makeable)
        return tuple(found)

    # Where things are.

    def fitting_of(self, point: Point) -> Fitting | None:
        if point.kind != "reading" or point.state is State.ACCEPTED:
            return point.fitting
        begun = [each for each in self.fittings if each.start <= point.at]
        if not begun:
            return None
        latest = max(begun, key=lambda each: each.start)
        return latest if point.at <= latest.end else None

    def fittings_to_try(self, point: Point) -> list[Fitting]:
        fitting = self.fitting_of(point)
        if fitting is None:
            return []
        if point.kind == "reading" and fitting.start == point.at:
            for older in self.fittings:
                if older.end == point.at and older is not fitting:
                    if fitting.base is not None and fitting.base.value == point.value:
                        return [fitting, older]
                    return [older, fitting]
        return [fitting]

    def accepted(self, fitting: Fitting) -> list[Point]:
        found = [
            each
            for each in self.points
            if each.state is State.ACCEPTED and self.fitting_of(each) is fitting
        ]
        return sorted(found, key=lambda each: (each.at, each.accepted_as))

    def neighbours(self, point: Point, fitting: Fitting) -> tuple[Point | None, Point | None]:
        others = [each for each in self.accepted(fitting) if each is not point]
        place = (point.at, float("inf"))
        if point.state is State.ACCEPTED:
            place = (point.at, point.accepted_as)
        before = [each for each in others if (each.at, each.accepted_as) <= place]
        after = [each for each in others if (each.at, each.accepted_as) > place]
        return (before[-1] if before else None), (after[0] if after else None)

    # Judging one.

    def try_to_accept(self, point: Point) -> bool:
        if point.is_future:
            point.reason = HoldReason.CLOCK_IS_OFF
            return False
        point.reason = self.why_not(point)
        return point.reason is HoldReason.NONE

    def accept(
        self,
        point: Point,
        cycles: int,
        counts: tuple[int, ...] | None,
    ) -> HoldReason:
        if point.state is not State.ACCEPTED:
            self.acceptances += 1
            point.accepted_as = self.acceptances
        point.state = State.ACCEPTED
        point.cycles = cycles
        point.counts = counts if counts is not None and len(counts) > 1 else None
        return HoldReason.NONE

    def why_not(self, point: Point) -> HoldReason:
        if self.wrap is not None and point.value >= self.wrap:
            return HoldReason.OUT_OF_RANGE
        reason = HoldReason.NOT_FITTED
        for fitting in self.fittings_to_try(point):
            reason = self.why_not_in(fitting, point)
            if reason is HoldReason.NONE:
                point.fitting = fitting
                break
        return reason

    def why_not_in(self, fitting: Fitting, point: Point) -> HoldReason:
        before, after = self.neighbours(point, fitting)
        if before is not None and before.at == point.at:
            if before.value != point.value:
                return HoldReason.CONTRADICTS
            return self.accept(point, 0, None)
        goes_on = after is not None and not is_kind(after, DecisionKind.RESTART)
        if before is None and not goes_on:
            return self.accept(point, 0, None)
        if before is None:
            assert after is not None
            if after.decision is not None and after.decision.kind is DecisionKind.TURNS:
                turned = after.value + after.decision.turns * (self.wrap or 0) - point.value
                right: tuple[int, ...] = (turned,) if turned >= 0 else ()
            else:
                right = self.counts(point, after)
            if not right:
                return HoldReason.DOES_NOT_FIT
            self.accept(after, right[0], None if after.decision else right)
            return self.accept(point, 0, None)
        left = self.counts(before, point)
        if not left and point.value < before.value:
            return HoldReason.GOES_BACKWARDS
        if not left:
            return HoldReason.TOO_FAST
        if not goes_on:
            return self.accept(point, left[0], left)
        assert after is not None
        right = self.counts(point, after)
        is_open = bool(after.counts) and after.decision is None
        wholes = (self.counts(before, after) if is_open else ()) or (after.cycles,)
        for whole in wholes:
            for count in left:
                if whole >= count and (after.decision is not None or whole - count in right):
                    self.accept(after, whole - count, right if is_open else None)
                    return self.accept(point, count, left if is_open else None)
        return HoldReason.DOES_NOT_FIT

    def settle(self) -> None:
        while any(
            self.try_to_accept(each)
            for each in sorted(self.points, key=lambda each: each.arrival)
            if each.state is State.HELD
        ):
            pass

    # Events.

    def read(self, point: Point) -> None:
        newest = [each.at for each in self.points if each.state is State.ACCEPTED]
        point.is_late = bool(newest) and point.at < max(newest)
        self.points.append(point)
        self.settle()

    def pseudo(self, at: int, value: int, kind: str, fitting: Fitting) -> Point:
        self.pseudo_points += 1
        point = Point((1, self.pseudo_points), at, value, kind, fitting=fitting)
        self.points.append(point)
        return point

    def learn(self, event: Event) -> None:
        if isinstance(event, PaceKnown):
            for step in event.steps:
                self.steps = [each for each in self.steps if each.from_us != step.from_us]
                self.steps.append(step)
        elif isinstance(event, RunningKnown):
            self.runs = [*(self.runs or []), *event.spans]
            self.look_again_at_open_counts()
        elif isinstance(event, Decision):
            self.decide(event)
        elif isinstance(event, Fitted):
            self.fitted(event)
        elif isinstance(event, Removed):
            self.removed(event)
        self.settle()

    def look_again_at_open_counts(self) -> None:
        for fitting in self.fittings:
            for before, point in neighbours_of(self.accepted(fitting)):
                counts = self.counts(before, point)
                if point.counts is not None and point.decision is None and counts:
                    cycles = point.cycles if point.cycles in counts else counts[0]
                    self.accept(point, cycles, counts)

    def decide(self, decision: Decision) -> None:
        found = [
            each
            for each in self.points
            if each.kind == "reading" and each.arrival == (0, decision.reading_id)
        ]
        if not found or decision.reading_id > decision.after_reading:
            return
        point = found[0]
        if decision.kind is DecisionKind.SET_ASIDE:
            was_accepted = point.state is State.ACCEPTED
            if was_accepted:
                self.take_out(point)
            point.state, point.decision, point.reason = State.SET_ASIDE, None, HoldReason.NONE
        elif decision.kind is DecisionKind.JUDGE_ANEW:
            if point.state is State.SET_ASIDE:
                self.points.remove(point)
                point.state = State.HELD
                self.read(point)
        else:
            self.force(point, decision)

    def take_out(self, point: Point) -> None:
        fitting = self.fitting_of(point)
        assert fitting is not None
        before, after = self.neighbours(point, fitting)
        if after is not None and before is None:
            self.accept(after, first_count(after), None)
        elif after is not None and not is_kind(after, DecisionKind.RESTART):
            self.bridge(before, after, after.cycles + point.cycles)
        point.state, point.cycles, point.counts = State.HELD, 0, None

    def bridge(self, before: Point | None, after: Point, whole: int) -> None:
        assert before is not None
        counts = self.counts(before, after)
        if is_kind(after, DecisionKind.TURNS):
            self.accept(after, max(0, whole), None)
        elif counts:
            cycles = whole if whole in counts else counts[0]
            self.accept(after, cycles, None if after.decision else counts)
        elif after.decision is not None and after.value >= before.value:
            self.accept(after, after.value - before.value, None)
        else:
            self.accept(after, max(0, whole), None)
            after.counts = ()

    def force(self, point: Point, decision: Decision) -> bool:
        fitting = self.fitting_of(point)
        if fitting is None or (decision.kind is DecisionKind.TURNS and self.wrap is None):
            return False
        before, after = self.neighbours(point, fitting)
        whole = after.cycles if after is not None else 0
        if point.state is State.ACCEPTED:
            whole += point.cycles
        elif (
            before is not None
            and before.kind != "base"
            and before.at == point.at
            and before.value != point.value
        ):
            whole += before.cycles
            before.state, before.cycles, before.counts = State.HELD, 0, None
            before.decision = None
            before, after = self.neighbours(point, fitting)
        point.decision = decision
        point.reason = HoldReason.NONE
        point.fitting = fitting
        cycles = 0
        if decision.kind is DecisionKind.RESTART:
            cycles = first_count(point)
        elif before is not None and decision.kind is DecisionKind.TURNS:
            cycles = max(0, point.value + decision.turns * (self.wrap or 0) - before.value)
        elif before is not None:
            counts = self.counts(before, point)
            cycles = counts[0] if counts else max(0, point.value - before.value)
        self.accept(point, cycles, None)
        if after is not None and not is_kind(after, DecisionKind.RESTART):
            self.bridge(point, after, whole - cycles)
        return True

    def fitted(self, event: Fitted) -> None:
        fitting = Fitting(event.at_us, float("inf"))
        later = [each.start for each in self.fittings if each.start > event.at_us]
        if later:
            fitting.end = min(later)
        for old in list(self.fittings):
            if old.start == event.at_us:
                fitting.end = old.end
                for point in self.points:
                    if point.fitting is old and point.kind == "last":
                        point.fitting = fitting
                        self.loosen(point)
                    elif point.fitting is old and point.kind == "base":
                        point.state = State.SET_ASIDE
                    elif self.fitting_of(point) is old:
                        self.loosen(point)
                self.fittings.remove(old)
            elif old.start < event.at_us < old.end:
                fitting.end = old.end
                for point in self.points:
                    if point.at <= event.at_us:
                        continue
                    if point.fitting is old and point.kind == "last":
                        point.fitting = fitting
                        self.loosen(point)
                    elif point.kind == "reading" and self.fitting_of(point) is old:
                        self.loosen(point)
                old.end = event.at_us
        self.fittings.append(fitting)
        if event.value_shown is not None:
            fitting.base = self.pseudo(event.at_us, event.value_shown, "base", fitting)
            fitting.base.state = State.ACCEPTED
        self.decide_again()

    def removed(self, event: Removed) -> None:
        begun = [each for each in self.fittings if each.start < event.at_us]
        same = [each for each in self.fittings if each.start == event.at_us]
        if not begun and not same:
            return
        fitting = max(begun, key=lambda each: each.start) if begun else same[0]
        for point in self.points:
            if point.kind == "last" and point.fitting is fitting:
                if point.state is State.ACCEPTED:
                    self.take_out(point)
                point.state = State.SET_ASIDE
            elif point.at > event.at_us and self.fitting_of(point) is fitting:
                self.loosen(point)
        fitting.end = event.at_us
        if event.last_value is not None:
            self.pseudo(event.at_us, event.last_value, "last", fitting)
        self.decide_again()

    def loosen(self, point: Point) -> None:
        if point.state is State.ACCEPTED:
            point.state, point.cycles, point.counts = State.HELD, 0, None

    def decide_again(self) -> None:
        for point in sorted(self.points, key=lambda each: each.arrival):
            if point.decision is None or point.state is not State.HELD:
                continue
            if not self.force(point, point.decision):
                point.decision = None

    def totals(self) -> dict[int, int]:
        """Return the running total at each accepted reading, by arrival number [cycles]."""
        total, found = 0, {}
        for fitting in sorted(self.fittings, key=lambda each: each.start):
            for point in self.accepted(fitting):
                total += point.cycles
                if point.kind == "reading":
                    found[point.arrival[1]] = total
        return found


def neighbours_of(row: list[Any]) -> list[tuple[Any, Any]]:
    return [(row[place], row[place + 1]) for place in range(len(row) - 1)]


def whole_cycles(pieces: list[tuple[int, int]]) -> int:
    """Add up stretches of time, each over its shortest cycle, as fractions; round down."""
    top, bottom = 0, 1
    for time, shortest in pieces:
        top, bottom = top * shortest + time * bottom, bottom * shortest
    return top // bottom


def is_kind(point: Point, kind: DecisionKind) -> bool:
    return point.decision is not None and point.decision.kind is kind


def first_count(point: Point) -> int:
    decision = point.decision
    if decision is None or decision.kind is not DecisionKind.RESTART:
        return 0
    return 0 if decision.base_value is None else max(0, point.value - decision.base_value)


def judge_slowly(
    readings: Readings,
    *,
    setup: CounterSetup,
    events: tuple[Event, ...] = (),
    pace: tuple[PaceStep, ...] = (),
    running: tuple[RunningSpan, ...] | None = None,
    clock_error_us: int = 300 * SECOND,
) -> CounterOracle:
    """Replay readings and events in the order in which they were written."""
    wrap = setup.rollover
    if wrap is None and setup.digits is not None:
        wrap = 10**setup.digits
    oracle = CounterOracle(wrap=wrap, runs=None if running is None else list(running))
    oracle.learn(PaceKnown(after_reading=0, steps=tuple(pace)))
    if not any(isinstance(event, Fitted) for event in events):
        oracle.fittings.append(Fitting(float("-inf"), float("inf")))
    queue: list[tuple[tuple[int, int, int], Point | Event]] = []
    for row, number in enumerate(readings.ids):
        written = readings.written_us
        point = Point((0, number), readings.at_us[row], readings.values[row])
        point.is_future = written is not None and point.at > written[row] + clock_error_us
        queue.append(((number, 0, 0), point))
    for row, event in enumerate(events):
        queue.append(((event.after_reading, 1, row), event))
    for _, step in sorted(queue, key=lambda each: each[0]):
        if isinstance(step, Point):
            oracle.read(step)
        else:
            oracle.learn(step)
    return oracle
