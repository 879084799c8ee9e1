"""What the page of a mold's parts shows, in a number of queries that does not grow."""

from dataclasses import dataclass

from moldcare.core.water_map import WaterMap
from moldcare.molds.models import Cavity, Circuit, Component, Configuration, Mold, Position
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
class MoldParts:
    """Everything that a mold is made of."""

    cavities: list[CavityLine]
    seats: list[SeatLine]
    shelf: list[Component]
    shelf_further: int
    circuits: list[Circuit]
    configurations: list[Configuration]
    water: WaterMap
    drawing: WaterDrawing


def parts_of(mold: Mold) -> MoldParts:
    """Read what a mold is made of, and the pieces on the shelf."""
    blocked = {row.pk for row in blocked_cavities([mold.pk]).get(mold.pk, [])}
    cavities = Cavity.objects.filter(mold=mold).order_by("id")
    positions = list(Position.objects.filter(mold=mold).select_related("cavity").order_by("id"))
    filled = components_in([row.pk for row in positions])
    shelf = list(components_on_the_shelf())
    circuits = circuits_with_items(mold)
    water = drawn_map(circuits)
    return MoldParts(
        cavities=[CavityLine(cavity=row, is_blocked=row.pk in blocked) for row in cavities],
        seats=[SeatLine(position=row, component=filled.get(row.pk)) for row in positions],
        shelf=shelf[:SHELF_SHOWN],
        shelf_further=max(0, len(shelf) - SHELF_SHOWN),
        circuits=circuits,
        configurations=list(Configuration.objects.filter(mold=mold).order_by("id")),
        water=water,
        drawing=drawing_of(water),
    )
