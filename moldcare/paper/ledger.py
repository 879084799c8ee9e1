"""The ledger on paper: ruled rows with their times in the margin, which split over pages."""

from collections.abc import Callable, Sequence
from enum import Enum

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from moldcare.paper.pen import Pen, stroke
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


_EDGES = {
    Edge.PLAIN: (stroke(LINE, 0.9), (0.0,)),
    Edge.DOTTED: (stroke(SOFT_INK, 1.8, dash=(0.01, 4), is_round=True), (0.0,)),
    Edge.SOLID: (stroke(RUST, 2.2), (0.0,)),
    Edge.DOUBLE: (stroke(RUST, 1.2), (-1.4, 1.4)),
    Edge.DASHED: (stroke(SOFT_INK, 1.8, dash=(5, 3)), (0.0,)),
}
_RULE = stroke(FINE_LINE, 0.7)
_HOOK = stroke(SOFT_INK, 1.1)


def draw_edge(canvas: Canvas, *, edge: Edge, x: float, bottom: float, top: float) -> None:
    """Draw a standing line in the manner of a state."""
    manner, places = _EDGES[edge]
    Pen.of(canvas).draw(manner, *((x + aside, bottom, x + aside, top) for aside in places))


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

    def drawOn(self, canvas: Canvas, x: float, y: float, _sW: float = 0) -> None:
        """Draw the row with its rule beneath and the edge of its margin."""
        top = y + self.height - self.pad
        draw_stacked(canvas, self.margin, heights=self.margin_heights, x=x, top=top)
        if self.margin_width:
            draw_edge(
                canvas,
                edge=self.edge,
                x=x + self.margin_width,
                bottom=y + 2.5,
                top=y + self.height - 2.5,
            )
        left = x + self.margin_width + self.indent + (MARGIN_GAP if self.margin_width else 0)
        if self.indent:
            self._draw_hook(canvas, left=left, top=y + self.height)
        draw_stacked(canvas, self.body, heights=self.body_heights, x=left, top=top)
        draw_stacked(
            canvas,
            self.side,
            heights=self.side_heights,
            x=x + self.width - self.side_width,
            top=top,
        )
        if self.has_rule:
            Pen.of(canvas).draw(_RULE, (x, y, x + self.width, y))

    def _draw_hook(self, canvas: Canvas, *, left: float, top: float) -> None:
        """Draw the hook that hangs a correction under what it corrects."""
        x, y = left - self.indent + 2, top - self.pad - 5.5
        Pen.of(canvas).draw(_HOOK, (x, top, x, y), (x, y, left - 5, y))


class LateRow(Flowable):  # type: ignore[misc]
    """A row that is set when its turn comes: a month holds thousands, and a page a dozen."""

    def __init__(self, set_row: Callable[[], LedgerRow]) -> None:
        super().__init__()
        self._set_row = set_row
        self._row: LedgerRow | None = None

    def _known(self) -> LedgerRow:
        if self._row is None:
            self._row = self._set_row()
        return self._row

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        """Measure the row."""
        self.width, self.height = self._known().wrap(available_width, available_height)
        return self.width, self.height

    def split(self, available_width: float, available_height: float) -> list[Flowable]:
        """Cut the row where the page ends."""
        return self._known().split(available_width, available_height)

    def drawOn(self, canvas: Canvas, x: float, y: float, _sW: float = 0) -> None:
        """Draw the row."""
        self._known().drawOn(canvas, x, y)
