"""What the page of a mold's parts shows, in a number of queries that does not grow."""

from dataclasses import dataclass

from moldcare.core.water_map import WaterMap
from moldcare.molds.models import (
    Cavity,
    Circuit,
    Component,
    Configuration,
    Mold,
    Position,
    name_key,
)
from moldcare.molds.queries import (
    blocked_cavities,
    circuits_with_items,
    components_in,
    components_on_the_shelf,
    drawn_map,
)
from moldcare.pages.molds.water import WaterDrawing, drawing_of

SHELF_SHOWN = 12


@dataclass(frozen=True, kw_only=True, slots=True)
class CavityLine:
    """A cavity, and whether it is blocked."""

    cavity: Cavity
    is_blocked: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class SeatLine:
    """A position and the piece in it."""

    position: Position
    component: Component | None


@dataclass(frozen=True, kw_only=True, slots=True)
class Shelf:
    """Pieces on the shelf: a few of all, or of those with the text that was `asked` for."""

    asked: str
    pieces: list[Component]
    further: int


@dataclass(frozen=True, kw_only=True, slots=True)
class MoldParts:
    """Everything that a mold is made of."""

    cavities: list[CavityLine]
    seats: list[SeatLine]
    shelf: Shelf
    circuits: list[Circuit]
    configurations: list[Configuration]
    water: WaterMap
    drawing: WaterDrawing


def parts_of(mold: Mold, *, piece: str = "") -> MoldParts:
    """Read what a mold is made of, and the pieces on the shelf that a text asks for."""
    blocked = {row.pk for row in blocked_cavities([mold.pk]).get(mold.pk, [])}
    cavities = Cavity.objects.filter(mold=mold).order_by("id")
    positions = list(Position.objects.filter(mold=mold).select_related("cavity").order_by("id"))
    filled = components_in([row.pk for row in positions])
    circuits = circuits_with_items(mold)
    water = drawn_map(circuits)
    return MoldParts(
        cavities=[CavityLine(cavity=row, is_blocked=row.pk in blocked) for row in cavities],
        seats=[SeatLine(position=row, component=filled.get(row.pk)) for row in positions],
        shelf=_shelf(piece.strip()),
        circuits=circuits,
        configurations=list(Configuration.objects.filter(mold=mold).order_by("id")),
        water=water,
        drawing=drawing_of(water),
    )


def _shelf(asked: str) -> Shelf:
    wanted = name_key(asked)
    found = [row for row in components_on_the_shelf() if wanted in name_key(str(row))]
    return Shelf(asked=asked, pieces=found[:SHELF_SHOWN], further=max(0, len(found) - SHELF_SHOWN))
