"""What goes wrong with molds: runs that stop, and what was at the bottom of it."""

from datetime import datetime, timedelta
from functools import partial

from moldcare.acts.floor import note_condition
from moldcare.acts.interruptions import report_interruption
from moldcare.acts.ordering import make_orders
from moldcare.acts.orders import add_tasks
from moldcare.core.shifts import Shift
from moldcare.demo.care import TROUBLE
from moldcare.demo.care_work import Job, after_pull, begin_order
from moldcare.demo.simulation import Simulation
from moldcare.demo.stays import take_out
from moldcare.work.models import Order


def look_for_trouble(sim: Simulation, shift: Shift) -> None:
    """Let runs stop in this shift whose wear has gone all the way."""
    rng = sim.rng["trouble"]
    for press, run in sorted(sim.runs.items()):
        if run.mold in sim.in_work:
            continue
        true = sim.true(run.mold)
        for rule_id, wear in true.wear.items():
            name = sim.plant.rules[rule_id].name
            if name not in TROUBLE:
                continue
            used = wear.used(cycles=true.cycles, now=shift.starts_at)
            # past the end of its life it shows sooner or later
            if used >= 1 and rng.random() < 0.02 * used:
                when = shift.starts_at + timedelta(minutes=rng.uniform(60, 330))
                sim.at(when, partial(_stop, sim, press, run.mold, rule_id))
                break


def _stop(sim: Simulation, press: str, number: str, rule_id: int, now: datetime) -> None:
    run = sim.runs.get(press)
    if run is None or run.mold != number or sim.shift is None or number in sim.in_work:
        return
    rng = sim.rng["trouble"]
    rule = sim.plant.rules[rule_id]
    finding, defect, mechanism = TROUBLE[rule.name]
    waiting, repair = rng.randrange(5, 45), rng.randrange(10, 70)
    at_press = rule.where_done == "press"
    ends = now + timedelta(minutes=waiting + repair)
    sim.plant.machines[press].stop(now)
    sim.in_work.add(number)

    def over(when: datetime) -> None:
        sim.in_work.discard(number)
        doing = sim.plant.crew.technician(rng, when, skills=frozenset())
        sim.acts += 1
        report_interruption(
            doing,
            mold=sim.mold(number),
            from_at=now,
            to_at=when,
            waiting_min=waiting,
            repair_min=repair,
            finding=finding,
            defect=defect,
            position=rng.choice(("cavity 1", "cavity 2", "parting line", "")),
            mechanism=mechanism,
            cause="interval too long for this resin" if rng.random() < 0.4 else "",
            action=f"{rule.name.lower()}" if at_press else "pulled for the bench",
            family_key=rule.family.key,
            grade="failed",
            scrap_pieces=rng.randrange(0, 60),
        )
        if sim.runs.get(press) is None or sim.runs[press].mold != number:
            return
        if not at_press:
            note_condition(
                doing,
                mold=sim.mold(number),
                at=when,
                condition="needs_work",
                note=finding,
            )
            take_out(sim, press=press, now=when, note=finding, to_bench=True)
            after_pull(sim, number, when)
            sim.wanted[number] = when + timedelta(days=rng.uniform(1, 4))
        _care(sim, number, rule_id, when)
        sim.go_on(press, when)

    sim.at(ends, over)


def _care(sim: Simulation, number: str, rule_id: int, now: datetime) -> None:
    """Order what the trouble asks for, in the order that there is or in a new one."""
    rule = sim.plant.rules[rule_id]
    lead = sim.plant.crew.lead(now)
    order = Order.objects.filter(
        mold=sim.mold(number), signed_at__isnull=True, struck_out_at__isnull=True
    ).first()
    if order is not None:
        if not order.tasks.filter(rule=rule, covered_by__isnull=True).exists():
            sim.acts += 1
            add_tasks(lead, order=order, rules=[rule], is_brought_forward=True)
        return
    if number in sim.in_work:
        return
    sim.acts += 1
    made = make_orders(lead, rules=[rule_id], why={rule_id: "the run stopped for it"})
    sim.in_work.add(number)
    found = Order.objects.get(number=made.numbers[0])
    bench = sim.places[number][0] == "bench"
    begin = sim.in_shift(now + timedelta(minutes=30))
    sim.at(begin, partial(begin_order, sim, Job(mold=number, order=found.pk, then_rack=bench), 0))
