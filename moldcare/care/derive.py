"""Standings of care rules and boards of molds, from facts and from the counts derived below."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime

from moldcare.bulk import upsert
from moldcare.care.convert import deferral_terms, rule_terms, standing_row
from moldcare.care.models import Board, CareRule, Completion, Standing
from moldcare.care.queries import (
    completions_that_stand,
    last_completions,
    newest_deferrals,
    rules_in_force,
    services_since,
)
from moldcare.core import due
from moldcare.core.shifts import ShiftCalendar
from moldcare.counters.derive import parts, run_events_of
from moldcare.counters.history import (
    ComponentCourses,
    LivesAtHand,
    MoldCourse,
    component_courses,
    mold_courses,
)
from moldcare.molds.models import Fitting, Mold, Move, Position, Run, RunEvent
from moldcare.plant.models import Plant, Spot
from moldcare.plant.queries import the_calendar, the_plant

MOLDS_AT_ONCE = 100
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


def derive_standings(
    *,
    molds: Iterable[int] = (),
    auxiliaries: Iterable[int] = (),
    only_read: Iterable[int] = (),
    plant: Plant | None = None,
    lives: LivesAtHand | None = None,
) -> None:
    """Derive the standings of all rules of the molds and auxiliaries, and write them.

    Parameters
    ----------
    molds, auxiliaries : iterable of int
        Whose rules.
    only_read : iterable of int
        Further molds, of which nothing but readings is new: they have the rules that they had.
    plant : Plant, optional
        The plant, where it is at hand.
    lives : LivesAtHand, optional
        Lives that need not be read.
    """
    plant = plant or the_plant()
    for ids in parts(molds, size=MOLDS_AT_ONCE):
        _derive(set(ids), auxiliaries=set(), plant=plant, lives=lives)
    for ids in parts(set(only_read) - set(molds), size=MOLDS_AT_ONCE):
        _derive(set(ids), auxiliaries=set(), plant=plant, lives=lives, is_only_read=True)
    auxiliary_ids = set(auxiliaries)
    if auxiliary_ids:
        _derive(set(), auxiliaries=auxiliary_ids, plant=plant, lives=lives)


def _derive(
    molds: set[int],
    *,
    auxiliaries: set[int],
    plant: Plant,
    lives: LivesAtHand | None,
    is_only_read: bool = False,
) -> None:
    rules = rules_in_force(molds=molds, auxiliaries=auxiliaries)
    facts = mold_facts(molds, rules=rules, lives=lives)
    last = completions_that_stand(molds) if is_only_read else last_completions(rules)
    rows = standings_of(rules, facts=facts, calendar=the_calendar(plant), last=last)
    if is_only_read:
        upsert(rows)
    else:
        write_standings(rows, molds=molds, auxiliaries=auxiliaries)
    for known in facts.values():
        known.course.keep_memo()
    write_boards(facts, rows)


def write_standings(rows: Sequence[Standing], *, molds: set[int], auxiliaries: set[int]) -> None:
    """Write standings; drop those of rules that were withdrawn."""
    kept = [row.rule_id for row in rows]
    if molds:
        Standing.objects.filter(mold__in=molds).exclude(rule__in=kept).delete()
    if auxiliaries:
        Standing.objects.filter(auxiliary__in=auxiliaries).exclude(rule__in=kept).delete()
    upsert(rows)


def standings_of(
    rules: Sequence[CareRule],
    *,
    facts: dict[int, MoldFacts],
    calendar: ShiftCalendar,
    last: Mapping[int, Completion] | None = None,
) -> list[Standing]:
    """Return the standings of rules, computed from what their molds share.

    `last` holds the last completion of each rule that has one, where they are at hand.
    """
    if last is None:
        last = last_completions(rules)
    deferrals = newest_deferrals(rules)
    usages = {mold_id: usage_of(known) for mold_id, known in facts.items()}
    components = component_courses(
        {
            known.sitting[rule.position_id][0]
            for rule in rules
            if rule.mold_id and rule.position_id
            for known in [facts[rule.mold_id]]
            if rule.position_id in known.sitting
        }
    )
    rows = []
    for rule in rules:
        done = last.get(rule.pk)
        if rule.mold_id is None:
            usage = due.Usage(newest_fact_at=_auxiliary_newest(rule, done))
            history = history_of(rule, done, entered_at=rule.entered_at, calendar=calendar)
        else:
            known = facts[rule.mold_id]
            usage = usages[rule.mold_id]
            history = history_of(rule, done, entered_at=_entered_at(rule, known), calendar=calendar)
            sits = known.sitting.get(rule.position_id or 0)
            if sits is not None and sits[0] in components:
                usage, history = _on_component(
                    rule,
                    done,
                    usage=usage,
                    history=history,
                    fitted_at=sits[1],
                    course=components[sits[0]],
                )
        deferral = deferrals.get(rule.pk)
        found = due.standing(
            rule_terms(rule),
            history=history,
            usage=usage,
            calendar=calendar,
            deferral=None if deferral is None else deferral_terms(deferral, basis=rule.count_basis),
        )
        course = usage.shots if rule.count_basis == CareRule.Basis.SHOTS else usage.cycles
        rows.append(
            Standing(
                rule_id=rule.pk,
                mold_id=rule.mold_id,
                auxiliary_id=rule.auxiliary_id,
                last_completion_id=done.pk if done else None,
                last_done_at=done.happened_at if done else None,
                last_grade=done.grade if done else "",
                count=course.newest_count if course and rule.count_base else None,
                **standing_row(found),
            )
        )
    return rows


def _entered_at(rule: CareRule, known: MoldFacts) -> datetime:
    """Return from when a rule that was never done counts: the day the mold was entered."""
    return known.mold.entered_at


def _auxiliary_newest(rule: CareRule, done: Completion | None) -> datetime:
    if done is not None and done.happened_at is not None:
        return done.happened_at
    return rule.entered_at


def history_of(
    rule: CareRule, done: Completion | None, *, entered_at: datetime, calendar: ShiftCalendar
) -> due.RuleHistory:
    """Return a rule's last work, or where counting begins without any."""
    entered_on = calendar.date_of(entered_at)
    first = rule.mold.opening_count if rule.mold_id and rule.mold else 0
    if done is None:
        return due.RuleHistory(entered_on=entered_on, first_count=first)
    return due.RuleHistory(
        entered_on=entered_on,
        first_count=first,
        done_at=done.happened_at,
        done_on=done.declared_on,
        done_count=done.declared_count,
    )


def _on_component(
    rule: CareRule,
    done: Completion | None,
    *,
    usage: due.Usage,
    history: due.RuleHistory,
    fitted_at: datetime,
    course: ComponentCourses,
) -> tuple[due.Usage, due.RuleHistory]:
    """Return usage and history on the component that sits in a rule's position.

    Its count came with it from wherever it sat before. Work on the piece that sat here before it
    is not work on it; a rule about changing the piece counts from when the piece was new.
    """
    usage = due.Usage(
        newest_fact_at=usage.newest_fact_at,
        cycles=course.cycles,
        shots=course.shots,
        rate_per_h=usage.rate_per_h,
        is_in_press=usage.is_in_press,
        running=usage.running,
        stored=usage.stored,
        events=usage.events,
        measurements=usage.measurements,
        unsure=usage.unsure,
    )
    if rule.changes_component:
        return usage, due.RuleHistory(
            entered_on=history.entered_on, first_count=0, done_at=fitted_at, done_count=0
        )
    if done is not None and done.happened_at is not None and done.happened_at < fitted_at:
        return usage, due.RuleHistory(
            entered_on=history.entered_on, first_count=0, done_at=fitted_at
        )
    return usage, history


def mold_facts(
    mold_ids: set[int],
    *,
    rules: Sequence[CareRule],
    courses: dict[int, MoldCourse] | None = None,
    lives: LivesAtHand | None = None,
    run_events: Mapping[int, Sequence[RunEvent]] | None = None,
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
        Move.objects.filter(mold__in=mold_ids)
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


def write_boards(facts: dict[int, MoldFacts], standings: Sequence[Standing]) -> None:
    """Write one row a mold: where it is, and the earliest instants over its rules."""
    upsert(boards_of(facts, standings))


def boards_of(facts: dict[int, MoldFacts], standings: Sequence[Standing]) -> list[Board]:
    """Return one row a mold, not stored."""
    of_mold: dict[int, list[Standing]] = defaultdict(list)
    for row in standings:
        if row.mold_id is not None:
            of_mold[row.mold_id].append(row)
    boards = []
    for mold_id, known in facts.items():
        rows = of_mold.get(mold_id, [])
        place = known.moves[-1] if known.moves else None
        boards.append(
            Board(
                mold_id=mold_id,
                spot_id=place[1] if place else None,
                spot_kind=place[2] if place else "",
                since_at=place[0] if place else None,
                run_ends_at=known.run_ends_at,
                due_soon_at=_earliest(row.forecast_soon_at for row in rows),
                due_at=_earliest(row.forecast_due_at for row in rows),
                past_limit_at=_earliest(row.past_limit_at for row in rows),
                deferral_ends_at=_earliest(row.deferred_until_at for row in rows),
                unsure_at=known.course.unsure_at if rows else None,
                held_count=known.course.held_count,
            )
        )
    return boards


def _earliest(instants: Iterable[datetime | None]) -> datetime | None:
    return min((at for at in instants if at is not None), default=None)
