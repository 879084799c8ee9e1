"""Counter rows as the core's columns and events."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime, timedelta
from decimal import Decimal

from moldcare.core.counting.pace import shortest_cycle_us
from moldcare.core.counting.values import (
    UNKNOWN_CYCLE_US,
    CounterSetup,
    Decision,
    DecisionKind,
    Event,
    Fitted,
    PaceKnown,
    PaceStep,
    Removed,
    RunningKnown,
    RunningSpan,
)
from moldcare.counters.models import Counter, CounterFitting, ReadingDecision
from moldcare.counters.run_events import RunEventRow
from moldcare.molds.models import CycleTime, RunEvent

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
MICROSECOND = timedelta(microseconds=1)


def microseconds(instant: datetime) -> int:
    """Return an instant as microseconds since 1970."""
    return (instant - EPOCH) // MICROSECOND


def instant_of(at_us: int) -> datetime:
    """Return the instant of microseconds since 1970."""
    return EPOCH + timedelta(microseconds=at_us)


def setup_of(counter: Counter) -> CounterSetup:
    """Return how far the counter counts."""
    return CounterSetup(rollover=counter.rollover, digits=counter.digits)


def shortest_us(cycle: CycleTime | None) -> int:
    """Return the shortest believable cycle by a dated cycle time [us]."""
    if cycle is None or (cycle.standard_s is None and cycle.shortest_s is None):
        return UNKNOWN_CYCLE_US
    shortest = None if cycle.shortest_s is None else _seconds_us(cycle.shortest_s)
    standard = UNKNOWN_CYCLE_US if cycle.standard_s is None else _seconds_us(cycle.standard_s)
    return shortest_cycle_us(standard, shortest_us=shortest)


def _seconds_us(seconds: Decimal) -> int:
    return int(seconds * 1_000_000)


class CycleTimes:
    """The dated cycle times of molds, to be asked as of an instant and as known by then."""

    def __init__(self, rows: Iterable[CycleTime]) -> None:
        self._of_mold: dict[int, list[CycleTime]] = defaultdict(list)
        for row in rows:
            self._of_mold[row.mold_id].append(row)

    def of(self, mold_id: int) -> Sequence[CycleTime]:
        """Return a mold's cycle times in the order in which they were written."""
        return self._of_mold.get(mold_id, ())

    def in_force(self, mold_id: int, *, at: datetime, known_by: int) -> CycleTime | None:
        """Return the cycle time in force at an instant, of those known by an arrival number."""
        best: CycleTime | None = None
        for row in self.of(mold_id):
            if row.after_reading > known_by or row.valid_from > at:
                continue
            if best is None or row.valid_from >= best.valid_from:
                best = row
        return best


def counter_events(
    *,
    fittings: Sequence[CounterFitting],
    decisions: Sequence[ReadingDecision],
    cycle_times: CycleTimes,
    run_events: Sequence[RunEventRow],
) -> list[Event]:
    """Return everything but readings that one counter's verdicts follow from.

    `run_events` are those of the molds and presses that the counter ever sat on. The list is in
    the order in which things were written: for one arrival number, what a mold is and where it
    sits comes before what somebody decided.
    """
    events: list[Event] = []
    for fitting in fittings:
        at_us = microseconds(fitting.at)
        if fitting.act == CounterFitting.Act.FITTED:
            events.append(
                Fitted(
                    after_reading=fitting.after_reading,
                    at_us=at_us,
                    value_shown=fitting.value_shown,
                )
            )
        else:
            events.append(
                Removed(
                    after_reading=fitting.after_reading,
                    at_us=at_us,
                    last_value=fitting.value_shown,
                )
            )
    for fitting in fittings:
        if fitting.act != CounterFitting.Act.FITTED:
            continue
        if fitting.mold_id is not None:
            events += _mold_pace(fitting.mold_id, cycle_times=cycle_times)
        elif fitting.press_id is not None:
            events += _press_pace(
                [row for row in run_events if row.press_id == fitting.press_id],
                cycle_times=cycle_times,
            )
    events += _running(fittings, run_events=run_events)
    events += [
        Decision(
            after_reading=row.after_reading,
            reading_id=row.reading_id,
            kind=DecisionKind(row.kind),
            turns=row.turns or 0,
        )
        for row in decisions
    ]
    return events


def _mold_pace(mold_id: int, *, cycle_times: CycleTimes) -> list[Event]:
    return [
        PaceKnown(
            after_reading=row.after_reading,
            steps=(PaceStep(from_us=microseconds(row.valid_from), shortest_us=shortest_us(row)),),
        )
        for row in cycle_times.of(mold_id)
    ]


def _press_pace(run_events: Sequence[RunEventRow], *, cycle_times: CycleTimes) -> list[Event]:
    """Return the steps of a press's counter: the pace follows the mold that is set.

    With no mold set a cycle takes 1 s and is nobody's.
    """
    events: list[Event] = []
    for row in run_events:
        at_us = microseconds(row.at)
        if row.act == RunEvent.Act.SET:
            cycle = cycle_times.in_force(row.mold_id, at=row.at, known_by=row.after_reading)
            step = PaceStep(from_us=at_us, shortest_us=shortest_us(cycle))
        else:
            step = PaceStep(from_us=at_us, shortest_us=UNKNOWN_CYCLE_US, is_dry=True)
        events.append(PaceKnown(after_reading=row.after_reading, steps=(step,)))
    for mold_id, from_at, to_at in stays_in_press(run_events):
        for cycle in cycle_times.of(mold_id):
            begins = max(cycle.valid_from, from_at)
            if to_at is not None and begins >= to_at:
                continue
            known = min(
                (row.after_reading for row in run_events if row.at == from_at),
                default=cycle.after_reading,
            )
            if cycle.after_reading > known or begins > from_at:
                step = PaceStep(from_us=microseconds(begins), shortest_us=shortest_us(cycle))
                events.append(
                    PaceKnown(after_reading=max(cycle.after_reading, known), steps=(step,))
                )
    return events


def _running(
    fittings: Sequence[CounterFitting], *, run_events: Sequence[RunEventRow]
) -> list[Event]:
    """Return the finished runs of what the counter sat on; one is known when its end is."""
    molds = {row.mold_id for row in fittings if row.mold_id}
    presses = {row.press_id for row in fittings if row.press_id}
    opened: dict[tuple[int, int], RunEventRow] = {}
    events: list[Event] = []
    for row in run_events:
        if row.mold_id not in molds and row.press_id not in presses:
            continue
        key = (row.mold_id, row.press_id)
        if row.act == RunEvent.Act.SET:
            opened[key] = row
        elif key in opened:
            begun = opened.pop(key)
            events.append(
                RunningKnown(
                    after_reading=max(row.after_reading, begun.after_reading),
                    spans=(
                        RunningSpan(from_us=microseconds(begun.at), to_us=microseconds(row.at)),
                    ),
                )
            )
    return events


def stays_in_press(
    run_events: Sequence[RunEventRow],
) -> list[tuple[int, datetime, datetime | None]]:
    """Return (mold, set at, pulled at or None) of events in the order of time."""
    stays: list[tuple[int, datetime, datetime | None]] = []
    open_at: dict[int, datetime] = {}
    for row in run_events:
        if row.act == RunEvent.Act.SET:
            open_at[row.mold_id] = row.at
        elif row.mold_id in open_at:
            stays.append((row.mold_id, open_at.pop(row.mold_id), row.at))
    stays += [(mold_id, at, None) for mold_id, at in open_at.items()]
    return sorted(stays, key=lambda stay: stay[1])
