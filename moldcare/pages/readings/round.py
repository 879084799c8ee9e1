"""The round: press by press, one row a running mold, with what its counter showed last."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime

from moldcare.core.counting.values import State
from moldcare.counters.convert import CycleTimes, microseconds, setup_of, shortest_us
from moldcare.counters.doubts import held_of, proposals_for
from moldcare.counters.models import Counter, CounterFitting, CounterTotal, Verdict
from moldcare.counters.queries import fittings_now, newest_reading_number
from moldcare.molds.models import CycleTime, Mold, sort_key
from moldcare.molds.queries import places_of, set_events_now
from moldcare.pages.readings.words import Offer, head_words, offer_of, why_words
from moldcare.plant.models import Spot

#: Of several held readings of one counter the newest are shown; the rest is on its own page.
HELD_SHOWN = 2
OFFERS_SHOWN = 3


@dataclass(frozen=True, kw_only=True, slots=True)
class HeldLine:
    """A held reading of a row: why, and what it may have meant."""

    reading_id: int
    head: str
    why: str
    offers: list[Offer]


@dataclass(kw_only=True, slots=True)
class RoundRow:
    """One counter to be read: where it is, what it showed last."""

    counter: Counter | None
    mold: Mold | None
    spot: Spot | None
    is_press_counter: bool = False
    newest_value: int | None = None
    newest_at: datetime | None = None
    held: list[HeldLine] = field(default_factory=list)
    shortest_ms: int = 0

    @property
    def wrap(self) -> int | None:
        """The count after which the counter begins again; None where it is not known."""
        return None if self.counter is None else setup_of(self.counter).wrap

    @property
    def newest_ms(self) -> int:
        """When it was read last, in milliseconds since 1970: what a page reckons with."""
        return 0 if self.newest_at is None else microseconds(self.newest_at) // 1000

    @property
    def key(self) -> str:
        """The name of its field; empty where nothing counts."""
        return f"counter-{self.counter.pk}" if self.counter is not None else ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Round:
    """Everything on the page: molds that run, and counters elsewhere."""

    running: list[RoundRow]
    others: list[RoundRow]

    @property
    def counted(self) -> list[RoundRow]:
        """The rows that have a field."""
        return [row for row in (*self.running, *self.others) if row.counter is not None]


def round_now(*, now: datetime) -> Round:
    """Read the round as it stands now: a fixed number of queries."""
    fittings = list(fittings_now())
    own = {row.mold_id: row.counter for row in fittings if row.mold_id is not None}
    of_press = {row.press_id: row.counter for row in fittings if row.press_id is not None}
    running = []
    for event in set_events_now():
        counter = own.get(event.mold_id)
        running.append(
            RoundRow(
                counter=counter or of_press.get(event.press_id),
                mold=event.mold,
                spot=event.press,
                is_press_counter=counter is None,
            )
        )
    running.sort(key=lambda row: (sort_key(row.spot.number) if row.spot else "", row.key))
    read = {row.counter.pk for row in running if row.counter is not None}
    others = _others(row for row in fittings if row.counter_id not in read)
    found = Round(running=running, others=others)
    _fill(found.counted, now=now)
    _pace(found.counted, now=now)
    return found


def _pace(rows: list[RoundRow], *, now: datetime) -> None:
    """Give the rows the shortest cycle that is believed of what they count now."""
    molds = {row.mold.pk for row in rows if row.mold is not None}
    known = CycleTimes(CycleTime.objects.filter(mold__in=molds).order_by("id"))
    newest = newest_reading_number()
    for row in rows:
        cycle = None if row.mold is None else known.in_force(row.mold.pk, at=now, known_by=newest)
        row.shortest_ms = max(1, shortest_us(cycle) // 1000)


def _others(fittings: Iterable[CounterFitting]) -> list[RoundRow]:
    """Return counters that no running mold is read by: on benches, away, and of presses."""
    rows = list(fittings)
    places = places_of({row.mold_id for row in rows if row.mold_id is not None})
    found = []
    for row in rows:
        if row.mold is None:
            found.append(
                RoundRow(counter=row.counter, mold=None, spot=row.press, is_press_counter=True)
            )
            continue
        place = places.get(row.mold.pk)
        # a mold in a rack does not run, and one that was withdrawn is not read
        if row.mold.withdrawn_at is None and (place is None or place.spot.kind != Spot.Kind.RACK):
            spot = None if place is None else place.spot
            found.append(RoundRow(counter=row.counter, mold=row.mold, spot=spot))
    found.sort(key=lambda row: (row.mold is None, row.mold.sort_key if row.mold else "", row.key))
    return found


def _fill(rows: list[RoundRow], *, now: datetime) -> None:
    """Give the rows what their counters showed last, and what is held since then."""
    totals = CounterTotal.objects.in_bulk({row.counter.pk for row in rows if row.counter})
    verdicts = {
        verdict.pk: verdict
        for verdict in Verdict.objects.filter(
            state=State.HELD,
            pk__in=[held[0] for total in totals.values() for held in total.open_held],
        ).select_related("reading")
    }
    meant = proposals_for(list(verdicts.values()))
    for row in rows:
        total = totals.get(row.counter.pk) if row.counter else None
        if total is None:
            continue
        row.newest_value, row.newest_at = total.newest_value, total.newest_at
        for entry in total.open_held[-HELD_SHOWN:]:
            verdict = verdicts.get(entry[0])
            held = None if verdict is None else held_of(verdict)
            if verdict is None or held is None:
                continue
            offers = [offer_of(each, now=now) for each in meant.get(verdict.pk, [])]
            row.held.append(
                HeldLine(
                    reading_id=verdict.pk,
                    head=head_words(held),
                    why=why_words(held, reading=verdict.reading, now=now),
                    offers=offers[:OFFERS_SHOWN],
                )
            )
