"""The typefaces of all paper: embedded, and never a silent box for a sign they lack."""

import re
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cache

from django.conf import settings
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

TEXT = "moldcare-text"
BOLD = "moldcare-bold"
HEADING = "moldcare-heading"
NUMBER = "moldcare-number"
EAST_ASIAN = "moldcare-east-asian"

_FILES = {
    TEXT: "DejaVuSans.ttf",
    BOLD: "DejaVuSans-Bold.ttf",
    HEADING: "DejaVuSerif-Bold.ttf",
    NUMBER: "DejaVuSansMono-Bold.ttf",
    EAST_ASIAN: "DroidSansFallback.ttf",
}
_NEXT_FACES = {
    TEXT: (TEXT, EAST_ASIAN),
    BOLD: (BOLD, TEXT, EAST_ASIAN),
    HEADING: (HEADING, BOLD, TEXT, EAST_ASIAN),
    NUMBER: (NUMBER, BOLD, TEXT, EAST_ASIAN),
}
# Steers how the sign before it is drawn; alone it shows nothing.
_INVISIBLE = {0x200B, 0x200C, 0x200D, 0xFE0E, 0xFE0F, 0xFEFF}
_BLANKS = re.compile(r" {2,}|^ | $")
_UNEVEN = re.compile(r"[\t\r\n]|  |^ | $")
_LINE_ENDS = re.compile(r"\r\n|[\r\n]")

_registering = threading.Lock()


def _is_control(point: int) -> bool:
    return point < 0x20 or 0x7F <= point < 0xA0


@cache
def signs_of(face: str) -> frozenset[int]:
    """Give the code points a face has; reading it registers it."""
    with _registering:
        font = TTFont(face, str(settings.BASE_DIR / "static" / "fonts" / _FILES[face]))
        pdfmetrics.registerFont(font)
        return frozenset(
            point
            for point, glyph in font.face.charToGlyph.items()
            if glyph and not _is_control(point)
        )


@cache
def _shown_by(face: str) -> Callable[[str], re.Match[str] | None]:
    """Give what tells a text whose every sign the face has and shows."""
    points = sorted(signs_of(face) - _INVISIBLE)
    spans: list[list[int]] = []
    for point in points:
        if spans and point == spans[-1][1] + 1:
            spans[-1][1] = point
        else:
            spans.append([point, point])
    signs = "".join(f"\\U{first:08x}-\\U{last:08x}" for first, last in spans)
    return re.compile(f"[{signs}]+").fullmatch


def width_of(text: str, *, face: str, size: float) -> float:
    """Measure a text that the face has, in points."""
    signs_of(face)
    return float(pdfmetrics.stringWidth(text, face, size))


@dataclass(slots=True)
class Typesetter:
    """Spells one document's texts and remembers which signs no face has."""

    missing: dict[str, None] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Register the faces that styles name; the library refuses even an empty text without."""
        for face in _NEXT_FACES:
            signs_of(face)

    @staticmethod
    def is_plain(text: str, *, face: str) -> bool:
        """Return whether the face has every sign of a text, and each of them shows."""
        return _shown_by(face)(text) is not None

    def runs(self, text: str, *, face: str) -> Iterator[tuple[str, str]]:
        """Cut a line into runs of one face each, with stand-ins for what none has."""
        if self.is_plain(text, face=face):
            yield face, text
            return
        run, run_face = "", face
        for sign in _LINE_ENDS.sub(" ", text):
            point = ord(sign)
            if point in _INVISIBLE:
                continue
            found = next((each for each in _NEXT_FACES[face] if point in signs_of(each)), None)
            if found is None:
                self.missing[sign] = None
                sign, found = f"[U+{point:04X}]", face
            if found != run_face and run:
                yield run_face, run
                run = ""
            run, run_face = run + sign, found
        if run:
            yield run_face, run

    @staticmethod
    def line_of(text: str) -> str:
        """Return a text as one line, with the blanks that were typed; a line's end is a blank.

        `styles.paragraphs` keeps the lines of longer texts.
        """
        if not _UNEVEN.search(text):
            return text
        line = _LINE_ENDS.sub(" ", text.replace("\t", "    "))
        return _BLANKS.sub(lambda found: "\u00a0" * len(found[0]), line)

    @property
    def missing_signs(self) -> tuple[str, ...]:
        """The signs printed as stand-ins, in the order in which they were met."""
        return tuple(self.missing)
