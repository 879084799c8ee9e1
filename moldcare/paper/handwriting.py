"""Places on a form that are filled in by hand: lines, boxes and answers to tick."""

import copy
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from reportlab.platypus import Flowable

from moldcare.paper import marks
from moldcare.paper.blocks import Drawn
from moldcare.paper.stack import draw_stacked, stacked
from moldcare.paper.styles import BODY, SMALL, SOFT_INK, STRONG, paragraph
from moldcare.paper.typefaces import BOLD, HEADING, TEXT, Typesetter

BOX = 12.5
LABEL_SIZE = 7.4


@dataclass(frozen=True, kw_only=True, slots=True)
class Blank:
    """A line to write on behind its label; `weight` is its share of the room."""

    label: str
    weight: float = 1.0


class Blanks(Flowable):  # type: ignore[misc]
    """Some blanks on one line; labels that leave too little room go onto more lines."""

    LEAST_LINE = 44.0

    def __init__(
        self, blanks: Sequence[Blank], *, typesetter: Typesetter, line_height: float = 22.0
    ) -> None:
        super().__init__()
        self.blanks, self.typesetter, self.line_height = list(blanks), typesetter, line_height

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        """Share out the room; a label too wide for its share begins a new line."""
        self.width = available_width
        self.lines: list[list[Blank]] = [[]]
        used = 0.0
        for blank in self.blanks:
            least = self._label_width(blank) + self.LEAST_LINE + 10
            if self.lines[-1] and used + least > available_width:
                self.lines.append([])
                used = 0.0
            self.lines[-1].append(blank)
            used += least
        self.height = self.line_height * len(self.lines)
        return self.width, self.height

    def _label_width(self, blank: Blank) -> float:
        return marks.line_width(self.typesetter, blank.label, face=TEXT, size=LABEL_SIZE)

    def draw(self) -> None:
        """Draw labels and lines."""
        canvas = self.canv
        canvas.saveState()
        canvas.setStrokeColor(SOFT_INK)
        canvas.setLineWidth(0.6)
        y = self.height - self.line_height + 4
        for line in self.lines:
            fixed = sum(self._label_width(blank) + 14 for blank in line) - 10
            free = max(0.0, self.width - fixed)
            shares = sum(blank.weight for blank in line) or 1.0
            x = 0.0
            for blank in line:
                marks.draw_runs(
                    canvas,
                    self.typesetter,
                    blank.label,
                    x=x,
                    y=y,
                    face=TEXT,
                    size=LABEL_SIZE,
                    ink=SOFT_INK,
                )
                x += self._label_width(blank) + 4
                length = free * blank.weight / shares
                canvas.line(x, y - 1.5, x + length, y - 1.5)
                x += length + 10
            y -= self.line_height
        canvas.restoreState()


class Answers(Flowable):  # type: ignore[misc]
    """Answers with a box before each; they run on to further lines."""

    def __init__(
        self, answers: Sequence[str], *, typesetter: Typesetter, is_strong: bool = False
    ) -> None:
        super().__init__()
        style = STRONG if is_strong else BODY
        self.words = [paragraph(typesetter, answer, style=style) for answer in answers]
        self.natural = [
            marks.line_width(typesetter, answer, face=style.fontName, size=style.fontSize)
            for answer in answers
        ]

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        """Place the answers one behind the other."""
        self.width = available_width
        self.places: list[tuple[float, float]] = []
        self.sizes: list[float] = []
        x = y = line = 0.0
        for words, natural in zip(self.words, self.natural, strict=True):
            across = min(natural + 1.5, available_width - BOX - 5)
            if x and x + BOX + 5 + across > available_width:
                x, y, line = 0.0, y + line + 4, 0.0
            height = max(BOX, float(words.wrap(across, 10_000)[1]))
            self.places.append((x, y))
            self.sizes.append(float(words.height))
            line = max(line, height)
            x += BOX + 5 + across + 13
        self.height = y + line
        return self.width, self.height

    def split(self, available_width: float, available_height: float) -> list[Flowable]:
        """Cut between answers."""
        self.wrap(available_width, available_height)
        count = sum(
            y + max(BOX, size) <= available_height
            for (_x, y), size in zip(self.places, self.sizes, strict=True)
        )
        if not 0 < count < len(self.words):
            return []
        parts = []
        for chosen in (slice(None, count), slice(count, None)):
            part = copy.copy(self)
            part.words, part.natural = self.words[chosen], self.natural[chosen]
            parts.append(part)
        return parts

    def draw(self) -> None:
        """Draw boxes and words."""
        for words, (x, y), size in zip(self.words, self.places, self.sizes, strict=True):
            top = self.height - y
            marks.draw_box(self.canv, x=x, y=top - BOX, width=BOX, height=BOX)
            words.drawOn(self.canv, x + BOX + 5, top - max(size, BOX / 2 + size / 2))


class GradeBoxes(Flowable):  # type: ignore[misc]
    """The as-found grades side by side, each with what it means."""

    def __init__(self, grades: Sequence[tuple[str, str]], *, typesetter: Typesetter) -> None:
        super().__init__()
        self.cells = [
            [
                paragraph(typesetter, name, style=STRONG),
                paragraph(typesetter, meaning, style=SMALL),
            ]
            for name, meaning in grades
        ]

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        """Give each grade the same room."""
        self.width = available_width
        self.cell_width = (available_width - 6 * (len(self.cells) - 1)) / max(1, len(self.cells))
        measured = [stacked(cell, width=self.cell_width - BOX - 15) for cell in self.cells]
        self.heights = [heights for heights, _sum in measured]
        self.height = max((height for _heights, height in measured), default=0.0) + 9
        return self.width, self.height

    def draw(self) -> None:
        """Draw the boxes."""
        canvas = self.canv
        for at, (cell, heights) in enumerate(zip(self.cells, self.heights, strict=True)):
            x = at * (self.cell_width + 6)
            canvas.saveState()
            canvas.setStrokeColor(SOFT_INK)
            canvas.setLineWidth(0.6)
            canvas.roundRect(x, 0, self.cell_width, self.height, 2.5, stroke=1, fill=0)
            canvas.restoreState()
            marks.draw_box(canvas, x=x + 5, y=self.height - 4.5 - BOX, width=BOX, height=BOX)
            draw_stacked(canvas, cell, heights=heights, x=x + BOX + 11, top=self.height - 4.5)


VALUE_BOX = 66.0


def value_box(unit: str, limits: str, *, typesetter: Typesetter) -> Drawn:
    """Give a box for one value by hand, its unit and limits behind it."""

    def draw(canvas: Any, width: float) -> None:
        marks.draw_box(canvas, x=0, y=0, width=VALUE_BOX, height=23)
        x, room = VALUE_BOX + 6, width - VALUE_BOX - 6
        said = marks.fitted(typesetter, unit, width=room, face=BOLD, size=9)
        marks.draw_runs(canvas, typesetter, said, x=x, y=13.5 if limits else 8, face=BOLD, size=9)
        if limits:
            size = 7.4
            wide = marks.line_width(typesetter, limits, face=TEXT, size=size)
            size *= min(1.0, room / wide)
            marks.draw_runs(canvas, typesetter, limits, x=x, y=2.5, face=TEXT, size=size)

    return Drawn(24.0, draw)


def numbered_box(number: str, *, typesetter: Typesetter) -> Drawn:
    """Give a step's number with its box to tick."""

    def draw(canvas: Any, width: float) -> None:
        marks.draw_runs(canvas, typesetter, number, x=0, y=2.2, face=HEADING, size=11)
        marks.draw_box(canvas, x=width - BOX - 3, y=-0.5, width=BOX, height=BOX)

    return Drawn(12.0, draw)


def ruled_lines(count: int) -> Drawn:
    """Give empty lines to write on."""
    apart, beneath = 21.0, 5.0

    def draw(canvas: Any, width: float) -> None:
        canvas.saveState()
        canvas.setStrokeColor(SOFT_INK)
        canvas.setLineWidth(0.5)
        for line in range(count):
            canvas.line(0, beneath + line * apart, width, beneath + line * apart)
        canvas.restoreState()

    return Drawn(count * apart + beneath - 3, draw)
