"""Rows of molds as plain values: stays, runs and spans that follow from the facts."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from moldcare.core.water_map import InlineItem, InlineKind, WaterPath
from moldcare.molds.models import (
    Block,
    Circuit,
    CircuitItem,
    Component,
    Fitting,
    Move,
    Position,
    RunEvent,
)
from moldcare.plant.models import Spot


@dataclass(frozen=True, kw_only=True, slots=True)
class Stay:
    """A mold at a spot from one instant to another; `to_at` is None while it is there."""

    spot: Spot
    from_at: datetime
    to_at: datetime | None


@dataclass(frozen=True, kw_only=True, slots=True)
class RunSpan:
    """A mold in a press from set to pulled; `pulled` is None while it is there."""

    set: RunEvent
    pulled: RunEvent | None


@dataclass(frozen=True, kw_only=True, slots=True)
class FittingSpan:
    """A component in a position from one instant to another; `to_at` is None while it is there."""

    component: Component
    position: Position
    from_at: datetime
    to_at: datetime | None


@dataclass(frozen=True, kw_only=True, slots=True)
class BlockSpan:
    """A cavity that was shut off from one instant to another; `to_at` is None while it is."""

    cavity_id: int
    from_at: datetime
    to_at: datetime | None
    reason: str


def stays_of(moves: Iterable[Move]) -> list[Stay]:
    """Return the stays of one mold from its moves in the order of time."""
    return [
        Stay(spot=move.spot, from_at=move.at, to_at=following.at if following else None)
        for move, following in pairwise([*moves, None])
        if move is not None
    ]


def run_spans_of(events: Iterable[RunEvent]) -> list[RunSpan]:
    """Return the runs from set and pulled events in the order of time, by when each began."""
    spans: list[RunSpan] = []
    begun: dict[int, int] = {}
    for event in events:
        if event.act == RunEvent.Act.SET:
            begun[event.mold_id] = len(spans)
            spans.append(RunSpan(set=event, pulled=None))
        elif event.mold_id in begun:
            at = begun.pop(event.mold_id)
            spans[at] = RunSpan(set=spans[at].set, pulled=event)
    return spans


def fitting_spans_of(fittings: Iterable[Fitting]) -> list[FittingSpan]:
    """Return where components sat, from their fittings in the order of time."""
    spans: list[FittingSpan] = []
    sits: dict[int, int] = {}
    for row in fittings:
        if row.component_id in sits:
            at = sits.pop(row.component_id)
            before = spans[at]
            spans[at] = FittingSpan(
                component=before.component,
                position=before.position,
                from_at=before.from_at,
                to_at=row.at,
            )
        if row.position is not None:
            sits[row.component_id] = len(spans)
            spans.append(
                FittingSpan(
                    component=row.component, position=row.position, from_at=row.at, to_at=None
                )
            )
    return spans


def block_spans_of(blocks: Iterable[Block]) -> list[BlockSpan]:
    """Return in which spans cavities were blocked, from their blocks in the order of time.

    A cavity that was entered as blocked twice is blocked from the first on.
    """
    spans: list[BlockSpan] = []
    shut: dict[int, int] = {}
    for row in blocks:
        at = shut.get(row.cavity_id)
        if row.is_blocked and at is None:
            shut[row.cavity_id] = len(spans)
            spans.append(
                BlockSpan(cavity_id=row.cavity_id, from_at=row.at, to_at=None, reason=row.reason)
            )
        elif not row.is_blocked and at is not None:
            before = spans[shut.pop(row.cavity_id)]
            spans[at] = BlockSpan(
                cavity_id=before.cavity_id,
                from_at=before.from_at,
                to_at=row.at,
                reason=before.reason,
            )
    return spans


def water_path(circuit: Circuit, *, items: Iterable[CircuitItem]) -> WaterPath:
    """Return a circuit with what sits in it, `items` in their order, as the water map takes it."""
    counted = (
        (InlineKind.BUBBLER, circuit.bubblers),
        (InlineKind.STRAIGHT_BAFFLE, circuit.straight_baffles),
        (InlineKind.SPIRAL_BAFFLE, circuit.spiral_baffles),
    )
    listed = tuple(
        InlineItem(
            kind=InlineKind(item.kind),
            number=item.number,
            at=item.position.ident if item.position else item.at,
        )
        for item in items
    )
    return WaterPath(
        ident=circuit.ident,
        half=circuit.half,
        items=listed,
        counted=() if listed else tuple(each for each in counted if each[1]),
        looped_with=circuit.looped_with,
        couplings=circuit.couplings,
        medium=circuit.medium,
    )
