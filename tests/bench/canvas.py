"""A bare canvas that draws the same lines as a document that was printed."""

import io
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from unittest.mock import patch

from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.textobject import PDFTextObject

from moldcare.paper.pen import Pen, Run, Stroke


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
    """What was drawn, by the page's number: runs of text, and rules as (x1, y1, x2, y2)."""

    words: dict[int, list[Words]] = field(default_factory=lambda: defaultdict(list))
    rules: dict[int, list[tuple[float, float, float, float]]] = field(
        default_factory=lambda: defaultdict(list)
    )


@contextmanager
def watched() -> Iterator[Drawn]:
    """Note what is drawn on any canvas meanwhile."""
    drawn = Drawn()
    text_out: Callable[..., str] = PDFTextObject._formatText
    line: Callable[..., None] = Canvas.line
    write, draw = Pen.write, Pen.draw

    def noted_text(self: PDFTextObject, text: str) -> str:
        x, y = self._canvas.absolutePosition(self._x, self._y)
        if text:
            drawn.words[self._canvas.getPageNumber()].append(
                Words(self._fontname, self._fontsize, x, y, text)
            )
        return text_out(self, text)

    def noted_line(self: Canvas, x1: float, y1: float, x2: float, y2: float) -> None:
        ends = (*self.absolutePosition(x1, y1), *self.absolutePosition(x2, y2))
        drawn.rules[self.getPageNumber()].append(ends)
        line(self, x1, y1, x2, y2)

    def noted_write(
        self: Pen, lines: Sequence[Sequence[Run]], *, x: float, y: float, leading: float = 0.0
    ) -> None:
        for place, runs in enumerate(lines):
            at, base = self.canvas.absolutePosition(x, y - place * leading)
            for run in runs:
                drawn.words[self.canvas.getPageNumber()].append(
                    Words(run.face, run.size, at, base, run.text)
                )
                at += stringWidth(run.text, run.face, run.size)
        write(self, lines, x=x, y=y, leading=leading)

    def noted_draw(self: Pen, stroke: Stroke, *lines: tuple[float, float, float, float]) -> None:
        for x1, y1, x2, y2 in lines:
            ends = (*self.canvas.absolutePosition(x1, y1), *self.canvas.absolutePosition(x2, y2))
            drawn.rules[self.canvas.getPageNumber()].append(ends)
        draw(self, stroke, *lines)

    with (
        patch.object(PDFTextObject, "_formatText", noted_text),
        patch.object(Canvas, "line", noted_line),
        patch.object(Pen, "write", noted_write),
        patch.object(Pen, "draw", noted_draw),
    ):
        yield drawn


def draw_bare(drawn: Drawn, *, size: tuple[float, float]) -> bytes:
    """Draw the same runs and rules, and nothing else."""
    buffer = io.BytesIO()
    canvas = Canvas(buffer, pagesize=size, invariant=1)
    for page in sorted(drawn.words.keys() | drawn.rules.keys()):
        for each in drawn.words[page]:
            canvas.setFont(each.face, each.size)
            canvas.drawString(each.x, each.y, each.text)
        for ends in drawn.rules[page]:
            canvas.line(*ends)
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()
