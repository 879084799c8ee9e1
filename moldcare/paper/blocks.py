"""Blocks that stand between the rows of a ledger: facts in a grid, boxes, drawings."""

from collections.abc import Callable, Sequence
from typing import Any

from reportlab.platypus import Flowable

from moldcare.paper.marks import draw_hatching
from moldcare.paper.stack import FRESH_PAGE, LEAST_PART, cut, draw_stacked, stacked
from moldcare.paper.styles import FINE_LINE, INK


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
