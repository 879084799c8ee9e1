"""Questions about molds: where they are, what sits in them, what state they are in."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Exists, OuterRef, Q, QuerySet, Subquery

from moldcare.core.water_map import WaterMap, water_map
from moldcare.logbook.models import Entry
from moldcare.molds.convert import (
    BlockSpan,
    FittingSpan,
    RunSpan,
    Stay,
    block_spans_of,
    fitting_spans_of,
    run_spans_of,
    stays_of,
    water_path,
)
from moldcare.molds.models import (
    Block,
    Cavity,
    Circuit,
    Component,
    ConditionNote,
    Fitting,
    MarkingPhoto,
    Mold,
    Move,
    MoveTakenBack,
    Owner,
    Position,
    Run,
    RunEvent,
    name_key,
)
from moldcare.plant.models import Spot


def molds_in_use() -> QuerySet[Mold]:
    """Return the molds that were not withdrawn, with their owners, M-2 before M-10."""
    return Mold.objects.filter(withdrawn_at__isnull=True).select_related("owner")


def molds_matching(text: str) -> list[Mold]:
    """Return molds in use whose number or name holds the text, whatever its case and spelling.

    Compared here and not in the database: SQLite knows upper and lower case of ASCII only. One
    slim query over all molds.
    """
    wanted = name_key(text)
    names = Mold.objects.filter(withdrawn_at__isnull=True).values_list("pk", "number_key", "name")
    found = [pk for pk, key, name in names if wanted in key or wanted in name_key(name)]
    rows = molds_in_use().filter(pk__in=found)
    return sorted(rows, key=lambda mold: (mold.sort_key, mold.number))


def mold_numbered(number: str) -> Mold | None:
    """Return the mold in use with this number, whatever its case and spelling."""
    return molds_in_use().filter(number_key=name_key(number)).first()


def moves_in_force() -> QuerySet[Move]:
    """Return the moves that were not taken back."""
    return Move.objects.filter(~Exists(MoveTakenBack.objects.filter(move=OuterRef("pk"))))


def _moves(*, at: datetime | None) -> QuerySet[Move]:
    moves = moves_in_force().select_related("spot")
    return moves if at is None else moves.filter(at__lte=at)


def place_of(mold: Mold, *, at: datetime | None = None) -> Move | None:
    """Return the move that brought a mold where it is, or was at an instant; None if unknown."""
    return _moves(at=at).filter(mold=mold).order_by("-at", "-id").first()


def places_of(molds: Iterable[int] | None = None, *, at: datetime | None = None) -> dict[int, Move]:
    """Return for each mold the move that brought it where it is, or was; all molds for None."""
    later = moves_in_force().filter(mold=OuterRef("mold"))
    if at is not None:
        later = later.filter(at__lte=at)
    moves = _moves(at=at).filter(pk=Subquery(later.order_by("-at", "-id").values("pk")[:1]))
    if molds is not None:
        moves = moves.filter(mold__in=list(molds))
    return {move.mold_id: move for move in moves}


def moves_around(mold: Mold, *, at: datetime) -> tuple[Move | None, Move | None]:
    """Return a mold's last move up to an instant, and its first one after it."""
    after = _moves(at=None).filter(mold=mold, at__gt=at).order_by("at", "id")
    return place_of(mold, at=at), after.first()


def stays(mold: Mold) -> list[Stay]:
    """Return where a mold was, oldest first."""
    return stays_of(_moves(at=None).filter(mold=mold).order_by("at", "id"))


def run_spans(*, mold: Mold | None = None, press: Spot | None = None) -> list[RunSpan]:
    """Return the runs of a mold, or in a press, or of both together; oldest first."""
    events = RunEvent.objects.select_related("mold", "press", "run").order_by("at", "id")
    if mold is not None:
        events = events.filter(mold=mold)
    if press is not None:
        events = events.filter(press=press)
    return run_spans_of(events)


def set_events_now(*, at: datetime | None = None) -> QuerySet[RunEvent]:
    """Return the events that set the molds which are in presses now, or were at an instant."""
    later = RunEvent.objects.filter(mold=OuterRef("mold"), at__gt=OuterRef("at"))
    events = RunEvent.objects.filter(act=RunEvent.Act.SET)
    if at is not None:
        later, events = later.filter(at__lte=at), events.filter(at__lte=at)
    return (
        events.filter(~Exists(later))
        .select_related("mold", "press", "run")
        .order_by("press__number", "at")
    )


def mold_in_press(press: Spot, *, at: datetime | None = None) -> RunEvent | None:
    """Return the event that set the mold which is in a press, or was at an instant."""
    events = RunEvent.objects.select_related("mold").filter(press=press)
    if at is not None:
        events = events.filter(at__lte=at)
    # where one is pulled and another set at one instant, the one that was set is in the press
    newest = events.order_by("-at", "-act", "-id").first()
    return newest if newest is not None and newest.act == RunEvent.Act.SET else None


def next_set_in(press: Spot, *, after: datetime) -> RunEvent | None:
    """Return the first event after an instant that set a mold in a press."""
    events = RunEvent.objects.select_related("mold").filter(press=press, act=RunEvent.Act.SET)
    return events.filter(at__gt=after).order_by("at", "id").first()


def run_to_begin(mold: Mold, *, press: Spot, at: datetime) -> Run | None:
    """Return the planned run that setting a mold in a press begins, if one was planned."""
    runs = Run.objects.filter(mold=mold, press=press, is_called_off=False, events__isnull=True)
    return (
        runs.filter(Q(planned_to__isnull=True) | Q(planned_to__gt=at))
        .order_by("planned_from")
        .first()
    )


def planned_runs(*, from_at: datetime, to_at: datetime) -> QuerySet[Run]:
    """Return planned runs that touch a span and were not called off, in order of their begin."""
    return (
        Run.objects.filter(is_called_off=False, planned_from__lt=to_at)
        .filter(Q(planned_to__isnull=True) | Q(planned_to__gt=from_at))
        .select_related("mold", "press")
    )


def block_spans(mold: Mold) -> list[BlockSpan]:
    """Return the spans in which cavities of a mold were blocked, oldest first."""
    return block_spans_of(Block.objects.filter(cavity__mold=mold).order_by("at", "id"))


def blocked_cavities(molds: Iterable[int] | None = None) -> dict[int, list[Cavity]]:
    """Return for each mold its cavities that are blocked now; molds with none are left out."""
    later = Block.objects.filter(cavity=OuterRef("cavity")).order_by("-at", "-id")
    blocks = Block.objects.filter(
        is_blocked=True, pk=Subquery(later.values("pk")[:1])
    ).select_related("cavity")
    if molds is not None:
        blocks = blocks.filter(cavity__mold__in=list(molds))
    found: dict[int, list[Cavity]] = {}
    for block in blocks.order_by("cavity_id"):
        found.setdefault(block.cavity.mold_id, []).append(block.cavity)
    return found


def position_of(component: Component, *, at: datetime | None = None) -> Fitting | None:
    """Return the newest fitting of a component, now or at an instant; no position is the shelf."""
    fittings = Fitting.objects.select_related("position__mold").filter(component=component)
    if at is not None:
        fittings = fittings.filter(at__lte=at)
    return fittings.order_by("-at", "-id").first()


def component_in(position: Position, *, at: datetime | None = None) -> Component | None:
    """Return the component that sits in a position, or sat at an instant."""
    return components_in([position.pk], at=at).get(position.pk)


def components_in(positions: Iterable[int], *, at: datetime | None = None) -> dict[int, Component]:
    """Return for each position the component in it, now or at an instant; empty ones left out."""
    newest = Fitting.objects.filter(component=OuterRef("component"))
    if at is not None:
        newest = newest.filter(at__lte=at)
    fittings = Fitting.objects.filter(
        position__in=list(positions), pk=Subquery(newest.order_by("-at", "-id").values("pk")[:1])
    ).select_related("component")
    return {row.position_id: row.component for row in fittings if row.position_id is not None}


def fitting_spans(mold: Mold) -> list[FittingSpan]:
    """Return which components sat in a mold's positions, oldest first."""
    components = Fitting.objects.filter(position__mold=mold).values("component")
    fittings = (
        Fitting.objects.filter(component__in=components)
        .select_related("component", "position")
        .order_by("at", "id")
    )
    return [span for span in fitting_spans_of(fittings) if span.position.mold_id == mold.pk]


def parts_out_of(mold: Mold) -> list[Position]:
    """Return positions of a mold that a component sat in once and that are empty now."""
    return parts_out_of_molds([mold.pk]).get(mold.pk, [])


def condition_of(mold: Mold) -> ConditionNote | None:
    """Return the newest note on a mold's condition."""
    return ConditionNote.objects.filter(mold=mold).order_by("-at", "-id").first()


def conditions_of(molds: Iterable[int] | None = None) -> dict[int, ConditionNote]:
    """Return for each mold the newest note on its condition; all molds for None."""
    later = ConditionNote.objects.filter(mold=OuterRef("mold")).order_by("-at", "-id")
    notes = ConditionNote.objects.filter(pk=Subquery(later.values("pk")[:1]))
    if molds is not None:
        notes = notes.filter(mold__in=list(molds))
    return {note.mold_id: note for note in notes}


@dataclass(frozen=True, kw_only=True, slots=True)
class MoldToday:
    """Where a mold is, its condition, and its blocked cavities."""

    mold: Mold
    place: Move | None
    condition: ConditionNote | None
    blocked: tuple[Cavity, ...]


def molds_today(molds: Iterable[Mold]) -> list[MoldToday]:
    """Return place, condition and blocked cavities of molds: three queries however many."""
    rows = list(molds)
    keys = [mold.pk for mold in rows]
    places, conditions, blocked = places_of(keys), conditions_of(keys), blocked_cavities(keys)
    return [
        MoldToday(
            mold=mold,
            place=places.get(mold.pk),
            condition=conditions.get(mold.pk),
            blocked=tuple(blocked.get(mold.pk, ())),
        )
        for mold in rows
    ]


def parts_out_of_molds(molds: Iterable[int]) -> dict[int, list[Position]]:
    """Return for each mold the positions that were filled once and are empty now.

    One query however many molds; molds with nothing out are left out.
    """
    here = Fitting.objects.filter(position=OuterRef("pk"))
    newest = Fitting.objects.filter(component=OuterRef("component")).order_by("-at", "-id")
    found: dict[int, list[Position]] = {}
    for position in (
        Position.objects.filter(Exists(here), mold__in=list(molds))
        .exclude(Exists(here.filter(pk=Subquery(newest.values("pk")[:1]))))
        .order_by("mold_id", "id")
    ):
        found.setdefault(position.mold_id, []).append(position)
    return found


def places_to_name(mold: Mold) -> tuple[list[str], list[str]]:
    """Return the names of a mold's positions, and those of its cavities."""
    positions = Position.objects.filter(mold=mold).order_by("id").values_list("ident", flat=True)
    cavities = Cavity.objects.filter(mold=mold).order_by("id").values_list("ident", flat=True)
    return list(positions), list(cavities)


def components_on_the_shelf() -> QuerySet[Component]:
    """Return the components that sit in no mold: taken out, or never fitted."""
    newest = Fitting.objects.filter(component=OuterRef("pk")).order_by("-at", "-id")
    return Component.objects.annotate(sits_in=Subquery(newest.values("position")[:1])).filter(
        sits_in__isnull=True
    )


def owner_named(name: str) -> Owner | None:
    """Return the owner with this name, whatever its case and spelling."""
    wanted = name_key(name)
    return next((row for row in owners_in_use() if name_key(row.name) == wanted), None)


def owners_in_use() -> QuerySet[Owner]:
    """Return the owners that were not withdrawn, by name."""
    return Owner.objects.filter(withdrawn_at__isnull=True).order_by("name", "pk")


def circuits_with_items(mold: Mold) -> list[Circuit]:
    """Return a mold's circuits, A half first, with what sits in them: two queries."""
    circuits = Circuit.objects.filter(mold=mold).order_by("half", "id")
    return list(circuits.prefetch_related("items__position"))


def water_map_of(mold: Mold) -> WaterMap:
    """Return which hose goes where on a mold."""
    return drawn_map(circuits_with_items(mold))


def drawn_map(circuits: Iterable[Circuit]) -> WaterMap:
    """Return which hose goes where between circuits that were read with their items."""
    return water_map([water_path(row, items=row.items.all()) for row in circuits])


def marking_of(mold: Mold) -> MarkingPhoto | None:
    """Return the newest photo of how a mold is marked."""
    photos = MarkingPhoto.objects.filter(mold=mold).select_related("file", "person")
    return photos.order_by("-at", "-id").first()


# the kind of the entries in which somebody notes that the mold itself was changed
MODIFICATION = "mold_changed"


def modifications_of(mold: Mold) -> QuerySet[Entry]:
    """Return the entries that say how a mold was changed from what it was, newest first."""
    return Entry.objects.filter(chain=mold.chain_id, kind=MODIFICATION).order_by("-number")
