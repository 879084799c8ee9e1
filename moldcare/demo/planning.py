"""Production in the demo plant: which mold is wanted when, set, and pulled."""

from datetime import datetime, timedelta
from functools import partial

from moldcare.acts.counters import report_dry_cycles
from moldcare.acts.floor import OpenMatters, plan_run, set_mold
from moldcare.core.errors import DomainError
from moldcare.demo.care_work import after_pull, wants_bench
from moldcare.demo.catalog import CAMPAIGN, PHASE_OUT, SEASONAL, SPORADIC, STEADY
from moldcare.demo.simulation import ActiveRun, Simulation
from moldcare.demo.stays import read_ends, take_out
from moldcare.molds.models import Run

DAY = timedelta(days=1)
# days between two runs, days of a run
_PATTERN: dict[str, tuple[tuple[float, float], tuple[float, float]]] = {
    STEADY: ((1.5, 4), (40, 80)),
    CAMPAIGN: ((18, 40), (20, 38)),
    SPORADIC: ((50, 140), (4, 9)),
    SEASONAL: ((12, 30), (12, 26)),
    PHASE_OUT: ((30, 70), (4, 9)),
}


def first_wishes(sim: Simulation) -> None:
    """Say when each mold is first wanted."""
    rng = sim.rng["plan"]
    for number, true in sorted(sim.plant.true_molds.items()):
        first = {STEADY: 3.0, CAMPAIGN: 25.0}.get(true.spec.usage, 60.0)
        sim.wanted[number] = sim.start + timedelta(days=rng.uniform(0, first))


def next_wish(sim: Simulation, number: str, now: datetime) -> None:
    """Say when a mold that came out is wanted again."""
    rng = sim.rng["plan"]
    usage = sim.true(number).spec.usage
    gap, _run = _PATTERN[usage]
    wanted = now + timedelta(days=rng.uniform(*gap))
    if usage == SEASONAL and not 2 <= wanted.month <= 8:
        year = wanted.year + (wanted.month > 8)
        wanted = wanted.replace(year=year, month=2, day=rng.randrange(1, 25))
    if usage == PHASE_OUT and now > sim.start + (sim.stop - sim.start) * 0.45:
        wanted = sim.stop + timedelta(days=400)
    sim.wanted[number] = wanted


def plan_presses(sim: Simulation, now: datetime) -> None:
    """Plan what comes next into each press that is free, or will be in two days."""
    rng = sim.rng["plan"]
    for press, machine in sim.plant.machines.items():
        active = sim.runs.get(press)
        if press in sim.planned or (active and active.planned_to > now + 2 * DAY):
            continue
        number = _next_mold(sim, size=machine.spec.size, now=now)
        if number is None:
            continue
        begins = (active.planned_to if active else now) + timedelta(minutes=rng.randrange(90, 240))
        begins = max(sim.in_shift(begins), now)
        lasts = timedelta(days=rng.uniform(*_PATTERN[sim.true(number).spec.usage][1]))
        ends = _on_the_half_hour(sim.in_shift(begins + lasts))
        doing = sim.plant.crew.lead(now)
        cycles = int(lasts.total_seconds() * 0.66 / sim.true(number).cycle_s) // 100 * 100
        spot = sim.plant.spots[("press", press)]
        sim.acts += 1
        try:
            answer = plan_run(
                doing,
                mold=sim.mold(number),
                press=spot,
                planned_from=begins,
                planned_to=ends,
                planned_cycles=cycles,
            )
        except DomainError:
            continue
        # orders are finished: most runs go on past their plan, some end early
        slip = timedelta(days=max(-0.4, rng.gauss(0.3, 0.5)))
        run = ActiveRun(
            mold=number,
            run_id=answer.run_id,
            planned_to=ends,
            ends_at=sim.in_shift(max(ends + slip, begins + DAY)),
        )
        sim.planned[press] = run
        sim.at(begins, partial(set_planned, sim, press))


def _on_the_half_hour(when: datetime) -> datetime:
    return when.replace(minute=when.minute // 30 * 30, second=0, microsecond=0)


def _next_mold(sim: Simulation, *, size: str, now: datetime) -> str | None:
    taken = {run.mold for run in sim.planned.values()} | {run.mold for run in sim.runs.values()}
    waiting = [
        (wanted, number)
        for number, wanted in sim.wanted.items()
        if wanted <= now + DAY
        and number not in taken
        and number not in sim.in_work
        and sim.true(number).spec.size == size
        and sim.places[number][0] in {"rack", "bench"}
    ]
    return min(waiting)[1] if waiting else None


def set_planned(sim: Simulation, press: str, now: datetime) -> None:
    """Set the planned mold, or try again later while the press or the mold is not ready."""
    run = sim.planned.get(press)
    if run is None:
        return
    machine = sim.plant.machines[press]
    if sim.shift is None or machine.mold is not None or run.mold in sim.in_work:
        sim.at(sim.in_shift(now + timedelta(hours=5)), partial(set_planned, sim, press))
        return
    rng = sim.rng["floor"]
    number, mold = run.mold, sim.mold(run.mold)
    crew = sim.plant.crew
    doing = crew.technician(rng, now, skills=frozenset())
    sim.acts += 1
    spot = sim.plant.spots[("press", press)]
    planned = Run.objects.get(pk=run.run_id)
    try:
        set_mold(doing, mold=mold, press=spot, at=now, run=planned)
    except OpenMatters:
        lead = crew.lead(now)
        set_mold(
            lead,
            mold=mold,
            press=spot,
            at=now,
            run=planned,
            accepts_open="parts are promised; it is done at the next pull",
        )
    machine.advance(now)
    true = sim.true(number)
    machine.mold = true
    sim.places[number] = ("press", press)
    del sim.planned[press]
    begun = timedelta(days=0) if run.ends_at > now + DAY / 2 else DAY * 2
    run.ends_at = sim.in_shift(run.ends_at + begun)
    sim.runs[press] = run
    read_ends(sim, press=press, number=number, now=now)
    dry = rng.randrange(15, 90)
    machine.close_dry(dry)
    if sim.true(number).spec.owner == "C":
        sim.at(now + timedelta(minutes=70), partial(_report_dry, sim, number, dry, now))
    machine.start(now, share_running=sim.share.get(press, 0.9))
    sim.at(run.ends_at, partial(end_run, sim, press, number))


def _report_dry(sim: Simulation, number: str, dry: int, since: datetime, now: datetime) -> None:
    if sim.places[number][0] != "press":
        return
    doing = sim.plant.crew.technician(sim.rng["floor"], now, skills=frozenset())
    sim.acts += 1
    report_dry_cycles(doing, mold=sim.mold(number), from_at=since, to_at=now, cycles=dry)


def end_run(sim: Simulation, press: str, number: str, now: datetime) -> None:
    """Pull a mold at the end of its run."""
    run = sim.runs.get(press)
    if run is None or run.mold != number or run.ends_at > now:
        return
    if sim.shift is None:
        sim.at(sim.in_shift(now + timedelta(minutes=5)), partial(end_run, sim, press, number))
        return
    to_bench = wants_bench(sim, number)
    take_out(sim, press=press, now=now, note="", to_bench=to_bench)
    after_pull(sim, number, now)
    next_wish(sim, number, now)
