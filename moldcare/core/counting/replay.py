"""The replay of one counter: readings and events in the order in which they were written."""

from __future__ import annotations

from bisect import bisect_right

from moldcare.core.counting.deciding import Deciding
from moldcare.core.counting.outcome import collect
from moldcare.core.counting.pace import Running
from moldcare.core.counting.placing import ACCEPTED, EVER, NEVER, SET_ASIDE, Stretch
from moldcare.core.counting.values import (
    Decision,
    Event,
    Fitted,
    HoldReason,
    Judged,
    Note,
    PaceKnown,
    Removed,
    Resume,
)


class Replay(Deciding):
    """State of a replay, moved on by readings and events."""

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
        self._judge_as_new(place)
        self._settle()

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
        for point in [each for each in self.choices if each not in self.rules]:
            stretch, spot = self._find(point)
            counts = self._counts(stretch.points[spot - 1], point)
            if counts:
                count = self.cycles[point]
                count = count if count in counts else counts[0]
                self._count(point, stretch, spot, count, counts)

    def _add_point(self, at_us: int, value: int) -> int:
        self.at_us.append(at_us)
        self.values.append(value)
        self.states.append(ACCEPTED)
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
            self.last_values[point] = (stretch, event)
            self._hold(point, HoldReason.DOES_NOT_FIT)
        self._judge_again(loose)

    def _drop_last_value(self, stretch: Stretch) -> None:
        for point in [each for each, (owner, _) in self.last_values.items() if owner is stretch]:
            if point in stretch.points:
                self._take_out(point)
            self.states[point] = SET_ASIDE
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
