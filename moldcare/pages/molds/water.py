"""The water map as a drawing: where its lines, signs and words stand.

A circuit is a line from IN at the left to OUT at the right, with what sits in it along the line.
The hose that feeds a looped circuit leaves at the right, goes down or up beside the lines, and
comes in through the gap above its circuit, where no other hose is.
"""

from dataclasses import dataclass

from moldcare.core.water_map import HoseKind, MappedCircuit, WaterMap

LEAST_LEFT, SIGN, LEAST_LENGTH, ITEM_STEP = 66, 11, 168, 34
HALF_HEAD, ROW, GAP = 34, 84, 22
LANE, END = 9, 7


@dataclass(frozen=True, kw_only=True, slots=True)
class DrawnItem:
    """A bubbler or baffle on its line."""

    kind: str
    number: str
    x: int


@dataclass(frozen=True, kw_only=True, slots=True)
class DrawnCircuit:
    """A circuit's line with its ends."""

    ident: str
    y: int
    items: tuple[DrawnItem, ...]
    is_fed_by_loop: bool
    goes_on: bool
    goes_to: str
    counted: int


@dataclass(frozen=True, kw_only=True, slots=True)
class DrawnHalf:
    """The head above the circuits of one half."""

    half: str
    y: int


@dataclass(frozen=True, kw_only=True, slots=True)
class WaterDrawing:
    """The whole drawing; `loops` are paths from an OUT to an IN.

    Every line begins `left` of the drawing's edge and is `length` long; items stand along it.
    """

    width: int
    height: int
    left: int
    length: int
    halves: tuple[DrawnHalf, ...]
    circuits: tuple[DrawnCircuit, ...]
    loops: tuple[str, ...]


def drawing_of(water: WaterMap) -> WaterDrawing:
    """Return where everything on a water map stands."""
    mapped = [each for half in water.halves for each in half.circuits]
    most = max((len(each.path.items) for each in mapped), default=0)
    longest = max((len(each.path.ident) for each in mapped), default=0)
    left = max(LEAST_LEFT, 3 * LANE + SIGN * longest)
    length = max(LEAST_LENGTH, (most + 1) * ITEM_STEP)
    heads, circuits, lines = [], [], {}
    y = 0
    for half in water.halves:
        heads.append(DrawnHalf(half=half.half, y=y + HALF_HEAD - 12))
        y += HALF_HEAD
        for each in half.circuits:
            lines[each.in_label] = lines[each.out_label] = y + GAP + (ROW - GAP) // 2
            circuits.append(_circuit(each, y=lines[each.in_label], length=length))
            y += ROW
    hoses = [hose for hose in water.hoses if hose.kind == HoseKind.LOOP]
    loops = tuple(
        _loop(
            from_y=lines[hose.from_label],
            to_y=lines[hose.to_label],
            left=left,
            right=left + length,
            lane=left + length + 2 * END + LANE * (n + 1),
        )
        for n, hose in enumerate(hoses)
    )
    return WaterDrawing(
        width=left + length + LEAST_LEFT + LANE * len(hoses),
        height=y + 8,
        left=left,
        length=length,
        halves=tuple(heads),
        circuits=tuple(circuits),
        loops=loops,
    )


def _circuit(each: MappedCircuit, *, y: int, length: int) -> DrawnCircuit:
    items = each.path.items
    step = length / (len(items) + 1)
    return DrawnCircuit(
        ident=each.path.ident,
        y=y,
        items=tuple(
            DrawnItem(kind=item.kind, number=item.number, x=round(step * n))
            for n, item in enumerate(items, start=1)
        ),
        is_fed_by_loop=bool(each.from_label),
        goes_on=bool(each.to_label),
        goes_to=each.to_label,
        counted=sum(count for _kind, count in each.path.counted),
    )


def _loop(*, from_y: int, to_y: int, left: int, right: int, lane: int) -> str:
    """Return the path of a hose: out at the right, along its lane, in through the gap."""
    gap = to_y - (ROW - GAP) // 2 - GAP // 2
    return f"M{right + END} {from_y}H{lane}V{gap}H{left - 2 * LANE}V{to_y}H{left - END}"
