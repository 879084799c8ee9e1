"""Writes lines of text and strokes as a page's own operators, many thousands of them fast.

The operators are those of ISO 32000-1: 8.4 (strokes), 9.3 and 9.4 (text). The library's canvas
draws everything that stands on a page once; a month of a plant holds tens of thousands of short
texts, and for those its text objects cost more than all else on the page.
"""

from collections.abc import Sequence
from functools import lru_cache
from typing import Any, NamedTuple

from reportlab.lib.colors import Color
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfgen.canvas import Canvas

from moldcare.paper.typefaces import signs_of

_ESCAPED = {ord(sign): f"\\{sign}" for sign in "\\()"}


class Run(NamedTuple):
    """A stretch of text in one face, size and ink."""

    face: str
    text: str
    size: float
    ink: Color


class Stroke(str):
    """How a line is drawn, as the operators that say so."""

    __slots__ = ()


def stroke(
    ink: Color, width: float, *, dash: tuple[float, float] | None = None, is_round: bool = False
) -> Stroke:
    """Choose how a line is drawn; width and dash in points."""
    cap = " 1 J" if is_round else ""
    dashes = f" [{dash[0]:g} {dash[1]:g}] 0 d" if dash else ""
    return Stroke(f"{_color(ink)} RG {width:g} w{cap}{dashes}")


def _color(ink: Color) -> str:
    return " ".join(f"{part:.6g}" for part in ink.rgb())


@lru_cache(maxsize=64)
def _fill(ink: Color) -> str:
    return f"{_color(ink)} rg"


class _Codes(dict[int, str]):
    """What each sign is in the first subset of an embedded face, asked once a document.

    The library gives every 256 signs of a face a font of their own. A sign of a later one
    carries the change of font with it, and the change back.
    """

    def __init__(self, canvas: Canvas, face: str, size: float) -> None:
        super().__init__()
        self._document, self._size = canvas._doc, size
        signs_of(face)
        self._font = pdfmetrics.getFont(face)
        # a face is named in the document by the first sign that is asked for
        self._font.splitString(" ", self._document)
        self.begin = self._chosen(0)

    def _chosen(self, subset: int) -> str:
        return f"{self._font.getSubsetInternalName(subset, self._document)} {self._size:g} Tf"

    def __missing__(self, point: int) -> str:
        [(subset, code)] = self._font.splitString(chr(point), self._document)
        byte = code[0]
        if byte in _ESCAPED:
            written = _ESCAPED[byte]
        elif 0x20 <= byte < 0x7F:
            written = chr(byte)
        else:
            written = f"\\{byte:03o}"
        if subset:
            written = f") Tj {self._chosen(subset)} ({written}) Tj {self.begin} ("
        self[point] = written
        return written


class Pen:
    """What writes on one document's canvas; every measure in points of its present coordinates."""

    def __init__(self, canvas: Canvas) -> None:
        self.canvas = canvas
        self._faces: dict[tuple[str, float], _Codes] = {}

    @classmethod
    def of(cls, canvas: Canvas) -> "Pen":
        """Give the pen of a canvas; there is one a document."""
        pen: Pen | None = getattr(canvas, "moldcare_pen", None)
        if pen is None:
            pen = canvas.moldcare_pen = cls(canvas)
        return pen

    def _codes(self, look: tuple[str, float]) -> _Codes:
        codes = self._faces.get(look)
        if codes is None:
            codes = self._faces[look] = _Codes(self.canvas, *look)
        return codes

    def write(
        self, lines: Sequence[Sequence[Run]], *, x: float, y: float, leading: float = 0.0
    ) -> None:
        """Write lines one under the other; x and y are the left end of the first one's base."""
        code = [f"BT {x:.2f} {y:.2f} Td"]
        if len(lines) > 1:
            code.append(f"{leading:g} TL")
        ink: Any = None
        look: tuple[str, float] | None = None
        codes: _Codes | None = None
        for place, line in enumerate(lines):
            if place:
                code.append("T*")
            for face, text, size, run_ink in line:
                if run_ink is not ink:
                    ink = run_ink
                    code.append(_fill(ink))
                if codes is None or (face, size) != look:
                    look = (face, size)
                    codes = self._codes(look)
                    code.append(codes.begin)
                code.append(f"({text.translate(codes)}) Tj")
        code.append("ET")
        self.canvas.addLiteral(" ".join(code))

    def draw(self, stroke: Stroke, *lines: tuple[float, float, float, float]) -> None:
        """Draw lines, each from (x1, y1) to (x2, y2)."""
        ends = " ".join(f"{x1:.2f} {y1:.2f} m {x2:.2f} {y2:.2f} l" for x1, y1, x2, y2 in lines)
        self.canvas.addLiteral(f"q {stroke} {ends} S Q")
