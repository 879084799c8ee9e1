"""Standings of care rules and boards of molds, from facts and from the counts derived below."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from moldcare.bulk import parts, upsert
from moldcare.care.convert import deferral_terms, rule_terms, standing_row
from moldcare.care.models import Board, CareRule, Standing
from moldcare.care.mold_facts import MoldFacts, mold_facts, usage_of
from moldcare.care.queries import (
    LastDone,
    completions_that_stand,
    last_completions,
    newest_deferrals,
    rules_in_force,
)
from moldcare.core import due
from moldcare.core.shifts import ShiftCalendar
from moldcare.counters.history import (
    ComponentCourses,
    LivesAtHand,
    component_courses,
)
from moldcare.plant.models import Plant
from moldcare.plant.queries import the_calendar, the_plant

MOLDS_AT_ONCE = 100


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
    last: Mapping[int, LastDone] | None = None,
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


def _auxiliary_newest(rule: CareRule, done: LastDone | None) -> datetime:
    if done is not None and done.happened_at is not None:
        return done.happened_at
    return rule.entered_at


def history_of(
    rule: CareRule, done: LastDone | None, *, entered_at: datetime, calendar: ShiftCalendar
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
    done: LastDone | None,
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
