"""How many cycles are possible between two instants."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from fractions import Fraction

from moldcare.core.counting.values import UNKNOWN_CYCLE_US, PaceStep, RunningSpan

#: Cycles allowed beyond the pace: one just finished and one just begun when the clock was read.
SLACK_CYCLES = 2

_EVER = -(1 << 62)
_NEVER = 1 << 62


def shortest_cycle_us(standard_us: int, *, shortest_us: int | None = None) -> int:
    """Return the shortest believable cycle [us].

    Parameters
    ----------
    standard_us : int
        Standard cycle [us], above 0.
    shortest_us : int or None
        Shortest cycle set on the mold [us]; it wins.

    Returns
    -------
    int
        The shortest cycle set, else 0.85 of the standard cycle, at least 1 us.

    Examples
    --------
    >>> shortest_cycle_us(20_000_000)
    17000000
    """
    if shortest_us is not None:
        return max(1, shortest_us)
    return max(1, standard_us * 17 // 20)


class Pace:
    """Steps of the shortest cycle over time; before the first one it is 1 s a cycle."""

    __slots__ = ("_shortest", "_starts")

    def __init__(self, steps: Iterable[PaceStep] = ()) -> None:
        self._starts = [_EVER]
        self._shortest = [UNKNOWN_CYCLE_US]
        self.learn(steps)

    def learn(self, steps: Iterable[PaceStep]) -> None:
        """Take in steps; one at an instant already known replaces the older."""
        for step in steps:
            place = bisect_left(self._starts, step.from_us)
            if place < len(self._starts) and self._starts[place] == step.from_us:
                self._shortest[place] = step.shortest_us
            else:
                self._starts.insert(place, step.from_us)
                self._shortest.insert(place, step.shortest_us)

    def step_at(self, at_us: int) -> tuple[int, int]:
        """Return the shortest cycle from an instant on and the end of its step [us, us]."""
        place = bisect_right(self._starts, at_us)
        end = self._starts[place] if place < len(self._starts) else _NEVER
        return self._shortest[place - 1], end

    def cycles(self, from_us: int, to_us: int) -> Fraction:
        """Return the cycles that fit between two instants, without slack [cycles]."""
        starts = self._starts
        place = bisect_right(starts, from_us) - 1
        total = Fraction(0)
        while from_us < to_us:
            end = starts[place + 1] if place + 1 < len(starts) else to_us
            end = min(end, to_us)
            total += Fraction(end - from_us, self._shortest[place])
            from_us = end
            place += 1
        return total

    def possible(self, from_us: int, to_us: int) -> int:
        """Return the most cycles between two instants [cycles].

        Parameters
        ----------
        from_us, to_us : int
            Instants [us since 1970], in order.

        Returns
        -------
        int
            Real seconds over the shortest cycle, summed over its steps, plus 2, rounded down.

        Notes
        -----
        Instants are real time, so a night in which the clocks go back has its 9 hours.
        """
        shortest, end = self.step_at(from_us)
        if to_us <= end:
            return (to_us - from_us) // shortest + SLACK_CYCLES
        cycles = self.cycles(from_us, to_us)
        return cycles.numerator // cycles.denominator + SLACK_CYCLES


class Running:
    """Known running spans, joined where they touch."""

    __slots__ = ("_ends", "_starts")

    def __init__(self, spans: Iterable[RunningSpan] = ()) -> None:
        self._starts: list[int] = []
        self._ends: list[int] = []
        self.learn(spans)

    def learn(self, spans: Iterable[RunningSpan]) -> None:
        """Take in more spans; overlapping ones count once."""
        for span in spans:
            if span.to_us <= span.from_us:
                continue
            first = bisect_left(self._ends, span.from_us)
            last = bisect_right(self._starts, span.to_us, first)
            joined = (
                min([span.from_us, *self._starts[first : min(last, first + 1)]]),
                max([span.to_us, *self._ends[max(first, last - 1) : last]]),
            )
            self._starts[first:last] = [joined[0]]
            self._ends[first:last] = [joined[1]]

    def within(self, from_us: int, to_us: int) -> list[tuple[int, int]]:
        """Return the running stretches between two instants, in order."""
        first = bisect_right(self._ends, from_us)
        last = bisect_left(self._starts, to_us, first)
        return [
            (max(from_us, start), min(to_us, end))
            for start, end in zip(self._starts[first:last], self._ends[first:last], strict=True)
        ]

    def time_us(self, from_us: int, to_us: int) -> int:
        """Return the running time between two instants [us]."""
        return sum(end - start for start, end in self.within(from_us, to_us))

    def possible(self, from_us: int, to_us: int, *, pace: Pace) -> int:
        """Return the most cycles the known runs allow between two instants [cycles]."""
        cycles = sum(
            (pace.cycles(start, end) for start, end in self.within(from_us, to_us)), Fraction(0)
        )
        return cycles.numerator // cycles.denominator + SLACK_CYCLES


def last_tenth(value: int, *, wrap: int) -> bool:
    """Return whether a value lies in the last tenth before the counter starts again."""
    return value * 10 >= wrap * 9
