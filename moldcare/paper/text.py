"""Running text in one or several faces, broken into lines: much of it, set fast.

The library's paragraphs read markup and measure every word anew; a month of a plant holds
thousands of short texts made of the same words.
"""

from collections.abc import Sequence
from functools import lru_cache
from typing import Any, NamedTuple

from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from moldcare.paper.typefaces import Typesetter

# widths are sums: a line that is full to the last point still is one
ROUNDING = 1e-6
# fewer lines than these are not left alone at the foot of a page
LEAST_LINES = 2


class Run(NamedTuple):
    """A stretch of text in one face, size and ink."""

    face: str
    text: str
    size: float
    ink: Any


Word = tuple[Run, ...]

_text_width = lru_cache(maxsize=100_000)(pdfmetrics.stringWidth)


def runs_of(typesetter: Typesetter, text: str, *, face: str, size: float, ink: Any) -> list[Run]:
    """Return a line as runs: what was typed is what prints, each sign in a face that has it."""
    return [
        Run(run_face, run, size, ink)
        for run_face, run in typesetter.runs(typesetter.line_of(text), face=face)
    ]


class Line(NamedTuple):
    """One line as few runs; torn where its end is inside a word."""

    runs: list[Run]
    is_torn: bool


class RunningText(Flowable):  # type: ignore[misc]
    """A text of runs that breaks at blanks; a word too long for a line breaks where it must."""

    def __init__(self, runs: Sequence[Run], *, style: ParagraphStyle) -> None:
        super().__init__()
        self.style = style
        self.runs = runs
        self.lines: list[Line] = []

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        """Break the text into lines of the width."""
        self.width = available_width
        self.lines = self._broken(available_width)
        self.height = len(self.lines) * self.style.leading
        return self.width, self.height

    def _broken(self, width: float) -> list[Line]:
        blank = _text_width(" ", self.style.fontName, self.style.fontSize)
        lines: list[Line] = []
        line: list[Word] = []
        used = 0.0
        for word in _words(self.runs):
            wide = _width(word)
            if line and used + blank + wide > width + ROUNDING:
                lines.append(Line(_joined(line), is_torn=False))
                line = []
            if wide > width + ROUNDING:
                *whole, word = _torn(word, width=width)
                lines += [Line(_joined([each]), is_torn=True) for each in whole]
                wide = _width(word)
            used = used + blank + wide if line else wide
            line.append(word)
        lines.append(Line(_joined(line), is_torn=False))
        return lines

    def split(self, available_width: float, available_height: float) -> list[Flowable]:
        """Part the text between lines; no line is left alone at the foot of a page."""
        self.wrap(available_width, available_height)
        fits = int((available_height + ROUNDING) // self.style.leading)
        if fits >= len(self.lines):
            return [self]
        if fits < LEAST_LINES:
            return []
        return [
            RunningText(self._runs_again(part), style=self.style)
            for part in (self.lines[:fits], self.lines[fits:])
        ]

    def _runs_again(self, lines: Sequence[Line]) -> list[Run]:
        """Return lines as the runs that they were broken from."""
        blank = Run(self.style.fontName, " ", self.style.fontSize, self.style.textColor)
        runs: list[Run] = []
        for line in lines:
            runs += line.runs
            if not line.is_torn:
                runs.append(blank)
        return runs

    def drawOn(self, canvas: Canvas, x: float, y: float, _sW: float = 0) -> None:
        """Draw the lines with their lower left corner there."""
        style = self.style
        ascent, _descent = pdfmetrics.getAscentDescent(style.fontName, style.fontSize)
        text = canvas.beginText(x, y + self.height - ascent)
        ink: Any = None
        face: tuple[str, float] | None = None
        for line in self.lines:
            runs = line.runs or [Run(style.fontName, "", style.fontSize, ink)]
            for place, run in enumerate(runs, start=1):
                if run.ink is not ink:
                    ink = run.ink
                    text.setFillColor(ink)
                if (run.face, run.size) != face:
                    face = (run.face, run.size)
                    text.setFont(run.face, run.size, style.leading)
                if place == len(runs):
                    text.textLine(run.text)
                else:
                    text.textOut(run.text)
        canvas.drawText(text)


def _words(runs: Sequence[Run]) -> list[Word]:
    """Part runs at blanks; a word may stand in several faces."""
    if len(runs) == 1:
        face, text, size, ink = runs[0]
        return [(Run(face, part, size, ink),) for part in text.split(" ") if part]
    words: list[Word] = []
    open_word: list[Run] = []
    for face, text, size, ink in runs:
        first, *others = text.split(" ")
        if first:
            open_word.append(Run(face, first, size, ink))
        for part in others:
            if open_word:
                words.append(tuple(open_word))
            open_word = [Run(face, part, size, ink)] if part else []
    if open_word:
        words.append(tuple(open_word))
    return words


def _width(word: Word) -> float:
    if len(word) == 1:
        (face, text, size, _ink) = word[0]
        return float(_text_width(text, face, size))
    return sum(float(_text_width(text, face, size)) for face, text, size, _ink in word)


def _torn(word: Word, *, width: float) -> list[Word]:
    """Part a word that fits on no line wherever a line ends."""
    parts: list[Word] = []
    part: list[Run] = []
    used = 0.0
    for run in word:
        for sign in run.text:
            wide = _text_width(sign, run.face, run.size)
            if part and used + wide > width:
                parts.append(tuple(part))
                part, used = [], 0.0
            if part and (part[-1].face, part[-1].size) == (run.face, run.size):
                part[-1] = part[-1]._replace(text=part[-1].text + sign)
            else:
                part.append(run._replace(text=sign))
            used += wide
    parts.append(tuple(part))
    return parts


def _joined(line: Sequence[Word]) -> list[Run]:
    """Return a line as few runs, with the blanks between its words."""
    found: list[Run] = []
    texts: list[str] = []
    look: tuple[str, float, Any] | None = None
    for place, word in enumerate(line):
        if place:
            texts.append(" ")
        for face, text, size, ink in word:
            if (face, size, ink) != look:
                if look is not None:
                    found.append(Run(look[0], "".join(texts), look[1], look[2]))
                    texts = []
                look = (face, size, ink)
            texts.append(text)
    if look is not None:
        found.append(Run(look[0], "".join(texts), look[1], look[2]))
    return found
