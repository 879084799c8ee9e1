"""Questions about counters and readings."""

from collections.abc import Iterable
from datetime import datetime

from django.db import connection
from django.db.models import Count, Exists, Max, OuterRef, Q, QuerySet, Subquery

from moldcare.bulk import parts
from moldcare.core.counting.values import State
from moldcare.counters.models import (
    Counter,
    CounterFitting,
    Life,
    LifeSegment,
    Reading,
    ReadingDecision,
    Verdict,
)
from moldcare.molds.models import Fitting, Mold, RunEvent
from moldcare.plant.models import Spot

#: No database holds a larger key; addresses and buttons may name any number.
LARGEST_KEY = 2**63 - 1
NUMBERS_AT_ONCE = 5_000


def newest_reading_number() -> int:
    """Return the newest arrival number, 0 before the first reading.

    Facts that counting depends on keep it, so that a replay knows what was known when. Take it
    under the lock of the counters that the fact touches.
    """
    newest: int | None = Reading.objects.aggregate(newest=Max("id"))["newest"]
    return newest or 0


def lock_counters(counters: Iterable[int]) -> None:
    """Lock counters in one order until the transaction ends; readings of them arrive one by one.

    Where rows cannot be locked, the transaction itself is the only one that writes.
    """
    if not connection.features.has_select_for_update:
        return
    list(
        Counter.objects.select_for_update(no_key=True)
        .filter(pk__in=set(counters))
        .order_by("pk")
        .values_list("pk", flat=True)
    )


def lock_lives(*, counters: Iterable[int] = (), molds: Iterable[int] = ()) -> None:
    """Lock the lives of molds, and of all that counters ever counted for, in one order.

    Whoever derives takes them before anything is read: a signature would otherwise write
    standings by a life that a round of readings is moving, and each would wait for the other.
    """
    if not connection.features.has_select_for_update:
        return
    wanted = set(molds)
    fitted = CounterFitting.objects.filter(counter__in=set(counters))
    places = set(fitted.values_list("mold_id", "press_id"))
    wanted |= {mold_id for mold_id, _press_id in places if mold_id is not None}
    presses = {press_id for _mold_id, press_id in places if press_id is not None}
    if presses:
        wanted |= set(RunEvent.objects.filter(press__in=presses).values_list("mold_id", flat=True))
    wanted |= where_components_went(wanted)
    lives = Life.objects.select_for_update(no_key=True).filter(pk__in=wanted).order_by("pk")
    list(lives.values_list("pk", flat=True))


def where_components_went(molds: Iterable[int]) -> set[int]:
    """Return the other molds in which components sit now that sat in these before."""
    ids = set(molds)
    here = Fitting.objects.filter(position__mold__in=ids).values_list("component_id", flat=True)
    components = set(here)
    if not components:
        return set()
    newest = Fitting.objects.filter(component=OuterRef("component")).order_by("-at", "-id")
    now = Fitting.objects.filter(component__in=components, pk=Subquery(newest.values("pk")[:1]))
    elsewhere = now.filter(position__isnull=False).exclude(position__mold__in=ids)
    return set(elsewhere.values_list("position__mold_id", flat=True).order_by())


def fitted_to_molds(molds: Iterable[int]) -> set[int]:
    """Return the counters that were ever fitted to the molds."""
    return set(
        CounterFitting.objects.filter(mold__in=set(molds)).values_list("counter_id", flat=True)
    )


def counter_on(
    *, at: datetime, mold: Mold | None = None, press: Spot | None = None
) -> Counter | None:
    """Return the counter that sat on the mold or press at an instant."""
    where = Q(mold=mold) if mold is not None else Q(press=press)
    sitting: dict[int, Counter | None] = {}
    rows = CounterFitting.objects.filter(where, at__lte=at).select_related("counter")
    for row in rows.order_by("at", "id"):
        fitted = row.act == CounterFitting.Act.FITTED
        sitting[row.counter_id] = row.counter if fitted else None
    return next((counter for counter in reversed(sitting.values()) if counter), None)


def counters_on_now(
    *, molds: Iterable[int] = (), presses: Iterable[int] = ()
) -> dict[str, dict[int, int]]:
    """Return which counter sits on each mold and press: {"mold": {...}, "press": {...}}."""
    rows = (
        CounterFitting.objects.filter(Q(mold__in=set(molds)) | Q(press__in=set(presses)))
        .order_by("at", "id")
        .values_list("mold_id", "press_id", "counter_id", "act")
    )
    found: dict[str, dict[int, int]] = {"mold": {}, "press": {}}
    for mold_id, press_id, counter_id, act in rows:
        place, key = ("mold", mold_id) if mold_id else ("press", press_id)
        if act == CounterFitting.Act.FITTED:
            found[place][key] = counter_id
        elif found[place].get(key) == counter_id:
            del found[place][key]
    return found


def held_readings() -> QuerySet[Verdict]:
    """Return the verdicts on readings that wait for a person, oldest arrival first."""
    return (
        Verdict.objects.filter(state=State.HELD)
        .select_related("reading__counter", "reading__person")
        .order_by("reading_id")
    )


def molds_of_counters(counters: Iterable[int]) -> dict[int, tuple[int, str]]:
    """Return (id, number) of the mold that each counter sits on now; a press's has none here."""
    rows = (
        CounterFitting.objects.filter(counter__in=set(counters), mold__isnull=False)
        .order_by("at", "id")
        .values_list("counter_id", "mold_id", "mold__number", "act")
    )
    found: dict[int, tuple[int, str]] = {}
    for counter_id, mold_id, number, act in rows:
        if act == CounterFitting.Act.FITTED and mold_id is not None:
            found[counter_id] = (mold_id, str(number))
        else:
            found.pop(counter_id, None)
    return found


def fittings_now() -> QuerySet[CounterFitting]:
    """Return where each counter sits now; counters that sit nowhere are left out."""
    later = CounterFitting.objects.filter(counter=OuterRef("counter")).filter(
        Q(at__gt=OuterRef("at")) | Q(at=OuterRef("at"), pk__gt=OuterRef("pk"))
    )
    return (
        CounterFitting.objects.filter(~Exists(later), act=CounterFitting.Act.FITTED)
        .select_related("counter", "mold", "press")
        .order_by("at", "id")
    )


def reading_numbered(number: int) -> Reading | None:
    """Return the reading with an arrival number."""
    if number > LARGEST_KEY:
        return None
    return Reading.objects.select_related("counter").filter(pk=number).first()


def verdict_on(number: int) -> Verdict | None:
    """Return what became of a reading, with the reading, its counter and who read it."""
    if number > LARGEST_KEY:
        return None
    rows = Verdict.objects.select_related("reading__counter", "reading__person")
    return rows.filter(pk=number).first()


def ambiguous_verdicts() -> QuerySet[Verdict]:
    """Return accepted readings of unsure lives whose span can be read in several ways."""
    unsure = LifeSegment.objects.filter(is_unsure=True, counter__isnull=False).values("counter")
    return (
        Verdict.objects.filter(
            reading__counter__in=unsure, state=State.ACCEPTED, detail__isnull=False
        )
        .select_related("reading__counter", "reading__person")
        .order_by("reading_id")
    )


def decisions_about(reading: int) -> QuerySet[ReadingDecision]:
    """Return what people decided about a reading, oldest first."""
    rows = ReadingDecision.objects.select_related("person", "replaced_by")
    return rows.filter(reading=reading).order_by("id")


def loose_counters() -> QuerySet[Counter]:
    """Return the counters that sit on no mold and no press: removed, or never fitted."""
    newest = CounterFitting.objects.filter(counter=OuterRef("pk")).order_by("-at", "-id")
    counters = Counter.objects.annotate(last_act=Subquery(newest.values("act")[:1]))
    return counters.filter(Q(last_act__isnull=True) | Q(last_act=CounterFitting.Act.REMOVED))


def newest_instants(counters: Iterable[int]) -> dict[int, datetime]:
    """Return when each counter was read last, by what was read and not by what was accepted."""
    rows = Reading.objects.filter(counter__in=set(counters)).values("counter")
    return dict(rows.annotate(newest=Max("at")).order_by().values_list("counter", "newest"))


def judged_in_batch(batch: int, *, after: int, anew: Iterable[int] = ()) -> dict[str, int]:
    """Return how many readings of an import were accepted, estimated or held.

    Only those after an arrival number are looked at, and those that it had judged `anew`.
    """
    found: dict[str, int] = {}
    fresh = Verdict.objects.filter(reading_id__gt=after, reading__batch_id=batch)
    again = [Verdict.objects.filter(pk__in=some) for some in parts(anew, size=NUMBERS_AT_ONCE)]
    for rows in (fresh, *again):
        counted = rows.values("state", "reading__source").annotate(number=Count("pk")).order_by()
        for state, source, number in counted.values_list("state", "reading__source", "number"):
            word = "estimated" if source == Reading.Source.ESTIMATED else "accepted"
            word = "held" if state == State.HELD else word
            found[word] = found.get(word, 0) + number
    return found


def decided_among(numbers: Iterable[int], *, but_by: Iterable[int]) -> dict[int, ReadingDecision]:
    """Return the last decision about those of the readings about which somebody decided.

    That an import brought a reading anew counts for nothing where it is one of `but_by`.
    """
    found: dict[int, ReadingDecision] = {}
    batches = set(but_by)
    for some in parts(numbers, size=NUMBERS_AT_ONCE):
        rows = ReadingDecision.objects.filter(reading__in=some).order_by("id")
        for row in rows:
            found[row.reading_id] = row
            if row.kind == ReadingDecision.Kind.JUDGE_ANEW and row.batch_id in batches:
                del found[row.reading_id]
    return found


def judged_anew_in(batches: Iterable[int]) -> set[int]:
    """Return the readings that were there and that imports brought again, to be judged anew."""
    rows = ReadingDecision.objects.filter(
        batch_id__in=set(batches), kind=ReadingDecision.Kind.JUDGE_ANEW
    )
    return set(rows.values_list("reading_id", flat=True))


def taken_back_among(numbers: Iterable[int]) -> set[int]:
    """Return those of the readings that are set aside because a whole import was taken back."""
    found: set[int] = set()
    for some in parts(numbers, size=NUMBERS_AT_ONCE):
        rows = ReadingDecision.objects.filter(reading__in=some).order_by("id")
        for reading, kind, batch in rows.values_list("reading_id", "kind", "batch_id"):
            if kind == ReadingDecision.Kind.SET_ASIDE and batch is not None:
                found.add(reading)
            else:
                found.discard(reading)
    return found


def held_among(numbers: Iterable[int]) -> dict[int, Verdict]:
    """Return the verdicts on those of the readings that are held, by arrival number."""
    wanted = set(numbers)
    if not wanted:
        return {}
    rows = Verdict.objects.filter(
        state=State.HELD, pk__gte=min(wanted), pk__lte=max(wanted)
    ).select_related("reading")
    return {row.pk: row for row in rows if row.pk in wanted}
