"""Running text in one or several faces, broken into lines: much of it, set fast.

The library's paragraphs read markup and measure every word anew; a month of a plant holds
thousands of short texts made of the same words.
"""

from collections.abc import Sequence
from functools import lru_cache
from itertools import count
from typing import Any, NamedTuple

from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from moldcare.paper.pen import Pen, Run, Stroke
from moldcare.paper.typefaces import Typesetter

# widths are sums: a line that is full to the last point still is one
ROUNDING = 1e-6
# fewer lines than these are not left alone at the foot of a page
LEAST_LINES = 2
# through the middle of small letters
STRIKE_HEIGHT = 0.27


Word = tuple[Run, ...]


class _Widths(dict[str, float]):
    """Widths of words in one face and size, each measured once; it forgets when it is full."""

    MOST = 20_000

    def __init__(self, face: str, size: float) -> None:
        super().__init__()
        self._face, self._size = face, size

    def __missing__(self, word: str) -> float:
        if len(self) >= self.MOST:
            self.clear()
        wide = self[word] = float(pdfmetrics.stringWidth(word, self._face, self._size))
        return wide


_widths = lru_cache(maxsize=64)(_Widths)


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

    def __init__(
        self, runs: Sequence[Run], *, style: ParagraphStyle, strike: Stroke | None = None
    ) -> None:
        super().__init__()
        self.style, self.strike = style, strike
        self.runs = list(runs)
        self.lines: list[Line] = []

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        """Break the text into lines of the width."""
        self.width = available_width
        if _wide(self.runs) <= available_width + ROUNDING:
            self.lines = [Line(self.runs, is_torn=False)]
        else:
            self.lines = self._broken(available_width)
        self.height = len(self.lines) * self.style.leading
        return self.width, self.height

    def _broken(self, width: float) -> list[Line]:
        lines: list[Line] = []
        line: list[Word] = []
        used = 0.0
        for word in _words(self.runs):
            wide = _width(word)
            # a blank is set in the face of the word before it
            blank = _widths(line[-1][-1].face, line[-1][-1].size)[" "] if line else 0.0
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
            RunningText(self._runs_again(part), style=self.style, strike=self.strike)
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
        pen, base = Pen.of(canvas), y + self.height - ascent
        pen.write([line.runs for line in self.lines], x=x, y=base, leading=style.leading)
        if self.strike is not None:
            middle = base + STRIKE_HEIGHT * style.fontSize
            pen.draw(
                self.strike,
                *(
                    (x, at, x + _wide(line.runs), at)
                    for at, line in zip(count(middle, -style.leading), self.lines, strict=False)
                ),
            )


def _wide(runs: Sequence[Run]) -> float:
    """Measure runs as one line."""
    wide = 0.0
    for face, text, size, _ink in runs:
        widths = _widths(face, size)
        words = text.split(" ")
        wide += sum(map(widths.__getitem__, words)) + widths[" "] * (len(words) - 1)
    return wide


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
    return sum(_widths(face, size)[text] for face, text, size, _ink in word)


def _torn(word: Word, *, width: float) -> list[Word]:
    """Part a word that fits on no line wherever a line ends."""
    parts: list[Word] = []
    part: list[Run] = []
    used = 0.0
    for run in word:
        for sign in run.text:
            wide = _widths(run.face, run.size)[sign]
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
