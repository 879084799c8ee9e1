"""Deriving everything again from the facts, to write it or to check what is there."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import models, transaction

from moldcare.bulk import insert, insert_values, roomy
from moldcare.care.derive import boards_of, standings_of
from moldcare.care.models import Board, CareRule, Standing
from moldcare.care.mold_facts import mold_facts
from moldcare.care.queries import rules_in_force
from moldcare.core.counting.values import Judged
from moldcare.counters.counter_facts import counter_facts
from moldcare.counters.derive import (
    VERDICT_COLUMNS,
    VerdictValues,
    judge_stored,
    total_row,
    verdict_values,
)
from moldcare.counters.history import courses_of
from moldcare.counters.life import lives_of, segment_rows
from moldcare.counters.models import (
    Counter,
    CounterFitting,
    CounterTotal,
    Life,
    LifeSegment,
    Verdict,
)
from moldcare.counters.run_events import run_events_of
from moldcare.molds.models import Mold
from moldcare.plant.queries import the_calendar, the_plant

COUNTERS_AT_ONCE = 50
MOLDS_AT_ONCE = 50
# verdicts on presses' counters are kept for the next molds, up to so many readings
READINGS_KEPT = 200_000

# answers about old knots, kept so as not to be worked out twice: not part of what is derived
NOT_COMPARED = {"memo"}


@dataclass(frozen=True, kw_only=True, slots=True)
class Difference:
    """The first place where a derived table does not hold what the facts say."""

    table: str
    key: str
    column: str
    stored: Any
    derived: Any

    def __str__(self) -> str:
        return (
            f"{self.table} {self.key}: {self.column} is {self.stored!r}, "
            f"the facts say {self.derived!r}."
        )


@dataclass(frozen=True, slots=True)
class Verdicts:
    """The verdicts on one counter's readings, which are too many for a row object each."""

    counter_id: int
    judged: Judged

    def __len__(self) -> int:
        return len(self.judged.ids)

    def values(self) -> Iterator[VerdictValues]:
        """Give the values of the rows."""
        return verdict_values(self.counter_id, self.judged)


Rows = Sequence[models.Model] | Verdicts


def rebuild() -> int:
    """Drop every derived row and derive all of them again; return how many there are."""
    written = 0
    with roomy(), transaction.atomic():
        for model in (Board, Standing, Life, LifeSegment, CounterTotal, Verdict):
            model.objects.all().delete()
        for rows in derived_rows():
            if isinstance(rows, Verdicts):
                insert_values(Verdict, VERDICT_COLUMNS, rows.values())
            else:
                insert(rows)
            written += len(rows)
    return written


def first_difference() -> Difference | None:
    """Derive everything again without writing and return the first row that differs."""
    seen: dict[type[models.Model], int] = {}
    model: type[models.Model]
    for rows in derived_rows():
        if not rows:
            continue
        if isinstance(rows, Verdicts):
            model, difference = Verdict, _compare_verdicts(rows)
        else:
            model, difference = type(rows[0]), _compare(type(rows[0]), rows)
        seen[model] = seen.get(model, 0) + len(rows)
        if difference is not None:
            return difference
    for model in (Verdict, CounterTotal, LifeSegment, Life, Standing, Board):
        stored = model._default_manager.count()
        if stored != seen.get(model, 0):
            return Difference(
                table=model._meta.db_table,
                key="all rows",
                column="number of rows",
                stored=stored,
                derived=seen.get(model, 0),
            )
    return None


def derived_rows() -> Iterator[Rows]:
    """Give every derived row in batches, from the facts alone.

    A counter is judged once, for its own verdicts and for the molds that it counted for.
    """
    plant = the_plant()
    calendar = the_calendar(plant)
    judged: dict[int, Judged] = {}
    given: set[int] = set()
    for ids in _batches(Mold.objects.order_by("id"), size=MOLDS_AT_ONCE):
        run_events = run_events_of(ids)
        lives = lives_of(set(ids), judged=judged, plant=plant, run_events=run_events)
        for counter_id in judged.keys() - given:
            yield from _counter_rows(counter_id, judged[counter_id])
        given |= judged.keys()
        judged = _kept(judged)
        yield [row for life, whole in lives for row in segment_rows(life.mold_id, whole)]
        rules = rules_in_force(molds=ids)
        courses = courses_of(lives, run_events=run_events)
        known = mold_facts(set(ids), rules=rules, courses=courses, run_events=run_events)
        standings = standings_of(rules, facts=known, calendar=calendar)
        for one in known.values():
            one.course.life.memo = one.course.memo()
        yield [life for life, _whole in lives]
        yield standings
        yield boards_of(known, standings)
    # a counter that was never fitted counts for nothing and has no total
    idle = Counter.objects.filter(fittings__isnull=False).distinct().order_by("id")
    rest = [number for number in idle.values_list("id", flat=True) if number not in given]
    for ids in _parts(rest, size=COUNTERS_AT_ONCE):
        facts = counter_facts(ids)
        for counter_id in ids:
            yield from _counter_rows(counter_id, judge_stored(counter_id, facts=facts))
    auxiliaries = CareRule.objects.filter(auxiliary__isnull=False, withdrawn_at__isnull=True)
    ids = list(auxiliaries.values_list("auxiliary_id", flat=True).distinct())
    yield standings_of(rules_in_force(auxiliaries=ids), facts={}, calendar=calendar)


def _counter_rows(counter_id: int, judged: Judged) -> Iterator[Rows]:
    yield Verdicts(counter_id, judged)
    yield [total_row(counter_id, judged)]


def _kept(judged: dict[int, Judged]) -> dict[int, Judged]:
    """Return the verdicts that more molds may need: those on presses' counters."""
    on_presses = set(
        CounterFitting.objects.filter(
            counter__in=list(judged), act=CounterFitting.Act.FITTED, press__isnull=False
        ).values_list("counter_id", flat=True)
    )
    kept: dict[int, Judged] = {}
    readings = 0
    # the newest first
    for counter_id, each in reversed(judged.items()):
        readings += len(each.ids)
        if counter_id in on_presses and readings <= READINGS_KEPT:
            kept[counter_id] = each
    return dict(reversed(kept.items()))


def _batches(rows: models.QuerySet[Any], *, size: int) -> Iterable[list[int]]:
    return _parts(list(rows.values_list("id", flat=True)), size=size)


def _parts(ids: list[int], *, size: int) -> Iterable[list[int]]:
    return (ids[first : first + size] for first in range(0, len(ids), size))


def _compare_verdicts(verdicts: Verdicts) -> Difference | None:
    stored: dict[int, tuple[Any, ...]] = {}
    for ids in _parts(verdicts.judged.ids, size=500):
        rows = Verdict.objects.filter(pk__in=ids).values_list(*VERDICT_COLUMNS)
        stored |= {row[0]: row for row in rows}
    for derived in verdicts.values():
        there = stored.get(derived[0])
        if there == derived:
            continue
        column, found, meant = next(
            each
            for each in zip(VERDICT_COLUMNS, there or (None,), derived, strict=False)
            if each[1] != each[2]
        )
        return Difference(
            table=Verdict._meta.db_table,
            key=str(derived[0]),
            column=column,
            stored=found,
            derived=meant,
        )
    return None


def _compare(model: type[models.Model], rows: Sequence[models.Model]) -> Difference | None:
    key_name = "key" if model is LifeSegment else model._meta.pk.attname
    names = [
        field.attname
        for field in model._meta.concrete_fields
        if field.attname not in NOT_COMPARED and not (model is LifeSegment and field.primary_key)
    ]
    stored = _stored(model, rows)
    for row in rows:
        key = _key(row)
        there = stored.pop(key, None)
        if there is None:
            return Difference(
                table=model._meta.db_table,
                key=str(key),
                column=key_name,
                stored=None,
                derived=key,
            )
        for name in names:
            if getattr(there, name) != getattr(row, name):
                return Difference(
                    table=model._meta.db_table,
                    key=str(key),
                    column=name,
                    stored=getattr(there, name),
                    derived=getattr(row, name),
                )
    return None


def _key(row: models.Model) -> Any:
    if isinstance(row, LifeSegment):
        return (row.mold_id, row.from_at)
    return row.pk


def _stored(model: type[models.Model], rows: Sequence[models.Model]) -> dict[Any, models.Model]:
    """Return what is stored where the derived rows belong."""
    if model is LifeSegment:
        molds = {row.mold_id for row in rows if isinstance(row, LifeSegment)}
        return {_key(row): row for row in LifeSegment.objects.filter(mold__in=molds)}
    found: dict[Any, models.Model] = {}
    keys = [row.pk for row in rows]
    for first in range(0, len(keys), 500):
        found |= model._default_manager.in_bulk(keys[first : first + 500])
    return found
