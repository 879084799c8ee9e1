"""The ledger on paper: ruled rows with their times in the margin, which split over pages."""

from collections.abc import Callable, Sequence
from enum import Enum
from typing import Any

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from moldcare.paper.marks import draw_hatching
from moldcare.paper.styles import FINE_LINE, INK, LINE, RUST, SOFT_INK

MARGIN_WIDTH = 25 * mm
MARGIN_GAP = 9.0
SIDE_GAP = 10.0
ROW_PAD = 5.0
# Less than this of a row is not left alone at the foot of a page.
LEAST_PART = 30.0
# What is higher than this fits on no page and is cut wherever it stands.
FRESH_PAGE = 560.0


class Edge(Enum):
    """The line between margin and entry: state shows by edge and word, never by hue alone."""

    PLAIN = "plain"
    DOTTED = "dotted"
    SOLID = "solid"
    DOUBLE = "double"
    DASHED = "dashed"


def draw_edge(canvas: Canvas, *, edge: Edge, x: float, bottom: float, top: float) -> None:
    """Draw a standing line in the manner of a state."""
    canvas.saveState()
    match edge:
        case Edge.PLAIN:
            canvas.setStrokeColor(LINE)
            canvas.setLineWidth(0.9)
            canvas.line(x, bottom, x, top)
        case Edge.DOTTED:
            canvas.setStrokeColor(SOFT_INK)
            canvas.setLineWidth(1.8)
            canvas.setLineCap(1)
            canvas.setDash(0.01, 4)
            canvas.line(x, bottom, x, top)
        case Edge.SOLID:
            canvas.setStrokeColor(RUST)
            canvas.setLineWidth(2.2)
            canvas.line(x, bottom, x, top)
        case Edge.DOUBLE:
            canvas.setStrokeColor(RUST)
            canvas.setLineWidth(1.2)
            canvas.line(x - 1.4, bottom, x - 1.4, top)
            canvas.line(x + 1.4, bottom, x + 1.4, top)
        case Edge.DASHED:
            canvas.setStrokeColor(SOFT_INK)
            canvas.setLineWidth(1.8)
            canvas.setDash(5, 3)
            canvas.line(x, bottom, x, top)
    canvas.restoreState()


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


class LedgerRow(Flowable):  # type: ignore[misc]
    """One row: what stands in the margin, the entry, and what is written by hand beside it.

    A row that does not fit is split; the part on the next page begins with `carried`, which
    names the row again.
    """

    def __init__(
        self,
        body: Sequence[Flowable],
        *,
        margin: Sequence[Flowable] = (),
        side: Sequence[Flowable] = (),
        side_width: float = 0.0,
        carried: Callable[[], Sequence[Flowable]] | None = None,
        edge: Edge = Edge.PLAIN,
        margin_width: float = MARGIN_WIDTH,
        pad: float = ROW_PAD,
        has_rule: bool = True,
        indent: float = 0.0,
    ) -> None:
        super().__init__()
        self.indent = indent
        self.body, self.margin, self.side = list(body), list(margin), list(side)
        self.side_width, self.margin_width, self.pad = side_width, margin_width, pad
        self.carried, self.edge, self.has_rule = carried, edge, has_rule

    def _body_width(self, width: float) -> float:
        aside = self.side_width + SIDE_GAP if self.side else 0.0
        gap = MARGIN_GAP if self.margin_width else 0.0
        return width - self.margin_width - gap - aside - self.indent

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        """Measure the row."""
        self.width = available_width
        self.body_heights, body_height = stacked(self.body, width=self._body_width(available_width))
        self.margin_heights, margin_height = stacked(
            self.margin, width=self.margin_width - MARGIN_GAP
        )
        self.side_heights, side_height = stacked(self.side, width=self.side_width)
        self.height = max(body_height, margin_height, side_height) + 2 * self.pad
        return self.width, self.height

    def split(self, available_width: float, available_height: float) -> list[Flowable]:
        """Cut the row where the page ends."""
        self.wrap(available_width, available_height)
        room = available_height - 2 * self.pad
        beside = max(sum(self.margin_heights), sum(self.side_heights))
        if room < LEAST_PART or room < beside <= FRESH_PAGE:
            return []
        body, body_rest = cut(
            self.body,
            heights=self.body_heights,
            width=self._body_width(available_width),
            room=room,
        )
        margin, margin_rest = cut(
            self.margin,
            heights=self.margin_heights,
            width=self.margin_width - MARGIN_GAP,
            room=room,
        )
        side, side_rest = cut(
            self.side, heights=self.side_heights, width=self.side_width, room=room
        )
        is_whole = not (body_rest or margin_rest or side_rest)
        if is_whole or (self.body and not body):
            return []
        named_again = margin_rest or (self.carried() if self.carried else ())
        return [
            self._part(body, margin=margin, side=side, has_rule=False),
            self._part(body_rest, margin=named_again, side=side_rest, has_rule=self.has_rule),
        ]

    def _part(
        self,
        body: Sequence[Flowable],
        *,
        margin: Sequence[Flowable],
        side: Sequence[Flowable],
        has_rule: bool,
    ) -> "LedgerRow":
        return LedgerRow(
            body,
            margin=margin,
            side=side,
            side_width=self.side_width,
            carried=self.carried,
            edge=self.edge,
            margin_width=self.margin_width,
            pad=self.pad,
            has_rule=has_rule,
            indent=self.indent,
        )

    def draw(self) -> None:
        """Draw the row with its rule beneath and the edge of its margin."""
        canvas = self.canv
        top = self.height - self.pad
        draw_stacked(canvas, self.margin, heights=self.margin_heights, x=0, top=top)
        if self.margin_width:
            draw_edge(
                canvas,
                edge=self.edge,
                x=self.margin_width,
                bottom=2.5,
                top=self.height - 2.5,
            )
        left = self.margin_width + self.indent + (MARGIN_GAP if self.margin_width else 0)
        if self.indent:
            self._draw_hook(left=left)
        draw_stacked(canvas, self.body, heights=self.body_heights, x=left, top=top)
        draw_stacked(
            canvas,
            self.side,
            heights=self.side_heights,
            x=self.width - self.side_width,
            top=top,
        )
        if self.has_rule:
            canvas.saveState()
            canvas.setStrokeColor(FINE_LINE)
            canvas.setLineWidth(0.7)
            canvas.line(0, 0, self.width, 0)
            canvas.restoreState()

    def _draw_hook(self, *, left: float) -> None:
        """Draw the hook that hangs a correction under what it corrects."""
        canvas = self.canv
        canvas.saveState()
        canvas.setStrokeColor(SOFT_INK)
        canvas.setLineWidth(1.1)
        x, y = left - self.indent + 2, self.height - self.pad - 5.5
        canvas.line(x, self.height, x, y)
        canvas.line(x, y, left - 5, y)
        canvas.restoreState()


class Grid(Flowable):  # type: ignore[misc]
    """Cells in columns between fine rules: each a stack of paragraphs."""

    def __init__(
        self, cells: Sequence[Sequence[Flowable]], *, columns: int, pad: float = 4.0
    ) -> None:
        super().__init__()
        self.cells, self.columns, self.pad = [list(cell) for cell in cells], columns, pad

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        """Measure the cells; a row is as high as its highest."""
        self.width = available_width
        self.column_width = available_width / self.columns
        self.heights: list[list[float]] = []
        self.row_heights: list[float] = []
        for at, cell in enumerate(self.cells):
            heights, height = stacked(cell, width=self.column_width - 10)
            self.heights.append(heights)
            if at % self.columns == 0:
                self.row_heights.append(0.0)
            self.row_heights[-1] = max(self.row_heights[-1], height + 2 * self.pad)
        self.height = sum(self.row_heights)
        return self.width, self.height

    def split(self, available_width: float, available_height: float) -> list[Flowable]:
        """Cut between rows; inside a row only where it fits on no page."""
        self.wrap(available_width, available_height)
        room, count = available_height, 0
        while count < len(self.row_heights) and self.row_heights[count] <= room:
            room -= self.row_heights[count]
            count += 1
        if 0 < count < len(self.row_heights):
            at = count * self.columns
            return [
                Grid(part, columns=self.columns, pad=self.pad)
                for part in (self.cells[:at], self.cells[at:])
            ]
        if count or room < LEAST_PART or self.row_heights[0] <= FRESH_PAGE:
            return []
        parts = [
            cut(
                cell,
                heights=self.heights[at],
                width=self.column_width - 10,
                room=room - 2 * self.pad,
            )
            for at, cell in enumerate(self.cells[: self.columns])
        ]
        rest = [rest for _kept, rest in parts] + self.cells[self.columns :]
        return [
            Grid([kept for kept, _rest in parts], columns=self.columns, pad=self.pad),
            Grid(rest, columns=self.columns, pad=self.pad),
        ]

    def draw(self) -> None:
        """Draw the cells with the rules between them."""
        canvas = self.canv
        canvas.saveState()
        canvas.setStrokeColor(FINE_LINE)
        canvas.setLineWidth(0.7)
        y = self.height
        for row, row_height in enumerate(self.row_heights):
            for column in range(self.columns):
                at = row * self.columns + column
                if at >= len(self.cells):
                    break
                x = column * self.column_width
                if column:
                    canvas.line(x - 5, y - 3, x - 5, y - row_height + 3)
                draw_stacked(
                    canvas, self.cells[at], heights=self.heights[at], x=x, top=y - self.pad
                )
            y -= row_height
            canvas.line(0, y, self.width, y)
        canvas.restoreState()


class Drawn(Flowable):  # type: ignore[misc]
    """A drawing of fixed height that takes the width it is given."""

    def __init__(self, height: float, drawing: Callable[[Any, float], None]) -> None:
        super().__init__()
        self.fixed_height, self.drawing = height, drawing

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        """Take the whole width."""
        self.width, self.height = available_width, self.fixed_height
        return self.width, self.height

    def draw(self) -> None:
        """Draw it from its lower left corner."""
        self.drawing(self.canv, self.width)


class Framed(Flowable):  # type: ignore[misc]
    """A box with a strong outline and, if wanted, a hatched band at its left side; it splits."""

    def __init__(
        self, body: Sequence[Flowable], *, is_hatched: bool = False, pad: float = 7.0
    ) -> None:
        super().__init__()
        self.body, self.is_hatched, self.pad = list(body), is_hatched, pad
        self.band = 9.0 if is_hatched else 0.0

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        """Measure the box."""
        self.width = available_width
        self.heights, height = stacked(self.body, width=available_width - 2 * self.pad - self.band)
        self.height = height + 2 * self.pad
        return self.width, self.height

    def split(self, available_width: float, available_height: float) -> list[Flowable]:
        """Cut between the parts of the box; a part is torn only where it opens a page."""
        self.wrap(available_width, available_height)
        room = available_height - 2 * self.pad
        kept, rest = cut(
            self.body,
            heights=self.heights,
            width=available_width - 2 * self.pad - self.band,
            room=room,
            tears_first_only=True,
        )
        if not kept or not rest:
            return []
        return [Framed(part, is_hatched=self.is_hatched, pad=self.pad) for part in (kept, rest)]

    def draw(self) -> None:
        """Draw outline, band and text."""
        canvas = self.canv
        canvas.saveState()
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(1.3)
        canvas.rect(0, 0, self.width, self.height, stroke=1, fill=0)
        canvas.restoreState()
        if self.is_hatched:
            draw_hatching(canvas, x=0, y=0, width=self.band, height=self.height)
        draw_stacked(
            canvas,
            self.body,
            heights=self.heights,
            x=self.pad + self.band,
            top=self.height - self.pad,
        )
