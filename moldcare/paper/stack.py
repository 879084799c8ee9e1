"""Flowables one under the other: measured, parted and drawn."""

from collections.abc import Sequence

from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

# Less than this of a row is not left alone at the foot of a page.
LEAST_PART = 30.0
# What is higher than this fits on no page and is cut wherever it stands.
FRESH_PAGE = 560.0


def stacked(flowables: Sequence[Flowable], *, width: float) -> tuple[list[float], float]:
    """Wrap flowables to a width; their heights with the space before each, and the sum."""
    heights = []
    for at, each in enumerate(flowables):
        before = each.getSpaceBefore() if at else 0.0
        heights.append(_height(each, width=width) + float(before))
    return heights, sum(heights)


def _height(flowable: Flowable, *, width: float) -> float:
    """Wrap a flowable once a width: a row of many lines is measured again on every page."""
    known: tuple[float, float] | None = getattr(flowable, "known_height", None)
    if known is None or known[0] != width:
        known = (width, float(flowable.wrap(width, 100_000)[1]))
        flowable.known_height = known
    return known[1]


def cut(
    flowables: Sequence[Flowable],
    *,
    heights: Sequence[float],
    width: float,
    room: float,
    tears_first_only: bool = False,
) -> tuple[list[Flowable], list[Flowable]]:
    """Part a stack at a height: what stays, and what goes on."""
    kept: list[Flowable] = []
    rest: list[Flowable] = list(flowables)
    while rest and heights[len(kept)] <= room:
        room -= heights[len(kept)]
        kept.append(rest.pop(0))
    if rest and not (kept and tears_first_only):
        before = rest[0].getSpaceBefore() if kept else 0.0
        # a paragraph that was asked to split forgets its lines
        rest[0].known_height = None
        parts = rest[0].split(width, room - before)
        if len(parts) > 1:
            kept.append(parts[0])
            rest[0:1] = parts[1:]
    return kept, rest


def draw_stacked(
    canvas: Canvas,
    flowables: Sequence[Flowable],
    *,
    heights: Sequence[float],
    x: float,
    top: float,
) -> None:
    """Draw wrapped flowables one under the other."""
    for each, height in zip(flowables, heights, strict=True):
        top -= height
        each.drawOn(canvas, x, top)
