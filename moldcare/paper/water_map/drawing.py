"""Draws one circuit from IN to OUT with what sits in it, and the hoses at its two ends."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from moldcare.core.water_map import InlineKind
from moldcare.paper import marks
from moldcare.paper.styles import INK, SOFT_INK, WHITE
from moldcare.paper.typefaces import BOLD, NUMBER, TEXT, Typesetter

# room at both ends for a hose's number and where it goes
END_WIDTH = 96.0
ITEM_WIDTH = 27.0
LINE_HEIGHT = 54.0
# how far the water's line lies above the foot of its strip
WATER_HEIGHT = 28.0
PORT = 5.0
SYMBOL = 6.5


@dataclass(frozen=True, kw_only=True, slots=True)
class Symbol:
    """A bubbler or baffle on the drawing; `number` is its own, or how many there are."""

    kind: InlineKind
    number: str
    at: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class HoseEnd:
    """A hose at a port: its number on the map, and where its other end is."""

    number: int
    other: str


@dataclass(frozen=True, kw_only=True, slots=True)
class CircuitDrawing:
    """A circuit as it is drawn."""

    in_label: str
    out_label: str
    symbols: Sequence[Symbol]
    into: HoseEnd
    out_of: HoseEnd

    def lines(self, *, width: float) -> list[Sequence[Symbol]]:
        """Return what is drawn on each line: many items go on under one another."""
        room = max(1, int((width - 2 * END_WIDTH - 2 * PORT) // ITEM_WIDTH))
        return [
            self.symbols[start : start + room] for start in range(0, len(self.symbols), room)
        ] or [()]


def drawing_height(drawing: CircuitDrawing, *, width: float) -> float:
    """Measure a drawing in points."""
    return LINE_HEIGHT * len(drawing.lines(width=width))


def draw_circuit(
    canvas: Any, typesetter: Typesetter, drawing: CircuitDrawing, *, width: float
) -> None:
    """Draw a circuit from the lower left corner of its room."""
    lines = drawing.lines(width=width)
    left, right = END_WIDTH, width - END_WIDTH
    canvas.saveState()
    for at, symbols in enumerate(lines):
        y = LINE_HEIGHT * (len(lines) - 1 - at) + WATER_HEIGHT
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(1.6)
        canvas.line(left, y, right, y)
        if at:
            # from the end of the line above, back to the left
            above = y + LINE_HEIGHT
            canvas.setLineWidth(0.8)
            canvas.setDash(2, 2)
            turn = above - WATER_HEIGHT + 1
            canvas.lines(
                [(right, above, right, turn), (right, turn, left, turn), (left, turn, left, y)]
            )
            canvas.setDash()
        _draw_symbols(canvas, typesetter, symbols, left=left, right=right, y=y)
    top, foot = LINE_HEIGHT * (len(lines) - 1) + WATER_HEIGHT, WATER_HEIGHT
    _draw_port(canvas, typesetter, drawing.in_label, x=left, y=top)
    _draw_port(canvas, typesetter, drawing.out_label, x=right, y=foot)
    _draw_hose(canvas, typesetter, drawing.into, from_x=0, to_x=left - PORT, y=top)
    _draw_hose(canvas, typesetter, drawing.out_of, from_x=right + PORT, to_x=width, y=foot)
    canvas.restoreState()


def _draw_port(canvas: Any, typesetter: Typesetter, label: str, *, x: float, y: float) -> None:
    canvas.setLineWidth(1.4)
    canvas.setStrokeColor(INK)
    canvas.setFillColor(WHITE)
    canvas.circle(x, y, PORT, stroke=1, fill=1)
    said = marks.fitted(typesetter, label, width=78, face=BOLD, size=7)
    wide = marks.line_width(typesetter, said, face=BOLD, size=7)
    marks.draw_runs(canvas, typesetter, said, x=x - wide / 2, y=y + PORT + 4, face=BOLD, size=7)


def _draw_hose(
    canvas: Any, typesetter: Typesetter, end: HoseEnd, *, from_x: float, to_x: float, y: float
) -> None:
    """Draw a hose with the water's direction, its number, and where it comes from or goes to."""
    canvas.setStrokeColor(SOFT_INK)
    canvas.setLineWidth(3)
    canvas.line(from_x + 1, y, to_x - 4, y)
    canvas.setFillColor(SOFT_INK)
    head = canvas.beginPath()
    head.moveTo(to_x, y)
    head.lineTo(to_x - 6, y + 3.4)
    head.lineTo(to_x - 6, y - 3.4)
    head.close()
    canvas.drawPath(head, stroke=0, fill=1)
    middle = (from_x + to_x) / 2 - 3
    number = str(end.number)
    wide = marks.line_width(typesetter, number, face=NUMBER, size=7.5)
    canvas.setFillColor(WHITE)
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(0.9)
    canvas.roundRect(middle - wide / 2 - 4, y - 5.5, wide + 8, 11, 2.5, stroke=1, fill=1)
    marks.draw_runs(
        canvas, typesetter, number, x=middle - wide / 2, y=y - 2.7, face=NUMBER, size=7.5
    )
    room = to_x - from_x
    said = marks.fitted(typesetter, end.other, width=room, face=TEXT, size=7)
    marks.draw_runs(canvas, typesetter, said, x=from_x, y=y - 15, face=TEXT, size=7)


def _draw_symbols(
    canvas: Any,
    typesetter: Typesetter,
    symbols: Sequence[Symbol],
    *,
    left: float,
    right: float,
    y: float,
) -> None:
    step = (right - left) / (len(symbols) + 1)
    for at, symbol in enumerate(symbols, start=1):
        x = left + step * at
        draw_symbol(canvas, symbol.kind, x=x, y=y)
        for text, down, size, face in (
            (symbol.number, 9.5, 7.0, BOLD),
            (symbol.at, 16.5, 5.6, TEXT),
        ):
            if not text:
                continue
            said = marks.fitted(typesetter, text, width=ITEM_WIDTH - 2, face=face, size=size)
            wide = marks.line_width(typesetter, said, face=face, size=size)
            marks.draw_runs(
                canvas,
                typesetter,
                said,
                x=x - wide / 2,
                y=y - SYMBOL - down + 1.5,
                face=face,
                size=size,
            )


def draw_symbol(canvas: Any, kind: InlineKind, *, x: float, y: float) -> None:
    """Draw what sits in a circuit; the three kinds differ by shape."""
    canvas.saveState()
    canvas.setStrokeColor(INK)
    canvas.setFillColor(WHITE)
    canvas.setLineWidth(1.1)
    half = SYMBOL
    if kind is InlineKind.BUBBLER:
        canvas.circle(x, y, half, stroke=1, fill=1)
        canvas.circle(x, y, half * 0.38, stroke=1, fill=0)
    else:
        canvas.rect(x - half, y - half, 2 * half, 2 * half, stroke=1, fill=1)
        if kind is InlineKind.STRAIGHT_BAFFLE:
            canvas.line(x, y - half, x, y + half)
        else:
            turns = canvas.beginPath()
            turns.moveTo(x - half * 0.6, y + half)
            for place in range(1, 5):
                side = half * 0.6 if place % 2 else -half * 0.6
                turns.lineTo(x + side, y + half - place * half / 2)
            canvas.drawPath(turns, stroke=1, fill=0)
    canvas.restoreState()
