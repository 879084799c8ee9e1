"""How leads settle held readings: they look at the counter again and use what the page offers."""

from datetime import datetime, timedelta
from decimal import Decimal

from moldcare.acts.doing import Doing
from moldcare.acts.molds import change_cycle_time
from moldcare.acts.readings import (
    accept_reading,
    correct_reading,
    restart_from_reading,
    set_reading_aside,
)
from moldcare.core.counting import ProposalKind
from moldcare.core.counting.values import HoldReason
from moldcare.core.errors import DomainError
from moldcare.counters.doubts import Doubt, doubt_about
from moldcare.counters.models import Verdict
from moldcare.counters.queries import held_readings
from moldcare.demo.rounds import read_now
from moldcare.demo.simulation import Simulation
from moldcare.demo.truth import TrueCounter


def settle_held(sim: Simulation, now: datetime, *, share: float = 0.85) -> None:
    """Let the lead settle what is held; some of it waits for another day."""
    rng = sim.rng["held"]
    # what is decided about one reading may settle others of its counter: tomorrow shows it
    judged_again: set[int] = set()
    for place, verdict in enumerate(list(held_readings())):
        if verdict.reading.counter_id in judged_again or rng.random() > share:
            continue
        doing = sim.plant.crew.lead(now + timedelta(seconds=20 * place))
        sim.acts += 1
        try:
            if _settle(sim, verdict, doing=doing):
                judged_again.add(verdict.reading.counter_id)
        except DomainError:
            # somebody settled it with another one; the next morning shows what is left
            continue


def _settle(sim: Simulation, verdict: Verdict, *, doing: Doing) -> bool:
    """Settle one held reading; return whether others of its counter may be settled by that."""
    reading = verdict.reading
    label = reading.counter.label
    counter = _look_again(sim, label, doing.now)
    doubt = doubt_about(verdict)
    too_fast = verdict.reason == HoldReason.TOO_FAST
    if too_fast and counter is not None and reading.value <= counter.shown:
        sim.too_fast[label] = sim.too_fast.get(label, 0) + 1
    if doubt.stale_cycle_s is not None or sim.too_fast.get(label, 0) >= 3:
        sim.too_fast[label] = 0
        if _shorter_cycle(sim, label, doubt, doing=doing):
            return True
    settles_others = doubt.odd is not None
    if doubt.odd is not None:
        set_reading_aside(doing, reading=doubt.odd.reading, reason="looked again: it was misread")
    elif counter is None:
        set_reading_aside(doing, reading=reading, reason="counter is gone, cannot be checked")
    else:
        settles_others = _by_what_it_shows(doubt, shown=counter.shown, doing=doing)
    if counter is not None:
        later = Doing(person=doing.person, now=doing.now + timedelta(minutes=4))
        read_now(sim, counter=counter, doing=later)
    return settles_others


def _look_again(sim: Simulation, label: str, now: datetime) -> TrueCounter | None:
    for machine in sim.plant.machines.values():
        machine.advance(now)
        if machine.counter.label == label:
            return machine.counter
    for true in sim.plant.true_molds.values():
        if true.counter is not None and true.counter.label == label:
            return true.counter
    return None


def _by_what_it_shows(doubt: Doubt, *, shown: int, doing: Doing) -> bool:
    """Settle a reading by what its counter shows now, as somebody does who stands before it.

    Return whether the counter goes on from here, which settles what was read since.
    """
    reading = doubt.verdict.reading
    before = doubt.held.previous_value if doubt.held else None
    if before is not None and shown < before and reading.value <= shown:
        restart_from_reading(
            doing, reading=reading, reason="counter shows little: it was reset or exchanged"
        )
        return True
    slips = [
        each
        for each in doubt.proposals
        if each.kind is ProposalKind.SLIP
        and each.value is not None
        and each.value <= shown
        and (before is None or each.value >= before)
    ]
    after = doubt.held.next_value if doubt.held else None
    most = shown if after is None or after > shown else after
    if before is not None and before <= reading.value <= most:
        accept_reading(doing, reading=reading, reason="looked again: it is right")
    elif slips:
        correct_reading(
            doing,
            reading=reading,
            value=slips[0].value,
            reason="slip of the hand; the counter was looked at again",
        )
    else:
        set_reading_aside(doing, reading=reading, reason="misread; the counter was read again")
    return False


def _shorter_cycle(sim: Simulation, label: str, doubt: Doubt, *, doing: Doing) -> bool:
    """Correct a standard cycle that production has bettered: the press shows what it runs at."""
    number = next(
        (
            number
            for number, true in sim.plant.true_molds.items()
            if (true.counter is not None and true.counter.label == label)
            or (
                sim.places[number][0] == "press"
                and sim.plant.machines[sim.places[number][1]].counter.label == label
            )
        ),
        None,
    )
    if number is None or number not in sim.is_faster:
        return False
    sim.is_faster.discard(number)
    change_cycle_time(
        doing,
        mold=sim.mold(number),
        standard_s=Decimal(str(round(sim.true(number).cycle_s, 1))),
        valid_from=doubt.verdict.reading.at - timedelta(days=10),
        reason="the cycle was made shorter; the sheet was old",
    )
    return True
