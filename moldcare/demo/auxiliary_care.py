"""Care of what is beside the molds in the demo plant: looked over when the board says so."""

from datetime import datetime, timedelta
from functools import partial

from moldcare.acts.ordering import make_orders
from moldcare.acts.signing import SignedFrom, TaskResult, sign_order
from moldcare.care.models import Standing
from moldcare.demo.board import DAY
from moldcare.demo.simulation import Simulation
from moldcare.work.models import Order
from moldcare.work.queries import lines_of

# most are found in order; what was not is set right at once
GRADES = ("clean",) * 5 + ("light",) * 3 + ("heavy",)
# how long a busy plant leaves what is due, as a chance a morning
DONE_THIS_MORNING = 0.25


def look_after_auxiliaries(sim: Simulation, now: datetime) -> None:
    """Hand out what is due at auxiliaries, on some mornings, and have it signed on the same day."""
    if sim.is_busy(now):
        return
    rng = sim.rng["auxiliaries"]
    due = Standing.objects.filter(auxiliary__isnull=False, due_at__lte=now + DAY)
    for row in due.order_by("rule_id"):
        is_open = Order.objects.filter(
            auxiliary=row.auxiliary_id, signed_at__isnull=True, struck_out_at__isnull=True
        ).exists()
        if is_open or rng.random() > DONE_THIS_MORNING:
            continue
        sim.acts += 1
        made = make_orders(
            sim.plant.crew.lead(now), rules=[row.rule_id], why={row.rule_id: "due by the calendar"}
        )
        order = Order.objects.get(number=made.numbers[0])
        sim.at(
            sim.in_shift(now + timedelta(minutes=rng.randrange(60, 400))),
            partial(_sign, sim, order.pk),
        )


def _sign(sim: Simulation, order_pk: int, now: datetime) -> None:
    rng = sim.rng["auxiliaries"]
    order = Order.objects.get(pk=order_pk)
    doing = sim.plant.crew.technician(rng, now, skills=frozenset())
    sim.acts += 1
    sign_order(
        doing,
        order=order,
        signer=doing.person,
        minutes=rng.randrange(12, 35),
        results={
            line.pk: TaskResult(outcome="done", grade=rng.choice(GRADES))
            for line in lines_of(order)
        },
        source=SignedFrom.PAPER,
    )
