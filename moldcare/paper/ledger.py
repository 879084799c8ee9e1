"""The ledger on paper: ruled rows with their times in the margin, which split over pages."""

from collections.abc import Callable, Sequence
from enum import Enum

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from moldcare.paper.stack import FRESH_PAGE, LEAST_PART, cut, draw_stacked, stacked
from moldcare.paper.styles import FINE_LINE, LINE, RUST, SOFT_INK

MARGIN_WIDTH = 25 * mm
MARGIN_GAP = 9.0
SIDE_GAP = 10.0
ROW_PAD = 5.0


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
