"""A bare canvas that draws the same lines as a document that was printed."""

import io
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any
from unittest.mock import patch

from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.textobject import PDFTextObject


@dataclass(frozen=True, slots=True)
class Words:
    """A run of text as it was drawn."""

    face: str
    size: float
    x: float
    y: float
    text: str


@dataclass(slots=True)
class Drawn:
    """What was drawn, page by page: runs of text, and rules as (x1, y1, x2, y2)."""

    words: list[list[Words]] = field(default_factory=lambda: [[]])
    rules: list[list[tuple[float, float, float, float]]] = field(default_factory=lambda: [[]])


@contextmanager
def watched() -> Iterator[Drawn]:
    """Note what is drawn on any canvas meanwhile."""
    drawn = Drawn()
    text_out: Callable[..., None] = PDFTextObject._textOut
    line: Callable[..., None] = Canvas.line
    start_page: Callable[..., None] = Canvas._startPage

    def noted_text(self: PDFTextObject, text: str, star: int = 0) -> None:
        x, y = self._canvas.absolutePosition(self._x, self._y)
        drawn.words[-1].append(Words(self._fontname, self._fontsize, x, y, text))
        text_out(self, text, star)

    def noted_line(self: Canvas, x1: float, y1: float, x2: float, y2: float) -> None:
        ends = (*self.absolutePosition(x1, y1), *self.absolutePosition(x2, y2))
        drawn.rules[-1].append(ends)
        line(self, x1, y1, x2, y2)

    def noted_page(self: Canvas, *arguments: Any) -> None:
        if drawn.words[-1]:
            drawn.words.append([])
            drawn.rules.append([])
        start_page(self, *arguments)

    with (
        patch.object(PDFTextObject, "_textOut", noted_text),
        patch.object(Canvas, "line", noted_line),
        patch.object(Canvas, "_startPage", noted_page),
    ):
        yield drawn


def draw_bare(drawn: Drawn, *, size: tuple[float, float]) -> bytes:
    """Draw the same runs and rules, and nothing else."""
    buffer = io.BytesIO()
    canvas = Canvas(buffer, pagesize=size, invariant=1)
    for words, rules in zip(drawn.words, drawn.rules, strict=True):
        for each in words:
            canvas.setFont(each.face, each.size)
            canvas.drawString(each.x, each.y, each.text)
        for ends in rules:
            canvas.line(*ends)
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()
