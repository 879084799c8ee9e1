"""What is really so in the simulated plant: counters, cycles, wear. People never see this."""

import math
from dataclasses import dataclass, field
from datetime import datetime
from random import Random

from moldcare.demo.catalog import MoldSpec, PressSpec

# how many intervals a mold lasts before a rule's fault shows: the median, and the spread of its
# logarithm. Invented, so that about one interval in twelve would not have lasted.
LIFE_MEDIAN = 1.9
LIFE_SPREAD = 0.42
CALENDAR_LIFE_MEDIAN = 3.0


@dataclass(slots=True)
class TrueCounter:
    """What a counter really shows."""

    label: str
    wrap: int
    shown: int

    def count(self, cycles: int) -> None:
        """Count closings; begin again at the wrap."""
        self.shown = (self.shown + cycles) % self.wrap


@dataclass(slots=True)
class Wear:
    """How far one rule's trouble has really gone since it was last cared for."""

    life_cycles: float
    life_days: float
    cycles_then: int
    then: datetime

    def used(self, *, cycles: int, now: datetime) -> float:
        """Return the part of its life that is used; from 1 on it has failed."""
        by_count = (cycles - self.cycles_then) / self.life_cycles
        by_time = (now - self.then).total_seconds() / 86_400 / self.life_days
        return max(by_count, by_time)


@dataclass(slots=True)
class TrueMold:
    """A mold as it really is."""

    spec: MoldSpec
    cycle_s: float
    cycles: int = 0
    dry_cycles: int = 0
    counter: TrueCounter | None = None
    wear: dict[int, Wear] = field(default_factory=dict)


@dataclass(slots=True)
class Machine:
    """A press, what it makes, and its counter."""

    spec: PressSpec
    counter: TrueCounter
    mold: TrueMold | None = None
    pace_s: float | None = None
    known_at: datetime | None = None
    rest: float = 0.0

    def advance(self, now: datetime) -> None:
        """Let the press run on to an instant; nothing happens while it stands."""
        if self.pace_s is not None and self.known_at is not None and now > self.known_at:
            made = (now - self.known_at).total_seconds() / self.pace_s + self.rest
            whole = math.floor(made)
            self.rest = made - whole
            self._close(whole)
        if self.known_at is None or now > self.known_at:
            self.known_at = now

    def _close(self, times: int) -> None:
        self.counter.count(times)
        if self.mold is not None:
            self.mold.cycles += times
            if self.mold.counter is not None:
                self.mold.counter.count(times)

    def close_dry(self, times: int) -> None:
        """Close without plastic: setting up."""
        self._close(times)
        if self.mold is not None:
            self.mold.dry_cycles += times

    def start(self, now: datetime, *, share_running: float) -> None:
        """Run from an instant on, standing a little now and then."""
        self.advance(now)
        if self.mold is not None:
            self.pace_s = self.mold.cycle_s / share_running

    def stop(self, now: datetime) -> None:
        """Stand from an instant on."""
        self.advance(now)
        self.pace_s = None


def new_wear(
    rng: Random,
    *,
    interval_cycles: float | None,
    interval_days: float | None,
    cycles: int,
    now: datetime,
) -> Wear:
    """Draw how long it lasts this time."""
    lasts = rng.lognormvariate(math.log(LIFE_MEDIAN), LIFE_SPREAD)
    by_time = rng.lognormvariate(math.log(CALENDAR_LIFE_MEDIAN), LIFE_SPREAD)
    return Wear(
        life_cycles=(interval_cycles or math.inf) * lasts,
        life_days=(interval_days or math.inf) * by_time,
        cycles_then=cycles,
        then=now,
    )


def true_grade(used: float) -> str:
    """Return the as-found grade that the real state gives: a third, three quarters, failed."""
    if used >= 1:
        return "failed"
    if used >= 0.75:
        return "heavy"
    return "light" if used >= 1 / 3 else "clean"
