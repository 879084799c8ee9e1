"""The last days before today: what lies open on the board when somebody first opens the demo."""

from datetime import datetime, timedelta

from moldcare.acts.floor import change_run, note_condition
from moldcare.acts.ordering import make_orders
from moldcare.acts.orders import begin, hold_up, write_order
from moldcare.acts.refresh import refreshing_once
from moldcare.acts.rules import defer_rule
from moldcare.care.models import Standing
from moldcare.core.errors import DomainError
from moldcare.demo.habits import Slip, Taken
from moldcare.demo.rounds import hand_in
from moldcare.demo.simulation import Simulation
from moldcare.molds.models import Run
from moldcare.work.models import Order, OrderState

# the last look back: from then on some things are left for whoever opens the demo
OPEN_FOR = timedelta(hours=26)
COMING_DOWN_MIN = (165, 300, 405)


def is_left_open(sim: Simulation, now: datetime) -> bool:
    """Whether it is the last morning, which leaves its work to the visitor."""
    return sim.leaves_open and now > sim.stop - OPEN_FOR / 4


def plan_last_days(sim: Simulation) -> None:
    """Let a press be passed over in the last rounds, and a deferral end with yesterday."""
    sim.leaves_open = True
    sim.at(sim.in_shift(sim.stop - timedelta(days=3)), lambda now: _defer_until_today(sim, now))
    sim.at(sim.stop - timedelta(hours=42), lambda now: _pass_over(sim, now))


def _pass_over(sim: Simulation, now: datetime) -> None:
    running = sorted(sim.runs)
    if running:
        sim.passed_over = sim.rng["finish"].choice(running)


def _defer_until_today(sim: Simulation, now: datetime) -> None:
    """Defer a bench rule of a mold that will still run today; nobody pulls it in time."""
    lasting = sorted(
        run.mold
        for run in sim.runs.values()
        if run.ends_at > sim.stop + timedelta(days=1) and run.mold not in sim.in_work
    )
    keys = [sim.mold(number).pk for number in lasting]
    row = (
        Standing.objects.filter(mold__in=keys, rule__where_done="bench")
        .filter(deferred_from_at__isnull=True)
        .order_by("-share", "rule_id")
        .first()
    )
    if row is None:
        return
    rule = sim.plant.rules[row.rule_id]
    sim.acts += 1
    defer_rule(
        sim.plant.crew.lead(now),
        rule=rule,
        reason="the order must be finished first",
        until_on=sim.calendar.date_of(sim.stop),
    )
    for run in sim.runs.values():
        if run.mold == next(n for n in lasting if sim.mold(n).pk == row.mold_id):
            run.ends_at = max(run.ends_at, sim.stop + timedelta(days=2))


def finish(sim: Simulation) -> None:
    """Put the last touches to the morning: what comes down today, and orders in every state."""
    now = sim.stop
    lead = sim.plant.crew.lead(now)
    with refreshing_once():
        today = sim.calendar.shift_at(now)
        running = list(sim.runs.values())
        running.sort(key=lambda run: (run.ends_at, run.mold))
        if today is not None:
            for run, minutes in zip(running, COMING_DOWN_MIN, strict=False):
                _bring_down(sim, run.run_id, now + timedelta(minutes=minutes))
        _orders_in_every_state(sim, now)
        _two_mistyped(sim, now)
        _one_being_written(sim, now)
        for number, (kind, _where) in sorted(sim.places.items()):
            if kind == "bench":
                note_condition(
                    lead,
                    mold=sim.mold(number),
                    at=now,
                    condition="needs_work",
                    needs_next="trial",
                    note="after the work a first shot is to be looked at",
                )
                break


def _orders_in_every_state(sim: Simulation, now: datetime) -> None:
    """Let one order be begun, one held up and one handed out, where none is."""
    lead = sim.plant.crew.lead(now)
    open_orders = Order.objects.filter(signed_at=None, struck_out_at=None).order_by("number")
    states = {order.state for order in open_orders}
    taken = {order.mold_id for order in open_orders}
    order_of = {"bench": 0, "press": 1}
    free = sorted(
        (order_of[kind], number)
        for number, (kind, _where) in sim.places.items()
        if kind in order_of and sim.mold(number).pk not in taken
    )
    for wanted in (OrderState.BEGUN, OrderState.HELD_UP, OrderState.HANDED_OUT):
        if wanted in states or not free:
            continue
        _place, number = free.pop(0)
        rules = Standing.objects.filter(mold=sim.mold(number)).order_by("-share", "rule_id")
        made = make_orders(lead, rules=[row.rule_id for row in rules[:2]])
        order = Order.objects.get(number=made.numbers[0])
        if wanted is OrderState.BEGUN:
            begin(lead, order=order)
        elif wanted is OrderState.HELD_UP:
            hold_up(lead, order=order, by="spring set, comes Thursday")


def _two_mistyped(sim: Simulation, now: datetime) -> None:
    """Let the morning's round end with two readings that somebody has to look at."""
    doing = sim.plant.crew.on_shift("early", now)
    able = sorted(run.mold for run in sim.runs.values() if sim.true(run.mold).counter)
    for number in able[:2]:
        counter = sim.known_now(number, now).counter
        if counter is None or counter.shown < 1000:
            continue
        digits = str(counter.shown)
        taken = Taken(
            value=int(digits[:-2] + digits[-1]),
            at=now.replace(second=0, microsecond=0),
            true_value=counter.shown,
            slip=Slip.DIGIT_MISSING,
        )
        hand_in(sim, doing=doing, rows=[(counter.label, taken)])


def _bring_down(sim: Simulation, run_id: int, ends_at: datetime) -> None:
    run = Run.objects.get(pk=run_id)
    ends = ends_at.replace(minute=ends_at.minute // 15 * 15, second=0, microsecond=0)
    try:
        change_run(
            sim.plant.crew.lead(sim.stop),
            run=run,
            press=run.press,
            planned_from=run.planned_from,
            planned_to=ends,
            planned_cycles=run.planned_cycles,
        )
    except DomainError:
        # another run of this mold is planned in that time
        return


def _one_being_written(sim: Simulation, now: datetime) -> None:
    taken = set(
        Order.objects.filter(signed_at=None, struck_out_at=None).values_list("mold_id", flat=True)
    )
    for run in sim.runs.values():
        mold = sim.mold(run.mold)
        if mold.pk in taken:
            continue
        rules = [rule for rule in sim.plant.rules_of[run.mold] if rule.name == "Wipe the vents"]
        doing = sim.plant.crew.technician(sim.rng["finish"], now, skills=frozenset())
        write_order(doing, mold=mold, rules=rules, note="burns seen on cavity 3, not urgent")
        return
