"""The simulated plant in time: shifts, presses that run, and a queue of what happens next."""

import heapq
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from itertools import groupby
from random import Random
from typing import Any

from moldcare.acts.refresh import refreshing_once
from moldcare.bulk import weigh_tables
from moldcare.core.shifts import Shift, ShiftCalendar
from moldcare.demo.habits import Rates, Slip
from moldcare.demo.masters import Plant
from moldcare.demo.truth import Machine, TrueMold
from moldcare.molds.models import Mold

Do = Callable[[datetime], None]

# after so many groups of shifts the tables have grown by much
WEIGHED_AT = frozenset({4, 12, 40, 120, 400})


@dataclass(frozen=True, kw_only=True, slots=True)
class LoggedReading:
    """A reading as it was handed in, and the truth behind it."""

    reading_id: int
    counter: str
    at: datetime
    value: int
    true_value: int
    slip: Slip


@dataclass(kw_only=True, slots=True)
class ActiveRun:
    """A mold in a press, and when it will really come out."""

    mold: str
    run_id: int
    planned_to: datetime
    ends_at: datetime


@dataclass(kw_only=True, slots=True)
class Streams:
    """Independent random numbers for each kind of thing, so that one does not move another."""

    seed: int
    known: dict[str, Random] = field(default_factory=dict)

    def __getitem__(self, name: str) -> Random:
        if name not in self.known:
            self.known[name] = Random(f"{self.seed}:{name}")
        return self.known[name]


@dataclass(kw_only=True, slots=True)
class Simulation:
    """Everything that moves.

    `places` are where molds are; `runs` by press; `planned` the next run of each press;
    `in_work` the molds that people work on; `busy_from`, `busy_to` the week in which planned work
    was pushed out.
    """

    plant: Plant
    calendar: ShiftCalendar
    rng: Streams
    rates: Rates
    start: datetime
    stop: datetime
    diligence: float = 0.92
    leaves_open: bool = False
    passed_over: str = ""
    rounds_from: datetime | None = None
    places: dict[str, tuple[str, str]] = field(default_factory=dict)
    runs: dict[str, ActiveRun] = field(default_factory=dict)
    planned: dict[str, ActiveRun] = field(default_factory=dict)
    wanted: dict[str, datetime] = field(default_factory=dict)
    in_work: set[str] = field(default_factory=set)
    share: dict[str, float] = field(default_factory=dict)
    was_reset: set[str] = field(default_factory=set)
    is_faster: set[str] = field(default_factory=set)
    too_fast: dict[str, int] = field(default_factory=dict)
    last_noted: dict[str, int] = field(default_factory=dict)
    log: list[LoggedReading] = field(default_factory=list)
    done_at: dict[int, tuple[datetime, int]] = field(default_factory=dict)
    refused: int = 0
    missed: int = 0
    acts: int = 0
    board: dict[int, list[Any]] = field(default_factory=dict)
    board_at: datetime | None = None
    busy_on: tuple[date, date] | None = None
    shift: Shift | None = None
    queue: list[tuple[datetime, int, Do]] = field(default_factory=list)
    pushed: int = 0

    def at(self, when: datetime, do: Do) -> None:
        """Let something happen at an instant."""
        self.pushed += 1
        heapq.heappush(self.queue, (when, self.pushed, do))

    def mold(self, number: str) -> Mold:
        """Return a mold's row."""
        return self.plant.molds[number]

    def true(self, number: str) -> TrueMold:
        """Return the truth about a mold."""
        return self.plant.true_molds[number]

    def machine_of(self, number: str) -> Machine | None:
        """Return the press that a mold is in."""
        kind, where = self.places[number]
        return self.plant.machines[where] if kind == "press" else None

    def known_now(self, number: str, now: datetime) -> TrueMold:
        """Return the truth about a mold as of now."""
        machine = self.machine_of(number)
        if machine is not None:
            machine.advance(now)
        return self.true(number)

    def is_busy(self, now: datetime) -> bool:
        """Whether an emergency pushes planned work out."""
        if self.busy_on is None:
            return False
        first, last = self.busy_on
        return first <= self.calendar.date_of(now) <= last

    def in_shift(self, when: datetime) -> datetime:
        """Return the instant, or a little into the next shift when nobody is there then."""
        if self.calendar.shift_at(when) is not None:
            return when
        following = self.calendar.nth_shift_start_after(when)
        return (following or when) + timedelta(minutes=25)

    def go(
        self,
        *,
        by_shift: bool,
        daily_from: date,
        morning: Callable[["Simulation", datetime], None],
        shift_begins: Callable[["Simulation", Shift], None],
        watch: Callable[["Simulation", datetime], None] | None = None,
    ) -> None:
        """Let time pass to the end, deriving once a shift, or when somebody looks at the board.

        Without `by_shift` that is on every second Monday at first, daily from `daily_from` on.
        """
        shifts = self.calendar.shifts_between(self.start, self.stop)
        mornings_held: set[date] = set()
        for place, group in enumerate(_grouped(shifts, by_shift=by_shift, daily_from=daily_from)):
            if place in WEIGHED_AT:
                weigh_tables()
            if watch is not None:
                watch(self, group[0].starts_at)
            with refreshing_once():
                for shift in group:
                    self._until(shift.starts_at)
                    self._open(shift)
                    if shift is group[0] and shift.belongs_to not in mornings_held:
                        mornings_held.add(shift.belongs_to)
                        morning(self, max(self.start, shift.starts_at) + timedelta(minutes=10))
                    shift_begins(self, shift)
                    self._until(min(shift.ends_at, self.stop))
                    self._close(shift)
        with refreshing_once():
            self._until(self.stop)

    def _until(self, when: datetime) -> None:
        while self.queue and self.queue[0][0] <= when:
            at, _number, do = heapq.heappop(self.queue)
            do(at)

    def _open(self, shift: Shift) -> None:
        self.shift = shift
        rng = self.rng["production"]
        for number, machine in self.plant.machines.items():
            self.share[number] = rng.uniform(0.8, 0.98)
            if machine.mold is not None and number in self.runs:
                machine.start(max(shift.starts_at, self.start), share_running=self.share[number])

    def _close(self, shift: Shift) -> None:
        for machine in self.plant.machines.values():
            machine.stop(min(shift.ends_at, self.stop))
        self.shift = None

    def stand(self, press: str, *, from_at: datetime, minutes: float) -> None:
        """Let a press stand for some minutes."""
        machine = self.plant.machines[press]
        machine.stop(from_at)
        self.at(from_at + timedelta(minutes=minutes), lambda now: self.go_on(press, now))

    def go_on(self, press: str, now: datetime) -> None:
        """Let a press run again, if it has a mold and a shift is on."""
        machine = self.plant.machines[press]
        if machine.mold is None or self.shift is None or press not in self.runs:
            return
        if self.shift.starts_at <= now < self.shift.ends_at:
            machine.start(now, share_running=self.share.get(press, 0.9))

    def note(
        self, reading_id: int, *, counter: str, at: datetime, value: int, true: int, slip: Slip
    ) -> None:
        """Keep what was handed in."""
        self.last_noted[counter] = value
        if counter in self.was_reset and slip is Slip.NONE:
            self.was_reset.discard(counter)
            slip = Slip.COUNTER_RESET
        self.log.append(
            LoggedReading(
                reading_id=reading_id,
                counter=counter,
                at=at,
                value=value,
                true_value=true,
                slip=slip,
            )
        )


def _grouped(shifts: Sequence[Shift], *, by_shift: bool, daily_from: date) -> Iterable[list[Shift]]:
    if by_shift:
        return [[shift] for shift in shifts]

    def looked_on(shift: Shift) -> date:
        on = shift.belongs_to
        if on >= daily_from:
            return on
        return on - timedelta(days=on.toordinal() % 14)

    return [list(group) for _on, group in groupby(shifts, key=looked_on)]
