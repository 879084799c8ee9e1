"""What the rules of one mold share: where it was, how it ran, what sits in it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime

from moldcare.care.models import CareRule
from moldcare.care.queries import (
    services_since,
)
from moldcare.core import due
from moldcare.counters.history import (
    LivesAtHand,
    MoldCourse,
    mold_courses,
)
from moldcare.counters.run_events import RunEventRow, run_events_of
from moldcare.molds.models import Fitting, Mold, Position, Run, RunEvent
from moldcare.molds.queries import moves_in_force
from moldcare.plant.models import Spot

USES_SERVICES = (CareRule.Event.MOLD_OPENED, CareRule.Event.EACH_SERVICE)


@dataclass(slots=True)
class MoldFacts:
    """What the rules of one mold share."""

    mold: Mold
    course: MoldCourse
    moves: list[tuple[datetime, int, str]] = field(default_factory=list)
    run_events: list[tuple[datetime, str, int | None]] = field(default_factory=list)
    sitting: dict[int, tuple[int, datetime]] = field(default_factory=dict)
    openings: list[datetime] = field(default_factory=list)
    services: list[datetime] = field(default_factory=list)
    run_ends_at: datetime | None = None


def mold_facts(
    mold_ids: set[int],
    *,
    rules: Sequence[CareRule],
    courses: dict[int, MoldCourse] | None = None,
    lives: LivesAtHand | None = None,
    run_events: Mapping[int, Sequence[RunEventRow]] | None = None,
) -> dict[int, MoldFacts]:
    """Read what the rules of the molds share: few queries, whatever the number of molds."""
    if not mold_ids:
        return {}
    if run_events is None:
        at_hand = lives.events_of(mold_ids) if lives is not None else {}
        elsewhere = mold_ids - at_hand.keys()
        run_events = at_hand | (run_events_of(elsewhere) if elsewhere else {})
    if courses is None:
        courses = mold_courses(mold_ids, lives=lives, run_events=run_events)
    molds = lives.molds_of(mold_ids) if lives is not None else {}
    unread = mold_ids - molds.keys()
    if unread:
        molds |= Mold.objects.in_bulk(unread)
    facts = {
        mold_id: MoldFacts(mold=mold, course=courses[mold_id]) for mold_id, mold in molds.items()
    }
    for rule in rules:
        if rule.mold_id is not None:
            rule.mold = facts[rule.mold_id].mold
    for mold_id, at, spot_id, kind in (
        moves_in_force()
        .filter(mold__in=mold_ids)
        .order_by("at", "id")
        .values_list("mold_id", "at", "spot_id", "spot__kind")
    ):
        facts[mold_id].moves.append((at, spot_id, kind))
    for mold_id, events in run_events.items():
        facts[mold_id].run_events = [(event.at, event.act, event.run_id) for event in events]
    positions = {rule.position_id for rule in rules if rule.position_id}
    if positions:
        _read_sitting(facts, positions)
    if any(rule.event in USES_SERVICES for rule in rules):
        for mold_id, at, is_opening in services_since(
            mold_ids, at=datetime.min.replace(tzinfo=UTC)
        ):
            facts[mold_id].services.append(at)
            if is_opening:
                facts[mold_id].openings.append(at)
    _read_run_ends(facts)
    return facts


def _read_sitting(facts: dict[int, MoldFacts], positions: set[int]) -> None:
    """Note which component sits in each position, and since when."""
    mold_of = dict(Position.objects.filter(pk__in=positions).values_list("id", "mold_id"))
    rows = Fitting.objects.filter(
        component__in=Fitting.objects.filter(position__in=positions).values("component")
    ).order_by("at", "id")
    where: dict[int, tuple[int | None, datetime]] = {}
    for component_id, position_id, at in rows.values_list("component_id", "position_id", "at"):
        where[component_id] = (position_id, at)
    for component_id, (position, at) in where.items():
        if position in positions and position is not None:
            facts[mold_of[position]].sitting[position] = (component_id, at)


def _read_run_ends(facts: dict[int, MoldFacts]) -> None:
    """Note when the run that a mold is in is planned to end."""
    open_runs = {
        mold_id: known.run_events[-1]
        for mold_id, known in facts.items()
        if known.run_events and known.run_events[-1][1] == RunEvent.Act.SET
    }
    planned = Run.objects.filter(
        mold__in=list(open_runs), is_called_off=False, planned_to__isnull=False
    ).order_by("planned_from")
    for run_id, mold_id, begins, ends in planned.values_list(
        "id", "mold_id", "planned_from", "planned_to"
    ):
        set_at, _act, set_run = open_runs[mold_id]
        if ends is None:
            continue
        if set_run == run_id or (set_run is None and begins <= set_at < ends):
            facts[mold_id].run_ends_at = ends


def usage_of(known: MoldFacts) -> due.Usage:
    """Return what the facts say of a mold, as the core wants it for each of its rules."""
    running = [
        due.Span(from_at=from_at, to_at=to_at) for from_at, to_at in runs_of(known.run_events)
    ]
    stored: list[due.Span] = []
    into_storage: list[datetime] = []
    for place, (at, _spot, kind) in enumerate(known.moves):
        if kind == Spot.Kind.RACK:
            into_storage.append(at)
            ends = known.moves[place + 1][0] if place + 1 < len(known.moves) else None
            if stored and stored[-1].to_at == at:
                stored[-1] = due.Span(from_at=stored[-1].from_at, to_at=ends)
            else:
                stored.append(due.Span(from_at=at, to_at=ends))
    life = known.course
    is_in_press = bool(known.run_events) and known.run_events[-1][1] == RunEvent.Act.SET
    newest = [known.mold.entered_at, *(at for at, *_rest in known.moves[-1:])]
    newest += [*known.services[-1:], *([life.newest_at] if life.newest_at else [])]
    return due.Usage(
        newest_fact_at=max(newest),
        cycles=life.cycles,
        shots=life.shots,
        rate_per_h=life.rate_per_hour,
        is_in_press=is_in_press,
        running=due.RunningSpans(running),
        stored=stored,
        events={
            due.EventKind.END_OF_RUN: [
                at for at, act, _run in known.run_events if act == RunEvent.Act.PULLED
            ],
            due.EventKind.SET: [
                at for at, act, _run in known.run_events if act == RunEvent.Act.SET
            ],
            due.EventKind.INTO_STORAGE: into_storage,
            due.EventKind.MOLD_OPENED: known.openings,
            due.EventKind.EACH_SERVICE: known.services,
        },
        unsure=(
            due.UnsureFrom(at=life.unsure_at, why=due.UnsureWhy(life.unsure_why))
            if life.unsure_at is not None
            else None
        ),
    )


def runs_of(
    run_events: Sequence[tuple[datetime, str, int | None]],
) -> list[tuple[datetime, datetime | None]]:
    """Return a mold's stays in presses; the last one is open while it is set."""
    stays: list[tuple[datetime, datetime | None]] = []
    set_at: datetime | None = None
    for at, act, _run in run_events:
        if act == RunEvent.Act.SET:
            set_at = at if set_at is None else set_at
        elif set_at is not None:
            stays.append((set_at, at))
            set_at = None
    if set_at is not None:
        stays.append((set_at, None))
    return stays
