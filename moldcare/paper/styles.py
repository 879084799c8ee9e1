"""Inks, sizes and paragraph styles that all paper shares."""

import re

from reportlab.lib.colors import HexColor
from reportlab.lib.styles import ParagraphStyle

from moldcare.paper.numbers import NO_BREAK
from moldcare.paper.pen import Run, stroke
from moldcare.paper.text import RunningText, runs_of
from moldcare.paper.typefaces import BOLD, HEADING, NUMBER, TEXT, Typesetter

INK = HexColor("#1b2225")
SOFT_INK = HexColor("#434e52")
LINE = HexColor("#b9b09b")
FINE_LINE = HexColor("#d8d0be")
PLATE = HexColor("#eceeee")
PLATE_EDGE = HexColor("#8d979a")
RUST = HexColor("#97290f")
WHITE = HexColor("#ffffff")

_STRIKE = stroke(SOFT_INK, 0.55)
_MANY_EMPTY_LINES = re.compile(r"\n{4,}")


def _style(name: str, face: str, size: float, leading: float, **more: object) -> ParagraphStyle:
    return ParagraphStyle(
        name,
        fontName=face,
        fontSize=size,
        leading=leading,
        textColor=more.pop("color", INK),
        **more,
    )


BODY = _style("body", TEXT, 9, 12)
STRONG = _style("strong", BOLD, 9, 12)
SMALL = _style("small", TEXT, 7.4, 9.8, color=SOFT_INK)
SMALL_STRONG = _style("small-strong", BOLD, 7.4, 9.8)
NOTE = _style("note", TEXT, 7.8, 10.2)
NOTE_STRONG = _style("note-strong", BOLD, 7.8, 10.2)
LABEL = _style("label", TEXT, 6.8, 8.6, color=SOFT_INK)
HEAD = _style("head", HEADING, 12, 15)
TITLE = _style("title", HEADING, 16, 19.5)
MARGIN = _style("margin", HEADING, 11, 13)
MARGIN_SMALL = _style("margin-small", TEXT, 7.2, 9.2, color=SOFT_INK)
HASH = _style("hash", NUMBER, 6.2, 8.4, color=SOFT_INK)


def paragraph(typesetter: Typesetter, text: str, *, style: ParagraphStyle = BODY) -> RunningText:
    """Set a text, whatever was typed in it."""
    return RunningText(_runs(typesetter, text, face=style.fontName, style=style), style=style)


def _runs(typesetter: Typesetter, text: str, *, face: str, style: ParagraphStyle) -> list[Run]:
    return runs_of(typesetter, text, face=face, size=style.fontSize, ink=style.textColor)


def paragraphs(
    typesetter: Typesetter, text: str, *, style: ParagraphStyle = BODY
) -> list[RunningText]:
    """Set a text of many lines, a paragraph a line, so that it breaks well over pages.

    More than two empty lines on end become two: nobody wants pages of nothing.
    """
    return [paragraph(typesetter, line or NO_BREAK, style=style) for line in _lines(text)]


def _lines(text: str) -> list[str]:
    lines = text.replace("\r\n", "\n").replace("\r", "\n")
    return _MANY_EMPTY_LINES.sub("\n\n\n", lines).split("\n")


def struck(typesetter: Typesetter, text: str, *, style: ParagraphStyle = BODY) -> list[RunningText]:
    """Set a text with one line through it: it was corrected and stays readable."""
    return [
        RunningText(
            runs_of(typesetter, line, face=style.fontName, size=style.fontSize, ink=SOFT_INK),
            style=style,
            strike=_STRIKE,
        )
        for line in _lines(text)
        if line.strip()
    ]


def led(
    typesetter: Typesetter,
    lead: str,
    text: str,
    *,
    style: ParagraphStyle = BODY,
    lead_face: str = BOLD,
) -> RunningText:
    """Set a text after a few words in another face."""
    blank = Run(style.fontName, " ", style.fontSize, style.textColor)
    runs = [
        *_runs(typesetter, lead, face=lead_face, style=style),
        blank,
        *_runs(typesetter, text, face=style.fontName, style=style),
    ]
    return RunningText(runs, style=style)
