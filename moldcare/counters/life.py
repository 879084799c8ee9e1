"""Lives of molds: which counter counted when, what that comes to, and how sure it is."""

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Max, Q

from moldcare.bulk import insert, parts, upsert
from moldcare.core.counting import (
    CounterStay,
    Course,
    Dry,
    Opening,
    Preference,
    course_of,
    half_turn_us,
    life_points,
    life_segments,
    odd_ones_out,
    overlaps,
    recent_rate,
    shots_at,
    source_differences,
    stale_cycle,
    total_at,
    unsure_from,
)
from moldcare.core.counting import (
    LifeSegment as SegmentValue,
)
from moldcare.core.counting.values import Judged, Note, RunningSpan, State
from moldcare.core.due import UnsureWhy
from moldcare.core.shifts import ShiftCalendar
from moldcare.counters.convert import instant_of, microseconds, setup_of, stays_in_press
from moldcare.counters.counter_facts import CounterFacts, counter_facts, run_events_of
from moldcare.counters.course import TAIL_KNOTS, AllKnots
from moldcare.counters.derive import Derived, judge_stored
from moldcare.counters.models import (
    CounterFitting,
    CountPreference,
    DryCycles,
    Life,
    LifeSegment,
    Reading,
    Verdict,
)
from moldcare.molds.models import CycleTime, Mold, RunEvent
from moldcare.plant.models import Plant
from moldcare.plant.queries import the_calendar, the_plant

FAR_US = 1 << 62
MOLDS_AT_ONCE = 50
Stay = tuple[int, int | None]

# what core.counting says of doubt, in the words of core.due
_WHY = {
    "old": UnsureWhy.OLD_READING,
    "rollover": UnsureWhy.OLD_READING,
    "held": UnsureWhy.HELD_READING,
    "ambiguous": UnsureWhy.AMBIGUOUS_SPAN,
}


@dataclass(slots=True)
class WholeLife:
    """A mold's life from all its facts."""

    segments: list[SegmentValue]
    courses: dict[int, Course]
    at_us: list[int]
    cycles: list[int]
    shots: list[int] | None
    notices: list[dict[str, Any]] = field(default_factory=list)

    def knots(self) -> AllKnots:
        """Return the knots of the life."""
        return AllKnots(self.at_us, self.cycles, self.shots)

    @property
    def ambiguous_us(self) -> int | None:
        """Where the earliest span begins whose count is not certain."""
        starts = [
            start
            for segment in self.segments
            if segment.is_unsure and segment.counter in self.courses
            for start, end in self.courses[segment.counter].unsure
            if end > segment.from_us and (segment.to_us is None or start < segment.to_us)
        ]
        return min(starts, default=None)


@dataclass(frozen=True, kw_only=True, slots=True)
class LifeFacts:
    """What the lives of molds follow from, beside what their counters' verdicts follow from."""

    molds: dict[int, Mold]
    counters: CounterFacts
    preferences: dict[int, list[CountPreference]]
    dry: dict[int, list[DryCycles]]
    stays: dict[int, list[tuple[int, Stay]]]
    """By mold: (press, (set, pulled)) in the order of time [us since 1970]."""

    def in_press(self, mold_id: int) -> list[Stay]:
        """Return when a mold was in presses [us since 1970]."""
        return [stay for _press, stay in self.stays.get(mold_id, [])]


def life_facts(
    mold_ids: Iterable[int],
    *,
    plant: Plant | None = None,
    run_events: Mapping[int, Sequence[RunEvent]] | None = None,
) -> LifeFacts:
    """Read the facts of the molds' lives: some ten queries, whatever the number of molds."""
    ids = set(mold_ids)
    stays: dict[int, list[tuple[int, Stay]]] = defaultdict(list)
    by_press: dict[tuple[int, int], list[RunEvent]] = defaultdict(list)
    presses: set[int] = set()
    if run_events is None:
        run_events = run_events_of(ids)
    for row in (row for rows in run_events.values() for row in rows):
        by_press[(row.mold_id, row.press_id)].append(row)
        presses.add(row.press_id)
    for (mold_id, press_id), rows in by_press.items():
        for _mold, from_at, to_at in stays_in_press(rows):
            stay = (microseconds(from_at), None if to_at is None else microseconds(to_at))
            stays[mold_id].append((press_id, stay))
    for known in stays.values():
        known.sort(key=lambda each: each[1][0])
    counter_ids = set(
        CounterFitting.objects.filter(mold__in=ids).values_list("counter_id", flat=True)
    ) | set(CounterFitting.objects.filter(press__in=presses).values_list("counter_id", flat=True))
    preferences: dict[int, list[CountPreference]] = defaultdict(list)
    for preference in CountPreference.objects.filter(mold__in=ids).order_by("id"):
        preferences[preference.mold_id].append(preference)
    dry: dict[int, list[DryCycles]] = defaultdict(list)
    for one in DryCycles.objects.filter(mold__in=ids).order_by("id"):
        dry[one.mold_id].append(one)
    return LifeFacts(
        molds=Mold.objects.in_bulk(ids),
        counters=counter_facts(counter_ids, plant=plant, run_events=run_events),
        preferences=preferences,
        dry=dry,
        stays=stays,
    )


class Judgements:
    """The verdicts on counters, judged when they are first asked for.

    Verdicts that are in `judged` already are taken from there, and new ones put there.
    """

    def __init__(self, facts: CounterFacts, *, judged: dict[int, Judged] | None = None) -> None:
        self._facts = facts
        self._judged = {} if judged is None else judged
        self._running: dict[int, list[RunningSpan]] = {}

    def of(self, counter_id: int) -> Judged:
        """Return the verdicts on one counter."""
        if counter_id not in self._judged:
            self._judged[counter_id] = judge_stored(counter_id, facts=self._facts)
        return self._judged[counter_id]

    def course(self, counter_id: int) -> Course:
        """Return the course of one counter."""
        return course_of(self.of(counter_id), running=self._runs(counter_id))

    def _runs(self, counter_id: int) -> list[RunningSpan]:
        """Return when what the counter sits on ran; a run that goes on has no end yet."""
        if counter_id not in self._running:
            events = self._facts.runs_of(counter_id)
            self._running[counter_id] = [
                RunningSpan(
                    from_us=microseconds(from_at),
                    to_us=FAR_US if to_at is None else microseconds(to_at),
                )
                for _mold, from_at, to_at in stays_in_press(events)
            ]
        return self._running[counter_id]


def counter_stays(
    fittings: Sequence[CounterFitting], *, mold: int = 0, press: int = 0
) -> list[CounterStay]:
    """Return when counters sat on a mold or press, from the fittings of one counter in order."""
    stays: list[CounterStay] = []
    from_us: int | None = None
    for row in fittings:
        is_here = (mold and row.mold_id == mold) or (press and row.press_id == press)
        at_us = microseconds(row.at)
        if row.act == CounterFitting.Act.FITTED and is_here and from_us is None:
            from_us = at_us
        elif from_us is not None and (row.act == CounterFitting.Act.REMOVED or not is_here):
            stays.append(CounterStay(counter=row.counter_id, from_us=from_us, to_us=at_us))
            from_us = None
    if from_us is not None and fittings:
        stays.append(CounterStay(counter=fittings[0].counter_id, from_us=from_us))
    return stays


def whole_life(mold_id: int, *, facts: LifeFacts, judgements: Judgements) -> WholeLife:
    """Return a mold's life from all its facts."""
    mold = facts.molds[mold_id]
    own: list[CounterStay] = []
    press: list[CounterStay] = []
    set_in: dict[int, list[Stay]] = defaultdict(list)
    for press_id, stay in facts.stays.get(mold_id, []):
        set_in[press_id].append(stay)
    for rows in facts.counters.fittings.values():
        own += counter_stays(rows, mold=mold_id)
        for press_id, stays in set_in.items():
            press += overlaps(counter_stays(rows, press=press_id), stays=stays)
    courses = {stay.counter: judgements.course(stay.counter) for stay in {*own, *press}}
    preferences = [
        Preference(
            from_us=microseconds(row.from_at),
            to_us=None if row.to_at is None else microseconds(row.to_at),
            is_press=row.source == CountPreference.Source.PRESS,
        )
        for row in facts.preferences.get(mold_id, [])
    ]
    segments = life_segments(
        Opening(at_us=microseconds(mold.opening_at), cycles=mold.opening_count),
        own=own,
        press=press,
        courses=courses,
        preferences=preferences,
    )
    at_us, cycles = life_points(segments, courses=courses)
    dry = [
        Dry(from_us=microseconds(row.from_at), to_us=microseconds(row.to_at), cycles=row.cycles)
        for row in facts.dry.get(mold_id, [])
    ]
    life = WholeLife(segments=segments, courses=courses, at_us=at_us, cycles=cycles, shots=None)
    if dry:
        _add_shots(life, dry)
    life.notices = _notices(life, own=own, press=press, facts=facts, judgements=judgements)
    return life


def _add_shots(life: WholeLife, dry: Sequence[Dry]) -> None:
    """Give a life its shots, with knots where a reported span begins and ends."""

    def cycles_at(at_us: int) -> int:
        found = total_at(life.segments, courses=life.courses, at_us=at_us)
        return life.cycles[0] if found is None else found.cycles

    first, last = life.at_us[0], life.at_us[-1]
    edges = {edge for one in dry for edge in (one.from_us, one.to_us) if first < edge < last}
    life.at_us = sorted({*life.at_us, *edges})
    life.cycles = [cycles_at(at_us) for at_us in life.at_us]
    life.shots = [shots_at(at_us, cycles_at=cycles_at, dry=dry) for at_us in life.at_us]


def _notices(
    life: WholeLife,
    *,
    own: Sequence[CounterStay],
    press: Sequence[CounterStay],
    facts: LifeFacts,
    judgements: Judgements,
) -> list[dict[str, Any]]:
    """Return what people should be told of a mold's counters."""
    notices: list[dict[str, Any]] = []
    for counter_id in sorted(life.courses):
        judged = judgements.of(counter_id)
        if not judged.held:
            continue
        setup = setup_of(facts.counters.counters[counter_id])
        stale = stale_cycle(judged)
        if stale is not None:
            notices.append(
                {"kind": "stale_cycle", "counter": counter_id, "cycle_us": stale.cycle_us}
            )
        notices += [
            {"kind": "odd", "counter": counter_id, "reading": odd.reading_id}
            for odd in odd_ones_out(judged, setup=setup, pace=facts.counters.paces(counter_id))
        ]
    notices += [
        {
            "kind": "difference",
            "from_us": one.from_us,
            "to_us": one.to_us,
            "own_cycles": one.own_cycles,
            "press_cycles": one.press_cycles,
        }
        for one in source_differences(own=own, press=press, courses=life.courses)[-3:]
    ]
    return notices


def derive_lives(
    mold_ids: Iterable[int], *, plant: Plant | None = None
) -> Iterator[tuple[Life, AllKnots]]:
    """Derive lives and their segments from all the facts; give each life with its knots."""
    plant = plant or the_plant()
    for ids in parts(mold_ids, size=MOLDS_AT_ONCE):
        found = lives_of(set(ids), plant=plant)
        LifeSegment.objects.filter(mold__in=ids).delete()
        insert([row for life, whole in found for row in segment_rows(life.mold_id, whole)])
        upsert([life for life, _whole in found])
        for life, whole in found:
            yield life, whole.knots()


def lives_of(
    mold_ids: set[int],
    *,
    judged: dict[int, Judged] | None = None,
    plant: Plant | None = None,
    run_events: Mapping[int, Sequence[RunEvent]] | None = None,
) -> list[tuple[Life, WholeLife]]:
    """Return lives as rows, not stored, each with what it follows from, from all the facts.

    Parameters
    ----------
    mold_ids : set of int
        The molds.
    judged : dict, optional
        Verdicts on counters that are at hand; those of other counters that counted are added.
    plant : Plant, optional
        The plant, where it is at hand.
    run_events : mapping, optional
        All run events of the molds, where they are at hand.
    """
    plant = plant or the_plant()
    facts = life_facts(mold_ids, plant=plant, run_events=run_events)
    judgements = Judgements(facts.counters, judged=judged)
    calendar = the_calendar(plant)
    cycle_times: dict[int, list[CycleTime]] = defaultdict(list)
    for cycle in CycleTime.objects.filter(mold__in=mold_ids).order_by("id"):
        cycle_times[cycle.mold_id].append(cycle)
    found: list[tuple[Life, WholeLife]] = []
    for mold_id, mold in sorted(facts.molds.items()):
        life = whole_life(mold_id, facts=facts, judgements=judgements)
        row = Life(
            mold_id=mold_id,
            has_dry_cycles=life.shots is not None,
            notices=life.notices,
            tail={
                "at_us": life.at_us[-TAIL_KNOTS:],
                "cycles": life.cycles[-TAIL_KNOTS:],
                "shots": life.shots[-TAIL_KNOTS:] if life.shots is not None else None,
                "ambiguous_us": life.ambiguous_us,
                "is_read": len(life.at_us) > 1,
            },
        )
        last = life.segments[-1] if life.segments else None
        row.is_estimated = _is_estimated(life, judgements=judgements)
        row.is_unsure = any(segment.is_unsure for segment in life.segments)
        setup, held = None, []
        if last is not None and last.counter in facts.counters.counters:
            setup = setup_of(facts.counters.counters[last.counter])
            newest = judgements.of(last.counter)
            held = held_on(
                last, {last.counter: [(one.at_us, one.reading_id) for one in newest.held]}
            )
        settle(
            row,
            mold=mold,
            in_press=facts.in_press(mold_id),
            held=held,
            counter_setup=setup,
            standard_us=standard_us(cycle_times.get(mold_id, [])),
            plant=plant,
            calendar=calendar,
        )
        found.append((row, life))
    return found


def _is_estimated(life: WholeLife, *, judgements: Judgements) -> bool:
    """Return whether the newest count was shared, or read from an estimate.

    It is said of the stretch that was counted last: a real reading takes an estimate's place.
    """
    newest_us = life.at_us[-1]
    counted = [
        one for one in life.segments if one.counter in life.courses and one.from_us <= newest_us
    ]
    if not counted:
        return False
    last = counted[-1]
    if last.is_estimated or last.counter is None:
        return last.is_estimated
    judged = judgements.of(last.counter)
    place = bisect_right(judged.point_at_us, newest_us) - 1
    number = judged.point_ids[place] if place >= 0 else None
    if number is None or judged.point_at_us[place] < last.from_us:
        return False
    return bool(judged.notes[bisect_left(judged.ids, number)] & Note.ESTIMATED)


def segment_rows(mold_id: int, life: WholeLife) -> list[LifeSegment]:
    """Return a life's segments as rows."""
    return [
        LifeSegment(
            mold_id=mold_id,
            from_at=instant_of(one.from_us),
            to_at=None if one.to_us is None else instant_of(one.to_us),
            counter_id=one.counter,
            from_counter_total=one.from_counter_total,
            to_counter_total=one.to_counter_total,
            cycles_before=one.cycles_before,
            is_press=one.is_press,
            is_estimated=one.is_estimated,
            is_unsure=one.is_unsure,
        )
        for one in life.segments
    ]


Held = list[tuple[int, int]]


def held_of(counter_ids: set[int]) -> dict[int, Held]:
    """Return (instant [us], number) of the held readings of counters."""
    found: dict[int, Held] = defaultdict(list)
    rows = Verdict.objects.filter(state=State.HELD, counter__in=counter_ids)
    for counter_id, at, number in rows.values_list("counter_id", "reading__at", "reading_id"):
        found[counter_id].append((microseconds(at), number))
    return found


def held_on(segment: SegmentValue | None, held: Mapping[int, Held]) -> Held:
    """Return the held readings of the counter that counts for a mold now."""
    if segment is None or segment.counter is None:
        return []
    return [
        one
        for one in held.get(segment.counter, [])
        if not segment.is_press or one[0] >= segment.from_us
    ]


def standard_us(cycle_times: Iterable[CycleTime]) -> int | None:
    """Return the standard cycle that is in force last [us]."""
    known = [row for row in cycle_times if row.standard_s is not None]
    newest = max(known, key=lambda row: (row.valid_from, row.pk), default=None)
    return None if newest is None else int((newest.standard_s or 0) * 1_000_000)


def settle(
    row: Life,
    *,
    mold: Mold,
    in_press: Sequence[Stay],
    held: Held,
    counter_setup: Any,
    standard_us: int | None,
    plant: Plant,
    calendar: ShiftCalendar,
) -> None:
    """Set what follows from a life's newest knots: counts, rate, doubt."""
    at_us, cycles = row.tail["at_us"], row.tail["cycles"]
    shots = row.tail["shots"] or cycles
    newest_us = at_us[-1]
    row.cycles, row.shots = cycles[-1], shots[-1]
    row.newest_at = instant_of(newest_us) if row.tail["is_read"] else None
    row.held_count = len(held)
    newest_held = max((one[0] for one in held), default=None)
    row.newest_held_at = None if newest_held is None else instant_of(newest_held)
    rate = recent_rate(Course(at_us=at_us, totals=cycles), in_press=in_press)
    row.rate_per_hour = None if rate is None else rate.cycles_per_hour
    allowed = mold.reading_age_shifts or plant.reading_age_shifts
    newest_at = instant_of(newest_us)
    begins = newest_at - timedelta(days=1)
    unsure = unsure_from(
        newest_us,
        in_press=in_press,
        shifts=[
            (microseconds(shift.starts_at), microseconds(shift.ends_at))
            for shift in calendar.shifts_between(
                begins, _horizon(newest_at, in_press, allowed=allowed)
            )
            if shift.ends_at > newest_at
        ],
        allowed_shifts=allowed,
        rollover_us=(
            half_turn_us(counter_setup, cycle_us=standard_us)
            if counter_setup is not None and standard_us
            else None
        ),
        newest_held_us=newest_held,
        ambiguous_us=row.tail["ambiguous_us"],
    )
    row.unsure_at = None if unsure is None else instant_of(unsure.from_us)
    row.unsure_why = "" if unsure is None else _WHY[unsure.why]


def _horizon(newest_at: datetime, in_press: Sequence[Stay], *, allowed: int) -> datetime:
    """Return how far ahead shifts are looked at: until the reading would surely be old."""
    ahead = timedelta(days=14 + 2 * allowed)
    if in_press and in_press[-1][1] is None:
        return max(newest_at, instant_of(in_press[-1][0])) + ahead
    last = in_press[-1][1] if in_press else None
    return max(newest_at, instant_of(last)) if last is not None else newest_at


def go_on(went_on: Derived, *, without: set[int], plant: Plant) -> list[Life]:
    """Let the lives that follow a counter go on by its new points, and return them.

    A life of which more than its newest knots may move is derived from all its facts instead.
    Molds in `without` are left out: they are derived from all their facts anyway.
    """
    facts = went_on.facts
    if facts is None or not went_on.tails:
        return []
    segments = [
        (segment, segment.counter_id)
        for segment in LifeSegment.objects.filter(
            counter__in=list(went_on.tails), to_at__isnull=True
        )
        if segment.counter_id is not None
    ]
    mold_ids = {segment.mold_id for segment, _counter in segments}
    lives = Life.objects.select_related("mold").in_bulk(mold_ids)
    anew = _to_derive_anew(went_on, facts=facts, segments=segments, lives=lives) - without
    segments = [one for one in segments if one[0].mold_id not in without | anew]
    mold_ids = {segment.mold_id for segment, _counter in segments}
    events = {mold_id: facts.run_events.of(molds={mold_id}) for mold_id in facts.own_molds}
    elsewhere = mold_ids - facts.own_molds
    if elsewhere:
        events |= run_events_of(elsewhere)
    calendar = the_calendar(plant)
    estimates = _estimates(went_on)
    # a counter with new doubts does not only go on: whose mold had nothing held still has not
    in_doubt = {
        counter_id
        for segment, counter_id in segments
        if (life := lives.get(segment.mold_id)) is not None and life.held_count
    }
    held = held_of(in_doubt) if in_doubt else {}
    rows: list[Life] = []
    for segment, counter_id in segments:
        mold_id = segment.mold_id
        life = lives.get(mold_id)
        if life is None:
            continue
        _extend_tail(life, segment, went_on.tails[counter_id])
        newest = (counter_id, life.tail["at_us"][-1])
        life.is_estimated = segment.is_estimated or newest in estimates
        settle(
            life,
            mold=life.mold,
            in_press=[
                (microseconds(from_at), None if to_at is None else microseconds(to_at))
                for _mold, from_at, to_at in stays_in_press(events.get(mold_id, []))
            ],
            held=held_on(_value_of(segment), held),
            counter_setup=setup_of(facts.counters[counter_id]),
            standard_us=standard_us(facts.cycle_times.of(mold_id)),
            plant=plant,
            calendar=calendar,
        )
        rows.append(life)
    upsert(rows)
    if anew:
        rows += [life for life, _knots in derive_lives(anew, plant=plant)]
    return rows


def _to_derive_anew(
    went_on: Derived,
    *,
    facts: CounterFacts,
    segments: Sequence[tuple[LifeSegment, int]],
    lives: Mapping[int, Life],
) -> set[int]:
    """Return the molds whose lives have an edge behind the counter's newest reading until now.

    A stay that began or ended since then shares the span that the new reading closes; so do dry
    cycles that were reported for it. A counter that was read since its last edge only goes on.
    """
    found: set[int] = set()
    read_since: set[int] = set()
    dry_to = _dry_to([life.pk for life in lives.values() if life.has_dry_cycles])
    for segment, counter_id in segments:
        life = lives.get(segment.mold_id)
        if life is None:
            continue
        newest_us = life.tail["at_us"][-1] if life.tail["is_read"] else -FAR_US
        if newest_us > microseconds(segment.from_at):
            read_since.add(counter_id)
        else:
            found.add(life.pk)
        if dry_to.get(life.pk, -FAR_US) > newest_us:
            found.add(life.pk)
    for counter_id, points in went_on.tails.items():
        if points and counter_id not in read_since:
            found |= _with_edges_since_read(counter_id, before=instant_of(points[0][0]))
    return found


def _with_edges_since_read(counter_id: int, *, before: datetime) -> set[int]:
    """Return the molds of which a stay with a counter began or ended after its last reading."""
    read = Reading.objects.filter(counter=counter_id, at__lt=before, verdict__state=State.ACCEPTED)
    newest_at = read.order_by("-at").values_list("at", flat=True).first()
    edges = LifeSegment.objects.filter(counter=counter_id)
    if newest_at is not None:
        edges = edges.filter(Q(to_at__gt=newest_at) | Q(from_at__gt=newest_at))
    return set(edges.values_list("mold_id", flat=True))


def _dry_to(mold_ids: Sequence[int]) -> dict[int, int]:
    """Return until when dry cycles were reported for molds [us since 1970]."""
    if not mold_ids:
        return {}
    rows = DryCycles.objects.filter(mold__in=mold_ids).values("mold").annotate(last=Max("to_at"))
    return {mold: microseconds(last) for mold, last in rows.values_list("mold", "last")}


def _estimates(went_on: Derived) -> set[tuple[int, int]]:
    """Return (counter, instant [us]) of the new points that are estimates."""
    firsts = [points[0][0] for points in went_on.tails.values() if points]
    if not firsts:
        return set()
    rows = Reading.objects.filter(
        counter__in=list(went_on.tails),
        source=Reading.Source.ESTIMATED,
        at__gte=instant_of(min(firsts)),
        verdict__state=State.ACCEPTED,
    )
    return {(counter, microseconds(at)) for counter, at in rows.values_list("counter_id", "at")}


def _extend_tail(life: Life, segment: LifeSegment, points: Sequence[tuple[int, int]]) -> None:
    tail = dict(life.tail)
    at_us, cycles = list(tail["at_us"]), list(tail["cycles"])
    shots = None if tail["shots"] is None else list(tail["shots"])
    # dry cycles are reported for spans that are over: what comes after them is shots
    dry = 0 if shots is None else cycles[-1] - shots[-1]
    from_us = microseconds(segment.from_at)
    for point_us, total in points:
        if point_us <= at_us[-1] or point_us < from_us:
            continue
        count = segment.cycles_before + total - segment.from_counter_total
        at_us.append(point_us)
        cycles.append(count)
        if shots is not None:
            shots.append(count - dry)
        tail["is_read"] = True
    tail["at_us"], tail["cycles"] = at_us[-TAIL_KNOTS:], cycles[-TAIL_KNOTS:]
    tail["shots"] = None if shots is None else shots[-TAIL_KNOTS:]
    life.tail = tail


def _value_of(segment: LifeSegment) -> SegmentValue:
    return SegmentValue(
        from_us=microseconds(segment.from_at),
        to_us=None,
        counter=segment.counter_id,
        from_counter_total=segment.from_counter_total,
        to_counter_total=None,
        cycles_before=segment.cycles_before,
        is_press=segment.is_press,
    )
