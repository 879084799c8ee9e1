"""What a person's decision about one reading does to the points around it."""

from __future__ import annotations

from bisect import bisect_right

from moldcare.core.counting.placing import (
    ACCEPTED,
    EVER,
    NEVER,
    SET_ASIDE,
    Placing,
    Stretch,
)
from moldcare.core.counting.values import Decision, DecisionKind, HoldReason, Note


class Deciding(Placing):
    """Points that are accepted, set aside or restarted by decision."""

    def _decide(self, decision: Decision) -> None:
        if self.place_of is None:
            self.place_of = {each: place for place, each in enumerate(self.readings.ids)}
        place = self.place_of.get(decision.reading_id)
        if place is None or decision.reading_id > decision.after_reading:
            self.void.append(decision)
            return
        if decision.kind is DecisionKind.SET_ASIDE:
            was_accepted = self.states[place] == ACCEPTED
            if was_accepted:
                self._take_out(place)
            self.states[place] = SET_ASIDE
            self.reasons.pop(place, None)
            self.rules.pop(place, None)
            self.notes[place] = 0
            return
        if decision.kind is DecisionKind.JUDGE_ANEW:
            if self.states[place] == SET_ASIDE:
                self._judge_as_new(place)
            else:
                self.void.append(decision)
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
        self._wake_between(low, high)

    def _find(self, place: int) -> tuple[Stretch, int]:
        stretch = next(each for each in self.stretches if place in each.points)
        return stretch, stretch.points.index(place)

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
        if self.states[place] == ACCEPTED:
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
        self.states[place] = ACCEPTED
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
