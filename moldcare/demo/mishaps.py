"""What happens now and then: counters exchanged or reset, inserts swapped, cavities blocked."""

from collections.abc import Callable
from datetime import datetime, timedelta
from functools import partial

from moldcare.acts.corrections import correct_entry, take_back_completion
from moldcare.acts.counters import add_counter, exchange_counter
from moldcare.acts.floor import (
    Change,
    block_cavity,
    fit_component,
    free_cavity,
    note_change,
    take_out_component,
)
from moldcare.acts.molds import add_component
from moldcare.care.models import Completion
from moldcare.core.errors import DomainError
from moldcare.counters.models import Counter
from moldcare.demo.simulation import Simulation
from moldcare.demo.truth import TrueCounter
from moldcare.logbook.models import Entry
from moldcare.molds.models import Block, Cavity, Component, Position
from moldcare.molds.queries import component_in

# how often each thing happens in a year of a plant of this size [times]
YEARLY: dict[str, float] = {
    "exchange": 4,
    "quiet exchange": 1.5,
    "press reset": 3,
    "insert": 6,
    "block": 6,
    "shorter cycle": 1,
    "resin": 1,
    "correction": 3,
    "taken back": 1,
}


def plan_mishaps(sim: Simulation) -> None:
    """Spread them over the time that is simulated."""
    rng = sim.rng["mishaps"]
    years = (sim.stop - sim.start).days / 365
    size = len(sim.plant.molds) / 60
    does: dict[str, Callable[[Simulation, datetime], None]] = {
        "exchange": partial(_exchange, is_recorded=True),
        "quiet exchange": partial(_exchange, is_recorded=False),
        "press reset": _reset_press,
        "insert": _new_insert,
        "block": _block,
        "shorter cycle": _shorter_cycle,
        "resin": _other_resin,
        "correction": _correct,
        "taken back": _take_back,
    }
    for name, often in YEARLY.items():
        for _ in range(max(1, round(often * years * max(size, 0.35)))):
            when = sim.start + (sim.stop - sim.start) * rng.uniform(0.04, 0.97)
            sim.at(sim.in_shift(when), partial(_try, sim, does[name]))


def _try(sim: Simulation, do: Callable[[Simulation, datetime], None], now: datetime) -> None:
    sim.acts += 1
    try:
        do(sim, now)
    except DomainError:
        # what it was about moved meanwhile; such things happen another day
        return


def _exchange(sim: Simulation, now: datetime, *, is_recorded: bool) -> None:
    rng = sim.rng["mishaps"]
    able = [number for number, true in sorted(sim.plant.true_molds.items()) if true.counter]
    number = rng.choice(able)
    true = sim.known_now(number, now)
    old = true.counter
    if old is None:
        return
    if not is_recorded:
        # somebody screwed another one on and told nobody
        old.shown = rng.randrange(0, 40)
        sim.was_reset.add(old.label)
        return
    doing = sim.plant.crew.lead(now)
    label = f"{old.label}-{rng.randrange(100, 999)}"
    add_counter(doing, label=label, digits=7)
    row = Counter.objects.get(label=label)
    exchange_counter(
        doing,
        old=sim.plant.counters[old.label],
        new=row,
        at=now,
        last_value=old.shown,
        value_shown=0,
        reason="actuator worn, counts were lost",
    )
    sim.plant.counters[label] = row
    true.counter = TrueCounter(label=label, wrap=10_000_000, shown=0)


def _reset_press(sim: Simulation, now: datetime) -> None:
    press = sim.rng["mishaps"].choice(sorted(sim.plant.machines))
    machine = sim.plant.machines[press]
    machine.advance(now)
    machine.counter.shown = 0
    sim.was_reset.add(machine.counter.label)


def _new_insert(sim: Simulation, now: datetime) -> None:
    rng = sim.rng["mishaps"]
    able = [
        number
        for number, true in sorted(sim.plant.true_molds.items())
        if "inserts" in true.spec.has and sim.places[number][0] != "press"
    ]
    if not able:
        return
    position = rng.choice(list(Position.objects.filter(mold=sim.mold(rng.choice(able)))))
    doing = sim.plant.crew.technician(rng, now, skills=frozenset())
    sits = component_in(position)
    if sits is not None:
        take_out_component(doing, component=sits, at=now, note="edge rounded")
    shelf = [
        each
        for each in Component.objects.order_by("serial")
        if (newest := each.fittings.order_by("-at", "-id").first()) and newest.position_id is None
    ]
    if shelf and rng.random() < 0.5:
        piece = rng.choice(shelf)
    else:
        serial = f"K-{sim.pushed:06d}"
        add_component(doing, serial=serial, name="core")
        piece = Component.objects.get(serial=serial)
    fit_component(doing, component=piece, position=position, at=now + timedelta(minutes=1))


def _block(sim: Simulation, now: datetime) -> None:
    rng = sim.rng["mishaps"]
    able = [run.mold for run in sim.runs.values() if sim.true(run.mold).spec.cavities >= 8]
    if not able:
        return
    number = rng.choice(sorted(able))
    cavity = rng.choice(list(Cavity.objects.filter(mold=sim.mold(number))))
    doing = sim.plant.crew.technician(rng, now, skills=frozenset())
    block_cavity(
        doing,
        cavity=cavity,
        at=now,
        reason=rng.choice(("flash that cannot be set away", "gate closed", "core pin broken")),
    )

    def free(when: datetime) -> None:
        if Block.objects.filter(cavity=cavity).latest("at").is_blocked:
            later = sim.plant.crew.technician(rng, when, skills=frozenset())
            free_cavity(later, cavity=cavity, at=when, note="repaired")

    when = sim.in_shift(now + timedelta(days=rng.uniform(6, 40)))
    sim.at(when, partial(_try, sim, lambda _sim, at: free(at)))


def _shorter_cycle(sim: Simulation, now: datetime) -> None:
    rng = sim.rng["mishaps"]
    number = rng.choice(sorted(run.mold for run in sim.runs.values()) or [""])
    if number:
        # production makes the cycle a quarter shorter and tells nobody
        sim.known_now(number, now).cycle_s *= 0.75
        sim.is_faster.add(number)


def _other_resin(sim: Simulation, now: datetime) -> None:
    rng = sim.rng["mishaps"]
    number = rng.choice(sorted(sim.plant.molds))
    doing = sim.plant.crew.technician(rng, now, skills=frozenset())
    text = "another maker's grade of the same resin from now on"
    note_change(doing, mold=sim.mold(number), at=now, change=Change.RESIN, text=text)


def _correct(sim: Simulation, now: datetime) -> None:
    entry = Entry.objects.filter(kind="order").order_by("-id").first()
    if entry is not None:
        correct_entry(
            sim.plant.crew.lead(now),
            entry=entry,
            sentence=f"{entry.sentence} It was cavity 3, not cavity 2.",
            reason="wrong cavity written down",
        )


def _take_back(sim: Simulation, now: datetime) -> None:
    row = (
        Completion.objects.filter(covering=None, taken_back=None, order_number__isnull=False)
        .order_by("-id")
        .first()
    )
    if row is not None:
        take_back_completion(
            sim.plant.crew.lead(now), completion=row, reason="signed on the wrong mold's order"
        )
