"""Molds come out of presses, and counters are read where they come and go."""

from datetime import datetime

from moldcare.acts.floor import pull_mold
from moldcare.demo.rounds import read_now
from moldcare.demo.simulation import Simulation


def read_ends(sim: Simulation, *, press: str, number: str, now: datetime) -> None:
    """Read at a set or a pull: the mold's own counter, else the press's; often the press's too."""
    rng = sim.rng["habits"]
    machine = sim.plant.machines[press]
    own = sim.true(number).counter
    crew = sim.plant.crew
    doing = crew.technician(sim.rng["floor"], now, skills=frozenset())
    for counter in (own, machine.counter):
        if counter is None or (
            counter is machine.counter and own is not None and rng.random() < 0.5
        ):
            continue
        if rng.random() < 0.04:
            sim.missed += 1
            continue
        read_now(sim, counter=counter, doing=doing)


def take_out(sim: Simulation, *, press: str, now: datetime, note: str, to_bench: bool) -> str:
    """Pull the mold of a press, to a bench or to a rack; return its number."""
    machine = sim.plant.machines[press]
    machine.stop(now)
    number = sim.runs[press].mold
    rng = sim.rng["floor"]
    read_ends(sim, press=press, number=number, now=now)
    place = ("bench", str(rng.randrange(1, 5))) if to_bench else a_rack(sim)
    doing = sim.plant.crew.technician(rng, now, skills=frozenset())
    sim.acts += 1
    pull_mold(
        doing,
        mold=sim.mold(number),
        to=sim.plant.spots[place],
        at=now,
        last_shot_kept=rng.random() < 0.9,
        note=note,
    )
    machine.mold = None
    sim.places[number] = place
    del sim.runs[press]
    return number


def a_rack(sim: Simulation) -> tuple[str, str]:
    """Return one of the racks."""
    racks = [key for key in sim.plant.spots if key[0] == "rack"]
    return sim.rng["floor"].choice(sorted(racks))
