"""Reading counters: the round of each shift, and at each set and pull."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from functools import partial

from moldcare.acts.doing import Doing
from moldcare.acts.readings import ReadingEntry, record_readings
from moldcare.core.errors import DomainError
from moldcare.core.shifts import Shift
from moldcare.demo.habits import Slip, Taken, swap_neighbors, take
from moldcare.demo.simulation import Simulation
from moldcare.demo.truth import Machine, TrueCounter

WRITING = timedelta(minutes=6)


def plan_round(sim: Simulation, shift: Shift) -> None:
    """Let somebody walk the round in a shift, mostly in its first two hours."""
    rng = sim.rng["rounds"]
    if sim.rounds_from is not None and shift.starts_at < sim.rounds_from and shift.name != "early":
        # the plant began with one round a day
        return
    # one round in forty slips to the end of the shift
    after = rng.uniform(380, 440) if rng.random() < 0.025 else rng.uniform(35, 110)
    when = shift.starts_at + timedelta(minutes=after)
    if when < min(shift.ends_at, sim.stop) - WRITING:
        sim.at(when, partial(walk, sim, shift.name))


def walk(sim: Simulation, shift_name: str, now: datetime) -> None:
    """Read press by press; a Monday's early shift reads the presses' own counters too."""
    rng = sim.rng["habits"]
    is_weekly = shift_name == "early" and sim.calendar.date_of(now).weekday() == 0
    rows: list[tuple[TrueCounter, Taken | None]] = []
    for number, machine in sim.plant.machines.items():
        if number not in sim.runs or machine.mold is None or number == sim.passed_over:
            continue
        machine.advance(now)
        for counter in _read_at(machine, is_weekly=is_weekly):
            taken = take(
                rng,
                rates=sim.rates,
                true_value=counter.shown,
                before=sim.last_noted.get(counter.label),
                now=now,
            )
            rows.append((counter, taken))
    lines = [taken for _counter, taken in rows]
    swap_neighbors(rng, rates=sim.rates, rows=lines)
    at_once: list[tuple[str, Taken]] = []
    for (counter, _old), taken in zip(rows, lines, strict=True):
        if taken is None:
            sim.missed += 1
        elif taken.delay:
            later = sim.in_shift(now + taken.delay)
            sim.at(later, partial(_hand_in_late, sim, counter.label, taken))
        else:
            at_once.append((counter.label, taken))
    hand_in(sim, doing=sim.plant.crew.on_shift(shift_name, now + WRITING), rows=at_once)


def _read_at(machine: Machine, *, is_weekly: bool) -> list[TrueCounter]:
    own = machine.mold.counter if machine.mold is not None else None
    if own is None:
        return [machine.counter]
    # a register that wraps within weeks is read whatever sits in the press
    return [own, machine.counter] if is_weekly or machine.spec.wrap else [own]


def _hand_in_late(sim: Simulation, label: str, taken: Taken, now: datetime) -> None:
    hand_in(sim, doing=sim.plant.crew.on_shift("early", now), rows=[(label, taken)], source="paper")


def read_now(sim: Simulation, *, counter: TrueCounter, doing: Doing) -> None:
    """Read one counter with care, as at a set, a pull or when a lead looks again."""
    at = doing.now.replace(second=0, microsecond=0)
    taken = Taken(value=counter.shown, at=at, true_value=counter.shown, slip=Slip.NONE)
    hand_in(sim, doing=doing, rows=[(counter.label, taken)])


def hand_in(
    sim: Simulation, *, doing: Doing, rows: Sequence[tuple[str, Taken]], source: str = "typed"
) -> None:
    """Hand readings in; what is refused at once is looked at again and typed right."""
    if not rows:
        return
    entries = [_entry(sim, label, taken, source=source) for label, taken in rows]
    sim.acts += 1
    try:
        answers = record_readings(doing, entries)
    except DomainError:
        if len(rows) > 1:
            for row in rows:
                hand_in(sim, doing=doing, rows=[row], source=source)
        elif rows[0][1].slip is not Slip.NONE:
            sim.refused += 1
            label, taken = rows[0]
            right = Taken(
                value=taken.true_value, at=taken.at, true_value=taken.true_value, slip=Slip.NONE
            )
            hand_in(sim, doing=doing, rows=[(label, right)], source=source)
        return
    # duplicates are answered where they stood, new ones after them
    by_key = {(answer.counter_id, answer.value): answer for answer in answers}
    for (label, taken), entry in zip(rows, entries, strict=True):
        answer = by_key[(entry.counter.pk, taken.value)]
        if answer.verdict != "duplicate":
            sim.note(
                answer.reading_id,
                counter=label,
                at=taken.at,
                value=taken.value,
                true=taken.true_value,
                slip=taken.slip,
            )


def _entry(sim: Simulation, label: str, taken: Taken, *, source: str) -> ReadingEntry:
    return ReadingEntry(
        counter=sim.plant.counters[label], at=taken.at, value=taken.value, source=source
    )
