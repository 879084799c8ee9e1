"""The verdicts on the counters that lives follow, judged once each."""

from __future__ import annotations

from moldcare.core.counting import (
    Course,
    course_of,
)
from moldcare.core.counting.values import Judged, RunningSpan
from moldcare.counters.convert import microseconds, stays_in_press
from moldcare.counters.counter_facts import CounterFacts
from moldcare.counters.derive import judge_stored

FAR_US = 1 << 62


class Judgements:
    """The verdicts on counters, judged when they are first asked for.

    Verdicts that are in `judged` already are taken from there, and new ones put there.
    """

    def __init__(self, facts: CounterFacts, *, judged: dict[int, Judged] | None = None) -> None:
        self._facts = facts
        self._judged = {} if judged is None else judged
        self._running: dict[int, list[RunningSpan]] = {}

    def of(self, counter_id: int) -> Judged:
        """Return the verdicts on one counter."""
        if counter_id not in self._judged:
            self._judged[counter_id] = judge_stored(counter_id, facts=self._facts)
        return self._judged[counter_id]

    def course(self, counter_id: int) -> Course:
        """Return the course of one counter."""
        return course_of(self.of(counter_id), running=self._runs(counter_id))

    def _runs(self, counter_id: int) -> list[RunningSpan]:
        """Return when what the counter sits on ran; a run that goes on has no end yet."""
        if counter_id not in self._running:
            events = self._facts.runs_of(counter_id)
            self._running[counter_id] = [
                RunningSpan(
                    from_us=microseconds(from_at),
                    to_us=FAR_US if to_at is None else microseconds(to_at),
                )
                for _mold, from_at, to_at in stays_in_press(events)
            ]
        return self._running[counter_id]
