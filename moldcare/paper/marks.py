"""The marks that paper shares with the screens: plate, strip, tick box, hatching, code to scan."""

from collections.abc import Sequence
from dataclasses import dataclass

import segno
from reportlab.lib.colors import Color
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from moldcare.paper.pen import Pen, Run
from moldcare.paper.styles import INK, LINE, PLATE, PLATE_EDGE, RUST, SOFT_INK, WHITE
from moldcare.paper.typefaces import NUMBER, Typesetter, width_of

# A scanner needs squares of at least 0.4 mm and a blank rim of four squares (ISO/IEC 18004).
CODE_SQUARE: float = 0.58 * mm
CODE_RIM_SQUARES = 4


def draw_runs(
    canvas: Canvas,
    typesetter: Typesetter,
    text: str,
    *,
    x: float,
    y: float,
    face: str,
    size: float,
    ink: Color = INK,
    is_right: bool = False,
) -> None:
    """Write one line, each sign in a face that has it."""
    runs = [Run(run_face, run, size, ink) for run_face, run in typesetter.runs(text, face=face)]
    if is_right:
        x -= sum(width_of(run.text, face=run.face, size=size) for run in runs)
    Pen.of(canvas).write([runs], x=x, y=y)


def line_width(typesetter: Typesetter, text: str, *, face: str, size: float) -> float:
    """Measure one line in points."""
    return sum(
        width_of(run, face=run_face, size=size)
        for run_face, run in typesetter.runs(text, face=face)
    )


def fitted(typesetter: Typesetter, text: str, *, width: float, face: str, size: float) -> str:
    """Cut a line to a width and say so by an ellipsis; the whole text stands elsewhere."""
    text = " ".join(text.split())
    if line_width(typesetter, text, face=face, size=size) <= width:
        return text
    fits, too_long = 0, len(text)
    while too_long - fits > 1:
        middle = (fits + too_long) // 2
        if line_width(typesetter, text[:middle] + "…", face=face, size=size) <= width:
            fits = middle
        else:
            too_long = middle
    return text[:fits].rstrip() + "…"


@dataclass(frozen=True, kw_only=True, slots=True)
class PlateMeasures:
    """How large a plate comes out."""

    width: float
    height: float
    size: float


def plate_measures(
    typesetter: Typesetter, number: str, *, size: float, most_width: float
) -> PlateMeasures:
    """Size a plate so that the whole number stands on it."""
    number_width = line_width(typesetter, number, face=NUMBER, size=size)
    across = number_width + 2.2 * size
    if across > most_width:
        size *= most_width / across
        across = most_width
    return PlateMeasures(width=across, height=1.62 * size, size=size)


def draw_plate(
    canvas: Canvas,
    typesetter: Typesetter,
    number: str,
    *,
    x: float,
    y: float,
    measures: PlateMeasures,
) -> None:
    """Draw a mold's number as stamped on its plate; x and y are the lower left corner.

    A document draws each plate once, and stamps it wherever it stands.
    """
    name = f"plate-{number.encode().hex()}-{measures.size:.2f}"
    if not canvas.hasForm(name):
        canvas.beginForm(name, 0, 0, measures.width + 1, measures.height + 1)
        _draw_plate_once(canvas, typesetter, number, x=0.5, y=0.5, measures=measures)
        canvas.endForm()
    canvas.saveState()
    canvas.translate(x - 0.5, y - 0.5)
    canvas.doForm(name)
    canvas.restoreState()


def _draw_plate_once(
    canvas: Canvas,
    typesetter: Typesetter,
    number: str,
    *,
    x: float,
    y: float,
    measures: PlateMeasures,
) -> None:
    size, width, height = measures.size, measures.width, measures.height
    canvas.saveState()
    canvas.setLineWidth(max(0.5, size * 0.045))
    canvas.setStrokeColor(PLATE_EDGE)
    canvas.setFillColor(PLATE)
    canvas.roundRect(x, y, width, height, size * 0.17, stroke=1, fill=1)
    inset = size * 0.11
    canvas.setLineWidth(max(0.3, size * 0.018))
    canvas.setStrokeColor(WHITE)
    canvas.roundRect(
        x + inset, y + inset, width - 2 * inset, height - 2 * inset, size * 0.1, stroke=1, fill=0
    )
    canvas.setFillColor(WHITE)
    canvas.setStrokeColor(PLATE_EDGE)
    for hole in (x + size * 0.52, x + width - size * 0.52):
        canvas.circle(hole, y + height / 2, size * 0.14, stroke=1, fill=1)
    number_width = line_width(typesetter, number, face=NUMBER, size=size)
    draw_runs(
        canvas,
        typesetter,
        number,
        x=x + (width - number_width) / 2,
        y=y + height / 2 - size * 0.355,
        face=NUMBER,
        size=size,
    )
    canvas.restoreState()


def draw_box(canvas: Canvas, *, x: float, y: float, width: float, height: float) -> None:
    """Draw an empty box to be written or ticked in."""
    canvas.saveState()
    canvas.setStrokeColor(INK)
    canvas.setFillColor(WHITE)
    canvas.setLineWidth(0.9)
    canvas.rect(x, y, width, height, stroke=1, fill=1)
    canvas.restoreState()


def draw_double_rule(canvas: Canvas, *, x: float, y: float, width: float) -> None:
    """Draw the double rule under a page's head."""
    canvas.saveState()
    canvas.setStrokeColor(SOFT_INK)
    canvas.setLineWidth(0.6)
    canvas.line(x, y + 1.1, x + width, y + 1.1)
    canvas.line(x, y - 1.1, x + width, y - 1.1)
    canvas.restoreState()


def draw_hatching(
    canvas: Canvas,
    *,
    x: float,
    y: float,
    width: float,
    height: float,
    step: float = 4.2,
    line: float = 0.9,
) -> None:
    """Hatch an area."""
    canvas.saveState()
    clip = canvas.beginPath()
    clip.rect(x, y, width, height)
    canvas.clipPath(clip, stroke=0, fill=0)
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(line)
    at = x - height
    while at < x + width:
        canvas.line(at, y, at + height, y + height)
        at += step
    canvas.restoreState()


@dataclass(frozen=True, kw_only=True, slots=True)
class StripFigures:
    """A rule's strip in shares of its interval: used, and where margin and hard limit lie."""

    share: float
    margin_share: float | None = None
    hard_limit_share: float | None = None
    is_unsure: bool = False


def draw_strip(canvas: Canvas, *, x: float, y: float, width: float, figures: StripFigures) -> None:
    """Draw the engraved scale of one rule; y is its base line.

    The scale ends at 1.3 intervals or a tick after the hard limit; a share beyond it stops at
    the end with an arrow, and the words beside the strip say the figure.
    """
    end = min(max(1.3, (figures.hard_limit_share or 0) + 0.1), 2.0)
    unit = width / end
    limit = x + unit
    canvas.saveState()
    canvas.setStrokeColor(LINE)
    canvas.setLineWidth(0.7)
    canvas.line(x, y, x + width, y)
    for tenth in range(int(end * 10) + 1):
        tall = 5.0 if tenth % 5 == 0 else 3.2
        canvas.line(x + unit * tenth / 10, y, x + unit * tenth / 10, y + tall)
    if figures.margin_share is not None:
        draw_hatching(
            canvas,
            x=limit,
            y=y,
            width=max(0.0, min(figures.margin_share, end) - 1) * unit,
            height=5.5,
            step=2.6,
            line=0.45,
        )
    share = max(0.0, min(figures.share, end))
    canvas.setLineWidth(2.8)
    canvas.setStrokeColor(INK)
    if figures.is_unsure:
        canvas.setDash(3, 2)
    canvas.line(x, y, x + unit * min(share, 1), y)
    if share > 1:
        canvas.setStrokeColor(RUST)
        canvas.line(limit, y, x + unit * share, y)
    canvas.setDash()
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(1.7)
    canvas.line(limit, y - 1.4, limit, y + 9)
    if figures.hard_limit_share is not None and figures.hard_limit_share <= end:
        canvas.setLineWidth(0.7)
        for apart in (-1.1, 1.1):
            hard = x + unit * figures.hard_limit_share + apart
            canvas.line(hard, y - 1.4, hard, y + 9)
    canvas.setFillColor(RUST if share > 1 else INK)
    pointer = canvas.beginPath()
    at = x + unit * share
    pointer.moveTo(at, y - 2)
    pointer.lineTo(at - 2.8, y - 7)
    pointer.lineTo(at + 2.8, y - 7)
    pointer.close()
    canvas.drawPath(pointer, stroke=0, fill=1)
    canvas.restoreState()


def code_rows(text: str, *, level: str = "m") -> Sequence[Sequence[int]] | None:
    """Return the rows of squares of a code to scan; None where no code holds so much."""
    try:
        made = segno.make(text, error=level, micro=False, boost_error=False)
    except segno.DataOverflowError:
        return None
    return [list(row) for row in made.matrix]


def code_size(text: str) -> float:
    """Measure a code to scan with its blank rim, in points."""
    squares = len(_code(text).matrix)
    return (squares + 2 * CODE_RIM_SQUARES) * CODE_SQUARE


def draw_code(canvas: Canvas, text: str, *, x: float, y: float) -> None:
    """Draw a code to scan; x and y are the lower left corner of its blank rim."""
    draw_squares(canvas, _code(text).matrix, x=x, y=y, square=CODE_SQUARE)


def draw_squares(
    canvas: Canvas, rows: Sequence[Sequence[int]], *, x: float, y: float, square: float
) -> None:
    """Draw the squares of a code; x and y are the lower left corner of its blank rim."""
    left = x + CODE_RIM_SQUARES * square
    top = y + (len(rows) + CODE_RIM_SQUARES) * square
    canvas.saveState()
    canvas.setFillColor(INK)
    outline = canvas.beginPath()
    for down, row in enumerate(rows):
        start: int | None = None
        for across, is_dark in enumerate([*row, 0]):
            if is_dark and start is None:
                start = across
            elif not is_dark and start is not None:
                outline.rect(
                    left + start * square,
                    top - (down + 1) * square,
                    (across - start) * square,
                    square,
                )
                start = None
    canvas.drawPath(outline, stroke=0, fill=1)
    canvas.restoreState()


def _code(text: str) -> segno.QRCode:
    return segno.make(text, error="m", micro=False)
