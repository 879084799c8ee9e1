"""The counts of molds and components over time, as far back as somebody asks."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from moldcare.core.due import CountCourse, RunningSpans, Span
from moldcare.counters.convert import stays_in_press
from moldcare.counters.course import AllKnots, Knots, StoredCourse
from moldcare.counters.life import (
    Judgements,
    WholeLife,
    life_facts,
    lives_of,
    whole_life,
)
from moldcare.counters.models import Life
from moldcare.counters.run_events import RunEventRow, run_events_of
from moldcare.molds.models import Block, Component, Fitting, Mold

LIVES_KEPT = 5_000
KNOTS_KEPT = 4_000_000


@dataclass(slots=True)
class MoldCourse:
    """A mold's two counts and what is known of them, as of its newest accepted reading."""

    cycles: StoredCourse
    shots: StoredCourse
    newest_at: datetime | None
    rate_per_hour: float | None
    unsure_at: datetime | None
    unsure_why: str
    held_count: int
    life: Life

    def memo(self) -> dict[str, Any]:
        """Return the answers about knots that were asked for."""
        if self.shots is self.cycles:
            return {"cycles": self.cycles.used}
        return {"cycles": self.cycles.used, "shots": self.shots.used}

    def keep_memo(self) -> None:
        """Keep the answers that were asked for, where they are new."""
        memo = self.memo()
        if memo != self.life.memo:
            Life.objects.filter(pk=self.life.pk).update(memo=memo)


class LivesAtHand:
    """Lives just as they are stored, with their knots where these are at hand too.

    Of very many only the newest are kept; the others are read again when somebody asks.
    """

    def __init__(self) -> None:
        self._lives: dict[int, tuple[Life, AllKnots | None]] = {}
        self._knots = 0
        self._events: dict[int, Sequence[RunEventRow]] = {}

    def keep_events(self, mold_id: int, events: Sequence[RunEventRow]) -> None:
        """Keep all run events of a mold."""
        self._events[mold_id] = events

    def events_of(self, mold_ids: Iterable[int]) -> dict[int, Sequence[RunEventRow]]:
        """Return the run events of those of the molds for which they are at hand."""
        return {mold_id: self._events[mold_id] for mold_id in mold_ids if mold_id in self._events}

    def molds_of(self, mold_ids: Iterable[int]) -> dict[int, Mold]:
        """Return those of the molds that came with their lives."""
        field = Life._meta.get_field("mold")
        return {
            mold_id: life.mold
            for mold_id, (life, _knots) in self.of(mold_ids).items()
            if field.is_cached(life)
        }

    def keep(self, life: Life, knots: AllKnots | None = None) -> None:
        """Keep a life in place of what was kept of its mold."""
        if len(self._lives) >= LIVES_KEPT or self._knots >= KNOTS_KEPT:
            self._lives.clear()
            self._knots = 0
        if knots is not None:
            knots = knots.packed()
            self._knots += len(knots.at_us)
        self._lives[life.mold_id] = (life, knots)

    def of(self, mold_ids: Iterable[int]) -> dict[int, tuple[Life, AllKnots | None]]:
        """Return those of the molds that are at hand."""
        return {mold_id: self._lives[mold_id] for mold_id in mold_ids if mold_id in self._lives}


def mold_courses(
    mold_ids: Iterable[int],
    *,
    lives: LivesAtHand | None = None,
    run_events: Mapping[int, Sequence[RunEventRow]] | None = None,
) -> dict[int, MoldCourse]:
    """Return the courses of molds. Two queries; more for old knots, and for lives not derived.

    Parameters
    ----------
    mold_ids : iterable of int
        The molds.
    lives : LivesAtHand, optional
        Lives that need not be read.
    run_events : mapping, optional
        Run events in the order of time, where those of all the molds are at hand.
    """
    ids = set(mold_ids)
    here = {} if lives is None else lives.of(ids)
    if ids - here.keys():
        here |= {life.pk: (life, None) for life in Life.objects.filter(pk__in=ids - here.keys())}
    if run_events is None:
        run_events = run_events_of(here)
    found = {
        mold_id: _course_of(life, run_events.get(mold_id, []), knots=knots)
        for mold_id, (life, knots) in here.items()
    }
    missing = ids - here.keys()
    return found | courses_of(lives_of(missing)) if missing else found


def courses_of(
    lives: Sequence[tuple[Life, WholeLife]],
    *,
    run_events: Mapping[int, Sequence[RunEventRow]] | None = None,
) -> dict[int, MoldCourse]:
    """Return the courses of lives that are at hand with what they follow from, stored or not."""
    if run_events is None:
        run_events = run_events_of(life.mold_id for life, _whole in lives)
    return {
        life.mold_id: _course_of(life, run_events[life.mold_id], knots=whole.knots())
        for life, whole in lives
    }


def _course_of(
    life: Life, events: Sequence[RunEventRow], *, knots: AllKnots | None = None
) -> MoldCourse:
    spans = RunningSpans(
        [Span(from_at=from_at, to_at=to_at) for _mold, from_at, to_at in stays_in_press(events)]
    )
    old = _OldKnots(life.mold_id, knots)
    tail = life.tail
    cycles = StoredCourse(
        at_us=tail["at_us"],
        counts=tail["cycles"],
        running=spans,
        load=old.cycles,
        memo=life.memo.get("cycles", {}),
    )
    shots = cycles
    if tail["shots"] is not None:
        shots = StoredCourse(
            at_us=tail["at_us"],
            counts=tail["shots"],
            running=spans,
            load=old.shots,
            memo=life.memo.get("shots", {}),
        )
    return MoldCourse(
        cycles=cycles,
        shots=shots,
        newest_at=life.newest_at,
        rate_per_hour=life.rate_per_hour,
        unsure_at=life.unsure_at,
        unsure_why=life.unsure_why,
        held_count=life.held_count,
        life=life,
    )


class _OldKnots:
    """A mold's knots from all its facts, read once when an old one is asked for."""

    def __init__(self, mold_id: int, knots: AllKnots | None) -> None:
        self._mold_id = mold_id
        self._knots = knots

    def _all(self) -> AllKnots:
        if self._knots is None:
            facts = life_facts([self._mold_id])
            self._knots = whole_life(
                self._mold_id, facts=facts, judgements=Judgements(facts.counters)
            ).knots()
        return self._knots

    def cycles(self) -> Knots:
        """Return instants and cycles."""
        knots = self._all()
        return knots.at_us, knots.cycles

    def shots(self) -> Knots:
        """Return instants and shots."""
        knots = self._all()
        return knots.at_us, knots.cycles if knots.shots is None else knots.shots


@dataclass(frozen=True, slots=True)
class Stretch:
    """A component counted with a mold from one instant to another."""

    mold_id: int
    from_at: datetime
    to_at: datetime | None


class ComponentCourse:
    """A component's count over time: the sum over the stretches in which it counted."""

    def __init__(
        self, stretches: Sequence[Stretch], *, courses: Sequence[CountCourse], opening: int
    ) -> None:
        self._stretches = stretches
        self._courses = courses
        self._starts = [
            self._count(course, stretch.from_at)
            for stretch, course in zip(stretches, courses, strict=True)
        ]
        self._bases = [opening]
        for place, stretch in enumerate(stretches):
            to_at = stretch.to_at or courses[place].newest_at
            counted = self._count(courses[place], to_at) - self._starts[place]
            self._bases.append(self._bases[-1] + max(0, counted))

    @staticmethod
    def _count(course: CountCourse, instant: datetime) -> int:
        return course.count_at(instant) or 0

    @property
    def newest_count(self) -> int:
        """The newest accepted count."""
        return self._bases[-1]

    @property
    def newest_at(self) -> datetime:
        """The instant of the newest accepted count."""
        last = self._stretches[-1]
        newest = self._courses[-1].newest_at
        return newest if last.to_at is None else min(newest, last.to_at)

    def count_at(self, instant: datetime) -> int | None:
        """See `moldcare.core.due.CountCourse.count_at`."""
        count = self._bases[0]
        for place, stretch in enumerate(self._stretches):
            if stretch.from_at > instant:
                break
            if stretch.to_at is not None and stretch.to_at <= instant:
                count = self._bases[place + 1]
            else:
                here = self._count(self._courses[place], instant) - self._starts[place]
                count = self._bases[place] + max(0, here)
        return count

    def passed_at(self, count: int) -> datetime | None:
        """See `moldcare.core.due.CountCourse.passed_at`."""
        if count <= self._bases[0] or count > self._bases[-1]:
            return None
        for place, stretch in enumerate(self._stretches):
            if count <= self._bases[place + 1]:
                passed = self._courses[place].passed_at(
                    self._starts[place] + count - self._bases[place]
                )
                return stretch.from_at if passed is None else max(passed, stretch.from_at)
        return None


@dataclass(frozen=True, slots=True)
class ComponentCourses:
    """A component's cycles and shots over time."""

    cycles: ComponentCourse
    shots: ComponentCourse


def component_courses(component_ids: Iterable[int]) -> dict[int, ComponentCourses]:
    """Return the courses of components that were ever fitted."""
    ids = set(component_ids)
    if not ids:
        return {}
    stretches = component_stretches(ids)
    courses = mold_courses({one.mold_id for rows in stretches.values() for one in rows})
    found: dict[int, ComponentCourses] = {}
    for component in Component.objects.filter(pk__in=ids):
        rows = [one for one in stretches.get(component.pk, []) if one.mold_id in courses]
        if not rows:
            continue
        found[component.pk] = ComponentCourses(
            cycles=ComponentCourse(
                rows,
                courses=[courses[one.mold_id].cycles for one in rows],
                opening=component.opening_cycles,
            ),
            shots=ComponentCourse(
                rows,
                courses=[courses[one.mold_id].shots for one in rows],
                opening=component.opening_shots,
            ),
        )
    return found


def component_stretches(component_ids: Iterable[int]) -> dict[int, list[Stretch]]:
    """Return where each component counted, in order: its stays, less blocked time if it forms."""
    events: dict[int, list[Fitting]] = {component_id: [] for component_id in component_ids}
    for fitting in (
        Fitting.objects.filter(component__in=events).select_related("position").order_by("at", "id")
    ):
        events[fitting.component_id].append(fitting)
    cavities = {
        row.position.cavity_id
        for rows in events.values()
        for row in rows
        if row.position and row.position.is_forming and row.position.cavity_id
    }
    blocks: dict[int, list[Block]] = {cavity: [] for cavity in cavities}
    for block in Block.objects.filter(cavity__in=cavities).order_by("at", "id"):
        blocks[block.cavity_id].append(block)
    found: dict[int, list[Stretch]] = {}
    for component_id, rows in events.items():
        stays: list[Stretch] = []
        for place, row in enumerate(rows):
            if row.position is None:
                continue
            to_at = rows[place + 1].at if place + 1 < len(rows) else None
            stay = Stretch(row.position.mold_id, row.at, to_at)
            forming = row.position.cavity_id if row.position.is_forming else None
            stays += _free(stay, blocks.get(forming, []) if forming else [])
        found[component_id] = stays
    return found


def _free(stay: Stretch, blocks: Sequence[Block]) -> list[Stretch]:
    """Return the parts of a stay in which the cavity was not blocked."""
    free: list[Stretch] = []
    begins: datetime | None = stay.from_at
    for block in blocks:
        if stay.to_at is not None and block.at >= stay.to_at:
            break
        if block.is_blocked and begins is not None:
            if block.at > begins:
                free.append(Stretch(stay.mold_id, begins, block.at))
            begins = None
        elif not block.is_blocked and begins is None:
            begins = max(block.at, stay.from_at)
    if begins is not None and (stay.to_at is None or begins < stay.to_at):
        free.append(Stretch(stay.mold_id, begins, stay.to_at))
    return free
