"""Care in the demo plant: what the lead sees in the morning, hands out, and what is then done."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial

from moldcare.acts.floor import move_mold
from moldcare.acts.ordering import make_orders
from moldcare.acts.orders import hold_up, strike_out
from moldcare.acts.rules import defer_rule
from moldcare.core.errors import DomainError
from moldcare.demo.board import DAY, Line
from moldcare.demo.sheets import begin_sheet, sign
from moldcare.demo.simulation import Simulation
from moldcare.demo.stays import a_rack, take_out
from moldcare.work.models import Order

# minutes of planned work that the people manage in a day
A_DAY_MIN = 2_000


HOLDS_UP = (
    "spring set, comes Thursday",
    "O-ring set, on order",
    "decision of the customer",
    "crane is under repair",
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Job:
    """An order that is being worked on; from a bench the mold goes to a rack afterwards."""

    mold: str
    order: int
    then_rack: bool


def hand_out_work(sim: Simulation, now: datetime) -> None:
    """Hand out the day's orders: what is due at presses, on the benches, and in the racks."""
    rng = sim.rng["staff"]
    left = 0 if sim.is_busy(now) else A_DAY_MIN
    for number in sorted(sim.places):
        if number in sim.in_work:
            continue
        lines = sim.board.get(sim.mold(number).pk, [])
        kind, _where = sim.places[number]
        if kind == "press":
            left -= _at_press(sim, number, lines, now=now, left=left)
        elif kind == "bench" and left > 0 and rng.random() < sim.diligence:
            left -= on_bench(sim, number, lines, now=now)
        elif kind == "rack" and left > 0:
            left -= _in_rack(sim, number, lines, now=now)


def _at_press(sim: Simulation, number: str, lines: list[Line], *, now: datetime, left: int) -> int:
    rng = sim.rng["staff"]
    in_press = [line for line in lines if line.where == "press" and line.reach != "plates"]
    due = [line for line in in_press if line.presses(now + DAY) and line.event != "end_of_run"]
    if due and left > 0 and rng.random() < sim.diligence:
        along = [line for line in in_press if line.presses(now + 4 * DAY)]
        begin = sim.in_shift(now + timedelta(minutes=rng.randrange(60, 700)))
        return _order(sim, number, along, now=now, begin=begin)
    worst = [line for line in lines if line.where != "press" and _is_late(line, now)]
    often = 0.87 if any(line.hard for line in worst) else 0.27
    if worst and rng.random() < often * sim.diligence:
        _pull_or_defer(sim, number, worst, now=now)
    return 0


def _is_late(line: Line, now: datetime) -> bool:
    if line.deferred_at is not None and not (line.past_at and line.past_at <= now):
        return False
    return bool(
        (line.overdue_at and line.overdue_at <= now) or (line.past_at and line.past_at <= now)
    )


def _pull_or_defer(sim: Simulation, number: str, worst: list[Line], *, now: datetime) -> None:
    rng = sim.rng["staff"]
    press = sim.places[number][1]
    run = sim.runs[press]
    if run.planned_to < now + 1.5 * DAY and not any(line.past_at for line in worst):
        return
    if rng.random() < (0.85 if sim.is_busy(now) else 0.3):
        for line in worst[:2]:
            _defer(sim, line, now=now)
        return

    def pull(when: datetime) -> None:
        active = sim.runs.get(press)
        if active is None or active.mold != number or sim.shift is None:
            return
        take_out(sim, press=press, now=when, note="pulled for care", to_bench=True)
        after_pull(sim, number, when)
        sim.wanted[number] = when + timedelta(days=rng.uniform(1, 3))

    sim.at(sim.in_shift(now + timedelta(minutes=rng.randrange(60, 500))), pull)


def _defer(sim: Simulation, line: Line, *, now: datetime) -> None:
    rng = sim.rng["staff"]
    rule = sim.plant.rules[line.rule_id]
    doing = sim.plant.crew.lead(now)
    until = sim.calendar.date_of(now) + timedelta(days=rng.randrange(4, 11))
    count = None
    if line.count is not None and rule.count_base:
        count = line.count + int(rule.count_base * rng.uniform(0.08, 0.2))
    reason = rng.choice(
        ("the order must be finished first", "no bench free before next week",
         "the spare part comes on Thursday", "customer waits; looked at, it still runs clean")
    )  # fmt: skip
    if sim.is_busy(now):
        reason = "all hands on the broken mold this week"
    sim.acts += 1
    defer_rule(doing, rule=rule, reason=reason, until_count=count, until_on=until)


def on_bench(sim: Simulation, number: str, lines: list[Line], *, now: datetime) -> int:
    """Hand out a bench order with what is due and what soon will be."""
    rng = sim.rng["staff"]
    work = [line for line in lines if line.presses(now + 25 * DAY) or line.share >= 0.85]
    if not work:
        _to_rack(sim, number, sim.in_shift(now + timedelta(minutes=90)))
        return 0
    begin = sim.in_shift(now + timedelta(minutes=rng.randrange(40, 500)))
    return _order(sim, number, work, now=now, begin=begin, then_rack=True)


def _in_rack(sim: Simulation, number: str, lines: list[Line], *, now: datetime) -> int:
    rng = sim.rng["staff"]
    due = [line for line in lines if line.due_at and line.due_at <= now]
    on_benches = sum(kind == "bench" for kind, _where in sim.places.values())
    if not due or on_benches >= 4 or rng.random() > 0.3:
        return 0
    work = [line for line in lines if line.presses(now + 25 * DAY)]
    when = now + timedelta(minutes=20)
    doing = sim.plant.crew.technician(rng, when, skills=frozenset())
    place = ("bench", str(rng.randrange(1, 5)))
    sim.acts += 1
    move_mold(doing, mold=sim.mold(number), to=sim.plant.spots[place], at=when)
    sim.places[number] = place
    begin = sim.in_shift(when + timedelta(minutes=rng.randrange(30, 300)))
    return _order(sim, number, work, now=now, begin=begin, then_rack=True)


def _order(
    sim: Simulation,
    number: str,
    lines: list[Line],
    *,
    now: datetime,
    begin: datetime,
    then_rack: bool = False,
) -> int:
    """Write and hand out an order, and let it be worked on; return its minutes."""
    doing = sim.plant.crew.lead(now)
    rules = [line.rule_id for line in lines]
    sim.acts += 1
    made = make_orders(doing, rules=rules, why={line.rule_id: _why(line, now) for line in lines})
    order = Order.objects.get(number=made.numbers[0])
    sim.in_work.add(number)
    minutes = sum(line.minutes for line in lines)
    sim.at(
        begin, partial(begin_order, sim, Job(mold=number, order=order.pk, then_rack=then_rack), 0)
    )
    return minutes


def _why(line: Line, now: datetime) -> str:
    if line.past_at and line.past_at <= now:
        return "past its limit"
    if line.due_at and line.due_at <= now:
        return "due"
    return "done along with what is due"


def begin_order(sim: Simulation, job: Job, tries: int, now: datetime) -> None:
    """Begin an order; an emergency or a missing part puts it off."""
    rng = sim.rng["work"]
    order = Order.objects.get(pk=job.order)
    if sim.is_busy(now) and tries < 6:
        sim.at(
            sim.in_shift(now + DAY),
            partial(begin_order, sim, job, tries + 1),
        )
        return
    drawn = rng.random()
    doing = sim.plant.crew.lead(now)
    if drawn < 0.012 and tries == 0:
        sim.acts += 1
        strike_out(doing, order=order, reason="written twice for the same stay")
        sim.in_work.discard(job.mold)
        return
    if job.then_rack and drawn < 0.06 and tries == 0:
        sim.acts += 1
        hold_up(doing, order=order, by=rng.choice(HOLDS_UP))
        when = sim.in_shift(now + timedelta(days=rng.uniform(1, 4)))
        sim.at(when, partial(begin_order, sim, job, 1))
        return
    minutes = begin_sheet(sim, job.mold, job.order, now)
    kind, where = sim.places[job.mold]
    if kind == "press":
        sim.stand(where, from_at=now, minutes=minutes)
    ends = sim.in_shift(now + timedelta(minutes=minutes))
    sim.at(ends, partial(_finish, sim, job, minutes))


def _finish(sim: Simulation, job: Job, minutes: int, now: datetime) -> None:
    try:
        sign(sim, job.mold, job.order, minutes=minutes, now=now)
    finally:
        sim.in_work.discard(job.mold)
    if job.then_rack and sim.places[job.mold][0] == "bench":
        _to_rack(sim, job.mold, sim.in_shift(now + timedelta(minutes=25)))


def _to_rack(sim: Simulation, number: str, when: datetime) -> None:
    def move(now: datetime) -> None:
        kind, _where = sim.places[number]
        if kind != "bench" or number in sim.in_work:
            return
        if sim.leaves_open and now > sim.stop - DAY:
            # today's board has something on the benches
            return
        place = a_rack(sim)
        doing = sim.plant.crew.technician(sim.rng["floor"], now, skills=frozenset())
        sim.acts += 1
        try:
            move_mold(doing, mold=sim.mold(number), to=sim.plant.spots[place], at=now)
        except DomainError:
            return
        sim.places[number] = place

    # set for a run meanwhile, it stays where it is
    sim.at(when, move)


def wants_bench(sim: Simulation, number: str) -> bool:
    """Whether something has to be done on a bench before the mold rests."""
    ahead = (sim.board_at or sim.start) + 25 * DAY
    lines = sim.board.get(sim.mold(number).pk, [])
    return any(
        line.where != "press" and (line.presses(ahead) or line.share >= 0.85) for line in lines
    )


def after_pull(sim: Simulation, number: str, now: datetime) -> None:
    """Order what a pull asks for: the quick inspection; at a bench it goes into the big order."""
    if number in sim.in_work:
        return
    rng = sim.rng["staff"]
    lines = sim.board.get(sim.mold(number).pk, [])
    bench = sim.places[number][0] == "bench"
    work = [
        line
        for line in lines
        if line.presses(now + 20 * DAY) and (bench or line.where == "press")
        and line.event != "set"
    ]  # fmt: skip
    looked = {line.name for line in work}
    ids = [line.rule_id for line in work]
    if "Inspect, quick" not in looked:
        ids += [r.pk for r in sim.plant.rules_of[number] if r.name == "Inspect, quick"]
    if sim.is_busy(now):
        return
    doing = sim.plant.crew.lead(now)
    sim.acts += 1
    made = make_orders(doing, rules=ids, why=dict.fromkeys(ids, "the run ended"))
    order = Order.objects.get(number=made.numbers[0])
    sim.in_work.add(number)
    begin = sim.in_shift(now + timedelta(minutes=rng.randrange(25, 500 if bench else 90)))
    sim.at(begin, partial(begin_order, sim, Job(mold=number, order=order.pk, then_rack=bench), 0))
