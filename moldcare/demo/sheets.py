"""Working through an order: on the sheet step by step, or from paper, and signing it."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from moldcare.acts.doing import Doing
from moldcare.acts.sheet import StepWritten, leave_task, record_look, record_steps
from moldcare.acts.signing import Override, SignedFrom, TaskResult, sign_order
from moldcare.care.models import StepKind
from moldcare.demo.masters import interval_cycles
from moldcare.demo.photos import photo_of
from moldcare.demo.simulation import Simulation
from moldcare.demo.truth import new_wear, true_grade
from moldcare.work.convert import SheetStep
from moldcare.work.models import Order, OrderTask
from moldcare.work.queries import lines_of, sheet_of

# until then most work was typed in from paper; later tablets came
PAPER_UNTIL = 0.9
LEFT_REASONS = (
    "no time before the run goes on",
    "part is not here",
    "mold was needed in the press",
)
_VALUES: dict[str, tuple[float, float, int]] = {
    "µm": (12, 24, 0),
    "bar": (0.4, 2.2, 2),
    "l/min": (6.0, 9.8, 1),
    "mm": (0.01, 0.09, 3),
    "min": (10, 15, 0),
    "pieces": (2, 14, 0),
}


@dataclass(frozen=True, kw_only=True, slots=True)
class _Found:
    """How one line was found."""

    line: OrderTask
    used: float

    @property
    def grade(self) -> str:
        return true_grade(self.used)


def _found(sim: Simulation, number: str, lines: list[OrderTask], now: datetime) -> list[_Found]:
    true = sim.known_now(number, now)
    return [
        _Found(line=line, used=true.wear[line.rule_id].used(cycles=true.cycles, now=now))
        for line in lines
    ]


def begin_sheet(sim: Simulation, number: str, order_pk: int, now: datetime) -> int:
    """Begin an order, on the sheet once there are tablets; return how long it will take [min]."""
    rng = sim.rng["work"]
    order = Order.objects.get(pk=order_pk)
    lines = lines_of(order)
    own = [line for line in lines if line.covered_by_id is None]
    minutes = max(5, int(sum(line.rule.minutes for line in own) * rng.uniform(0.75, 1.35)))
    is_sheet = now > sim.start + (sim.stop - sim.start) * PAPER_UNTIL
    if not is_sheet or rng.random() < 0.15:
        return minutes
    doing = _worker(sim, lines, now)
    found = _found(sim, number, lines, now)
    grades = {each.line.pk: each.grade for each in found}
    photo = photo_of(sim, doing, rng) if rng.random() < 0.06 else None
    sim.acts += 1
    record_look(
        doing,
        order=order,
        grades=grades,
        photo=photo,
        without_photo="" if photo else "camera was not at hand",
    )
    steps = []
    sheet = sheet_of(order)
    many = max(1, len(sheet.steps))
    for place, step in enumerate(sheet.steps[1:], start=1):
        at = now + timedelta(minutes=minutes * place / many * 0.95)
        steps.append((at, _written(sim, number, step, at)))
    if steps:
        sim.at(
            steps[-1][0],
            lambda when: _write_steps(sim, doing, order_pk, [each for _at, each in steps], when),
        )
    return minutes


def _write_steps(
    sim: Simulation, doing: Doing, order_pk: int, steps: list[StepWritten], now: datetime
) -> None:
    sim.acts += 1
    later = Doing(person=doing.person, now=now)
    record_steps(later, order=Order.objects.get(pk=order_pk), steps=steps)


def _written(sim: Simulation, number: str, step: SheetStep, at: datetime) -> StepWritten:
    rng = sim.rng["work"]
    value, reason = "", ""
    match step.kind:
        case StepKind.VALUE if step.unit == "cycles":
            counter = sim.true(number).counter
            value = str(counter.shown if counter else sim.true(number).cycles)
        case StepKind.VALUE:
            low, high, places = _VALUES.get(step.unit, (1, 9, 1))
            value = str(Decimal(str(round(rng.uniform(low, high), places))))
        case StepKind.CHOICE:
            value = rng.choice(step.choices)
        case StepKind.PHOTO:
            value = "no camera at the press"
        case StepKind.POSITION:
            value = rng.choice(("none", "cavity 1", "cavity 2", "parting line, corner 3"))
        case _:
            pass
    return StepWritten(task=step.task, step=step.place, value=value, reason=reason, at=at)


def _worker(sim: Simulation, lines: list[OrderTask], now: datetime) -> Doing:
    skills = frozenset(line.rule.qualification for line in lines if line.rule.qualification)
    return sim.plant.crew.technician(sim.rng["work"], now, skills=skills)


def sign(sim: Simulation, number: str, order_pk: int, *, minutes: int, now: datetime) -> None:
    """Sign an order as done; what it completes begins to wear anew."""
    rng = sim.rng["work"]
    order = Order.objects.get(pk=order_pk)
    lines = lines_of(order)
    doing = _worker(sim, lines, now)
    found = _found(sim, number, lines, now)
    on_sheet = order.begun_at is not None
    left = _leave_one(sim, doing, order, [e for e in found if e.line.covered_by_id is None])
    results = {
        each.line.pk: TaskResult(
            outcome="" if on_sheet or each.line.covered_by_id else "done", grade=each.grade
        )
        for each in found
        if each.line.pk != left
    }
    if left is not None and not on_sheet:
        results[left] = TaskResult(outcome="left", reason=rng.choice(LEFT_REASONS))
    missing = {
        line.rule.qualification for line in lines if line.rule.qualification
    } - sim.plant.crew.skills[doing.person.username]
    sim.acts += 1
    lead = sim.plant.crew.people["lead"]
    sign_order(
        doing,
        order=order,
        signer=doing.person,
        minutes=minutes,
        results=results,
        source=SignedFrom.SHEET if on_sheet else SignedFrom.PAPER,
        override=Override(person=lead, reason="did it under my eyes") if missing else None,
    )
    gone = {each.line.pk for each in found if each.line.pk == left}
    gone |= {each.line.pk for each in found if each.line.covered_by_id in gone}
    for each in found:
        if each.line.pk not in gone:
            restart(sim, number, each.line.rule_id, now)


def _leave_one(sim: Simulation, doing: Doing, order: Order, own: list[_Found]) -> int | None:
    """Leave one of several tasks undone, now and then."""
    rng = sim.rng["work"]
    if len(own) < 2 or rng.random() >= 0.03:
        return None
    line = own[-1].line
    if order.begun_at is not None:
        sim.acts += 1
        leave_task(doing, task=line, reason=rng.choice(LEFT_REASONS))
    return line.pk


def restart(sim: Simulation, number: str, rule_id: int, now: datetime) -> None:
    """Let one rule's trouble begin from nothing, and remember the true count then."""
    rule = sim.plant.rules[rule_id]
    true = sim.known_now(number, now)
    true.wear[rule_id] = new_wear(
        sim.rng["wear"],
        interval_cycles=interval_cycles(rule),
        interval_days=rule.period_n,
        cycles=true.cycles,
        now=now,
    )
    sim.done_at[rule_id] = (now, true.cycles)
