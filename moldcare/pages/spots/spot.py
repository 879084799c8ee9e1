"""What the page of a place shows."""

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q

from moldcare.care.models import Board
from moldcare.counters.models import Counter
from moldcare.counters.queries import counters_on_now
from moldcare.molds.models import Run
from moldcare.plant.models import Spot

MOLDS_SHOWN = 100
RUNS_SHOWN = 6


@dataclass(frozen=True, kw_only=True, slots=True)
class SpotPage:
    """A place, the molds that are there, and for a press its counter and next runs."""

    spot: Spot
    boards: list[Board]
    more: int
    counter: Counter | None
    runs: list[Run]


def spot_page(spot: Spot, *, now: datetime) -> SpotPage:
    """Read the page of a place as it stands now."""
    here = Board.objects.filter(spot=spot, mold__withdrawn_at__isnull=True)
    boards = list(here.select_related("mold__owner").order_by("mold__sort_key")[:MOLDS_SHOWN])
    is_press = spot.kind == Spot.Kind.PRESS
    return SpotPage(
        spot=spot,
        boards=boards,
        more=here.count() - len(boards) if len(boards) == MOLDS_SHOWN else 0,
        counter=_counter(spot) if is_press else None,
        runs=_runs(spot, now=now) if is_press else [],
    )


def _counter(press: Spot) -> Counter | None:
    found = counters_on_now(presses=[press.pk])["press"].get(press.pk)
    return Counter.objects.select_related("total").filter(pk=found).first() if found else None


def _runs(press: Spot, *, now: datetime) -> list[Run]:
    """Return the runs in a press that were planned and not begun yet."""
    runs = Run.objects.filter(press=press, is_called_off=False, events__isnull=True)
    ahead = runs.filter(Q(planned_to__isnull=True) | Q(planned_to__gt=now))
    return list(ahead.select_related("mold").order_by("planned_from")[:RUNS_SHOWN])
