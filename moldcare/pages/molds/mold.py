"""What the page of one mold shows, in a number of queries that does not depend on its history."""

from dataclasses import dataclass, field
from datetime import datetime

from django.db.models import OuterRef, Subquery

from moldcare.care.models import Standing
from moldcare.care.set_queries import sets_behind
from moldcare.core.due import State
from moldcare.core.shifts import ShiftCalendar
from moldcare.core.water_map import WaterMap
from moldcare.counters.history import component_courses
from moldcare.counters.models import Counter, CounterFitting, Life
from moldcare.counters.queries import counters_on_now
from moldcare.logbook.models import Entry
from moldcare.molds.convert import RunSpan, run_spans_of
from moldcare.molds.models import (
    Cavity,
    Circuit,
    Component,
    ConditionNote,
    Configuration,
    CycleTime,
    MarkingPhoto,
    Mold,
    Move,
    Position,
    Run,
    RunEvent,
)
from moldcare.molds.queries import (
    blocked_cavities,
    circuits_with_items,
    components_in,
    condition_of,
    drawn_map,
    marking_of,
    modifications_of,
    place_of,
)
from moldcare.pages.molds.notices import Notice, notices_of, set_notices
from moldcare.pages.molds.water import WaterDrawing, drawing_of
from moldcare.pages.molds.words import count_marks, target_words
from moldcare.pages.rule_lines import WORST_FIRST, RuleLine, rule_line
from moldcare.plant.models import Spot
from moldcare.production.models import Interruption
from moldcare.work.models import Order
from moldcare.work.queries import unsigned_order_of

ENTRIES_SHOWN = 8
MODIFICATIONS_SHOWN = 5
RUNS_SHOWN = 6
# what an order is made of unless somebody ticks otherwise
TICKED = frozenset({State.DUE_SOON, State.DUE, State.OVERDUE, State.PAST_LIMIT})


@dataclass(frozen=True, kw_only=True, slots=True)
class MoldRule:
    """A rule's line on the mold's page."""

    line: RuleLine
    target: str
    is_ticked: bool

    @property
    def title(self) -> str:
        """The rule's name, with what it looks after where that is not the whole mold."""
        return f"{self.line.name} ({self.target})" if self.target else self.line.name


@dataclass(frozen=True, kw_only=True, slots=True)
class PositionLine:
    """A position, what sits in it, and that piece's counts."""

    position: Position
    component: Component | None
    cycles: int | None
    shots: int | None
    was_filled: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class CounterLine:
    """A counter that counts for the mold now."""

    counter: Counter
    press: Spot | None
    value: int | None
    read_at: datetime | None
    is_base_known: bool


@dataclass(kw_only=True, slots=True)
class MoldPage:
    """Everything that the page of a mold shows."""

    mold: Mold
    now: datetime
    place: Move | None
    condition: ConditionNote | None
    life: Life | None
    marks: list[str]
    cycle_time: CycleTime | None
    order: Order | None
    blocked: list[Cavity]
    positions: list[PositionLine]
    circuits: list[Circuit]
    water: WaterMap
    drawing: WaterDrawing
    configurations: list[Configuration]
    marking: MarkingPhoto | None
    modifications: list[Entry]
    counters: list[CounterLine]
    interruption: Interruption | None
    notices: list[Notice]
    planned: list[Run]
    runs: list[RunSpan]
    entries: list[Entry]
    pressing: list[MoldRule] = field(default_factory=list)
    folded: list[MoldRule] = field(default_factory=list)

    @property
    def spot(self) -> Spot | None:
        """Where it is."""
        return self.place.spot if self.place else None

    @property
    def is_in_press(self) -> bool:
        """Whether it is in a press."""
        return self.spot is not None and self.spot.kind == Spot.Kind.PRESS

    @property
    def parts_out(self) -> list[Position]:
        """Positions that were filled once and are empty."""
        return [line.position for line in self.positions if line.was_filled and not line.component]

    @property
    def active_cavities(self) -> int:
        """How many cavities run."""
        return self.mold.cavity_count - len(self.blocked)

    @property
    def worst(self) -> MoldRule | None:
        """The rule that presses most."""
        return self.pressing[0] if self.pressing else None

    @property
    def folded_from_at(self) -> datetime | None:
        """When the first of the rules that do not press will."""
        instants = [rule.line.when_at for rule in self.folded if rule.line.when_at]
        return min(instants, default=None)

    @property
    def rules_total(self) -> int:
        """How many rules the mold has."""
        return len(self.pressing) + len(self.folded)


def mold_page(mold: Mold, *, now: datetime, calendar: ShiftCalendar) -> MoldPage:
    """Read the page of a mold as it stands now."""
    place = place_of(mold)
    spot = place.spot if place else None
    life = Life.objects.filter(pk=mold.pk).first()
    cycle_time = CycleTime.objects.filter(mold=mold, valid_from__lte=now).order_by(
        "valid_from", "id"
    )
    newest_cycle = cycle_time.last()
    counters = _counters(mold, spot=spot)
    circuits = circuits_with_items(mold)
    water = drawn_map(circuits)
    interruption = (
        Interruption.objects.filter(mold=mold, to_at__isnull=True, end__isnull=True)
        .order_by("from_at")
        .first()
    )
    page = MoldPage(
        mold=mold,
        now=now,
        place=place,
        condition=condition_of(mold),
        life=life,
        marks=count_marks(life, now=now),
        cycle_time=newest_cycle,
        order=unsigned_order_of(mold=mold),
        blocked=blocked_cavities([mold.pk]).get(mold.pk, []),
        positions=_positions(mold),
        circuits=circuits,
        water=water,
        drawing=drawing_of(water),
        configurations=list(Configuration.objects.filter(mold=mold).order_by("id")),
        marking=marking_of(mold),
        modifications=list(modifications_of(mold)[:MODIFICATIONS_SHOWN]),
        counters=counters,
        interruption=interruption,
        notices=[
            *notices_of(life, cycle_time=newest_cycle, counters=len(counters), spot=spot),
            *set_notices(sets_behind(mold)),
        ],
        planned=_planned(mold),
        runs=_runs(mold),
        entries=list(Entry.objects.filter(chain=mold.chain_id).order_by("-number")[:ENTRIES_SHOWN]),
    )
    _fill_rules(page, calendar=calendar)
    return page


def _fill_rules(page: MoldPage, *, calendar: ShiftCalendar) -> None:
    """Put the rules on the page, the worst first; those that do not press are folded."""
    rows = Standing.objects.filter(mold=page.mold, rule__withdrawn_at__isnull=True)
    rows = rows.select_related("rule__family", "rule__position", "rule__circuit")
    rules = []
    for row in rows.order_by("rule_id"):
        line = rule_line(row, at=page.now, calendar=calendar)
        rules.append(
            MoldRule(
                line=line,
                target=target_words(row.rule),
                is_ticked=page.order is None and line.state in TICKED,
            )
        )
    rules.sort(key=_order)
    page.pressing = [rule for rule in rules if rule.line.is_pressing]
    page.folded = [rule for rule in rules if not rule.line.is_pressing]


def _order(rule: MoldRule) -> tuple[int, bool, float]:
    when = rule.line.when_at
    return (
        WORST_FIRST.index(rule.line.state),
        when is None,
        when.timestamp() if when else 0.0,
    )


def _positions(mold: Mold) -> list[PositionLine]:
    positions = list(Position.objects.filter(mold=mold).select_related("cavity").order_by("id"))
    if not positions:
        return []
    filled = components_in([position.pk for position in positions])
    used = set(
        Position.objects.filter(mold=mold, fittings__isnull=False).values_list("pk", flat=True)
    )
    courses = component_courses([piece.pk for piece in filled.values()])
    lines = []
    for position in positions:
        piece = filled.get(position.pk)
        course = courses.get(piece.pk) if piece else None
        lines.append(
            PositionLine(
                position=position,
                component=piece,
                cycles=course.cycles.newest_count if course else None,
                shots=course.shots.newest_count if course else None,
                was_filled=position.pk in used,
            )
        )
    return lines


def _counters(mold: Mold, *, spot: Spot | None) -> list[CounterLine]:
    """Return the counter on the mold, and the one on the press that it is in."""
    press = spot if spot is not None and spot.kind == Spot.Kind.PRESS else None
    on = counters_on_now(molds=[mold.pk], presses=[press.pk] if press else [])
    of_press = set(on["press"].values())
    fitted = CounterFitting.objects.filter(counter=OuterRef("pk"), act=CounterFitting.Act.FITTED)
    rows = (
        Counter.objects.select_related("total")
        .filter(pk__in={*on["mold"].values(), *of_press})
        .annotate(value_shown=Subquery(fitted.order_by("-at", "-id").values("value_shown")[:1]))
    )
    lines = [
        _counter_line(
            row,
            press=press if row.pk in of_press else None,
            is_base_known=row.value_shown is not None,
        )
        for row in rows
    ]
    return sorted(lines, key=lambda line: line.press is not None)


def _counter_line(row: Counter, *, press: Spot | None, is_base_known: bool) -> CounterLine:
    total = getattr(row, "total", None)
    return CounterLine(
        counter=row,
        press=press,
        value=total.newest_value if total else None,
        read_at=total.newest_at if total else None,
        is_base_known=is_base_known,
    )


def _planned(mold: Mold) -> list[Run]:
    """Return the runs that are planned and not over: the one that lasts, and those to come."""
    runs = Run.objects.filter(mold=mold, is_called_off=False).select_related("press")
    return list(runs.exclude(events__act=RunEvent.Act.PULLED).order_by("planned_from")[:4])


def _runs(mold: Mold) -> list[RunSpan]:
    """Return the newest runs, the newest first."""
    events = RunEvent.objects.filter(mold=mold).select_related("press")
    newest = list(events.order_by("-at", "-id")[: 2 * RUNS_SHOWN])
    return list(reversed(run_spans_of(reversed(newest))))[:RUNS_SHOWN]
