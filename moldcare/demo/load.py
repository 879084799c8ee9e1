"""Making the demo plant: two years of a simulated plant, through the acts."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.apps import apps

from moldcare.core.shifts import Shift
from moldcare.counters.models import Reading
from moldcare.demo.auxiliary_care import look_after_auxiliaries
from moldcare.demo.board import read_board
from moldcare.demo.care_work import hand_out_work
from moldcare.demo.catalog import MOLDS, PRESSES, ZONE, MoldSpec, PressSpec
from moldcare.demo.finish import OPEN_FOR, finish, is_left_open, plan_last_days
from moldcare.demo.habits import Rates
from moldcare.demo.held import settle_held
from moldcare.demo.masters import set_up
from moldcare.demo.mishaps import plan_mishaps
from moldcare.demo.planning import first_wishes, plan_presses
from moldcare.demo.rounds import plan_round
from moldcare.demo.simulation import Simulation, Streams
from moldcare.demo.trouble import look_for_trouble
from moldcare.logbook.models import Entry
from moldcare.plant.queries import the_calendar, the_plant
from moldcare.work.models import Order

# for so long somebody has looked at the board every day and every shift has read the counters;
# before that it was every second Monday, and one round a day
DAILY_DAYS = 60
NEWEST = time(6, 42)


@dataclass(frozen=True, kw_only=True, slots=True)
class Loaded:
    """What came of it."""

    simulation: Simulation
    acts: int
    readings: int
    orders: int
    entries: int
    rows: int


def load_demo(
    *,
    today: date,
    seed: int = 1,
    days: int = 730,
    molds: tuple[MoldSpec, ...] = MOLDS,
    presses: tuple[PressSpec, ...] = PRESSES,
    by_shift: bool = False,
    until: datetime | None = None,
    diligence: float = 0.92,
    watch: Callable[[Simulation, datetime], None] | None = None,
) -> Loaded:
    """Make the plant in an empty database, up to the morning of a day.

    Parameters
    ----------
    today : date
        The day in whose early shift the newest facts lie.
    seed : int
        Another number gives another plant.
    days : int
        How far back the records begin.
    until : datetime or None
        Nothing is newer than this.
    """
    zone = ZoneInfo(ZONE)
    stop = datetime.combine(today, NEWEST, tzinfo=zone)
    if until is not None:
        stop = min(stop, until)
    start = datetime.combine(today - timedelta(days=days), time(5, 0), tzinfo=zone)
    streams = Streams(seed=seed)
    utc = ZoneInfo("UTC")
    start, stop = start.astimezone(utc), stop.astimezone(utc)
    plant = set_up(start, rng=streams["masters"], molds=molds, presses=presses, until=today)
    sim = Simulation(
        plant=plant,
        calendar=the_calendar(the_plant()),
        rng=streams,
        rates=Rates(),
        start=start,
        stop=stop,
        diligence=diligence,
    )
    for number, mold in plant.molds.items():
        place = mold.moves.select_related("spot").latest("at").spot
        sim.places[number] = (place.kind, place.number)
    busy = today - timedelta(days=int(days * 0.36))
    sim.busy_on = (busy, busy + timedelta(days=6))
    if not by_shift:
        sim.rounds_from = stop - timedelta(days=DAILY_DAYS)
        plan_last_days(sim)
    first_wishes(sim)
    plan_mishaps(sim)
    sim.go(
        by_shift=by_shift,
        daily_from=today - timedelta(days=DAILY_DAYS),
        morning=_morning,
        shift_begins=_shift_begins,
        watch=watch,
    )
    if not by_shift:
        finish(sim)
    return Loaded(
        simulation=sim,
        acts=sim.acts,
        readings=Reading.objects.count(),
        orders=Order.objects.count(),
        entries=Entry.objects.count(),
        rows=rows_total(),
    )


def _morning(sim: Simulation, now: datetime) -> None:
    read_board(sim, now)
    if not (sim.leaves_open and now > sim.stop - OPEN_FOR):
        settle_held(sim, now)
    plan_presses(sim, now)
    if not is_left_open(sim, now):
        hand_out_work(sim, now)
        look_after_auxiliaries(sim, now)


def _shift_begins(sim: Simulation, shift: Shift) -> None:
    plan_round(sim, shift)
    look_for_trouble(sim, shift)


def rows_total() -> int:
    """Return how many rows the database holds."""
    ours = [model for model in apps.get_models() if model.__module__.startswith("moldcare.")]
    return sum(model._default_manager.count() for model in ours)
