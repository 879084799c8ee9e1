"""Where codes and words stand on a label, in mm; what does not fit is said, never squeezed in."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from reportlab.graphics.barcode.code128 import Code128

from moldcare.paper.labels.document import Label
from moldcare.paper.labels.stock import LabelStock
from moldcare.paper.marks import CODE_RIM_SQUARES, code_rows

# ISO/IEC 18004 leaves the size of a square to the use; 0.4 mm is what hand-held cameras need from
# print (common practice, no source). A module of 0.25 mm is the general-purpose minimum in use for
# ISO/IEC 15417, whose blank rims are ten modules at both ends; both from memory.
LEAST_SQUARE_MM = 0.4
MOST_SQUARE_MM = 0.8
LEAST_BAR_MM = 0.25
MOST_BAR_MM = 0.5
BAR_RIM_MODULES = 10
# bars are read at a slant if they are 5 mm high, or 15 % of their length where that is more
LEAST_BAR_HEIGHT_MM = 5.0
BAR_HEIGHT_SHARE = 0.15
# sheets are cut and fed by a little more or less
EDGE_MM = 1.0
LEAST_WORDS_WIDTH_MM = 8.0
LEAST_WORDS_HEIGHT_MM = 5.0
_NEARLY = 1e-6


class BarsLeftOut(Enum):
    """Why a label has no bar code."""

    SIGNS = "signs"
    ROOM = "room"


@dataclass(frozen=True, kw_only=True, slots=True)
class Box:
    """A piece of a label, from its upper left corner."""

    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float


@dataclass(frozen=True, kw_only=True, slots=True)
class SquareCode:
    """The square code: its rows of squares, their size, and its box with the blank rim."""

    rows: Sequence[Sequence[int]]
    square_mm: float
    box: Box


@dataclass(frozen=True, kw_only=True, slots=True)
class Bars:
    """The bar code: its module, and its box with the blank rims."""

    module_mm: float
    box: Box


@dataclass(frozen=True, kw_only=True, slots=True)
class LabelLayout:
    """Where everything stands. `code` is None where it does not fit: the label is refused then."""

    code: SquareCode | None
    bars: Bars | None
    words: Box
    bars_left_out: BarsLeftOut | None = None


def is_for_bars(text: str) -> bool:
    """Return whether the bar code has every sign of a text: printable ASCII only."""
    return bool(text) and all(" " <= sign <= "~" for sign in text)


def bar_modules(text: str) -> int:
    """Return how many modules the bars of a text are wide, without the blank rims."""
    return round(float(Code128(text, barWidth=1.0, quiet=0).width))


def _dots_in(size_mm: float, *, dot_mm: float) -> int:
    return math.floor(size_mm / dot_mm + _NEARLY)


def _least_dots(size_mm: float, *, dot_mm: float) -> int:
    return math.ceil(size_mm / dot_mm - _NEARLY)


def label_layout(label: Label, *, stock: LabelStock) -> LabelLayout:
    """Place code, bars and words of a label.

    The bars stand beside the code under the number where they fit, else under both over the
    whole width; the code gives way as far as its smallest squares.
    """
    inner = Box(
        left_mm=EDGE_MM,
        top_mm=EDGE_MM,
        width_mm=stock.width_mm - 2 * EDGE_MM,
        height_mm=stock.height_mm - 2 * EDGE_MM,
    )
    sizes = _code_sizes(label.code_text, inner=inner, stock=stock)
    if not sizes:
        return LabelLayout(code=None, bars=None, words=inner)
    left_out = None if is_for_bars(label.bar_text) else BarsLeftOut.SIGNS
    if left_out is None:
        modules = bar_modules(label.bar_text)
        for rows, square_mm in sizes:
            found = _with_bars_beside(rows, square_mm, inner=inner, modules=modules, stock=stock)
            if found is not None:
                return found
        for rows, square_mm in sizes:
            found = _with_bars_under(rows, square_mm, inner=inner, modules=modules, stock=stock)
            if found is not None:
                return found
        left_out = BarsLeftOut.ROOM
    rows, square_mm = sizes[0]
    code = _code_at(rows, square_mm, inner=inner, height_mm=inner.height_mm)
    return LabelLayout(
        code=code,
        bars=None,
        words=_beside(code, inner=inner, height_mm=inner.height_mm),
        bars_left_out=left_out,
    )


def _code_sizes(
    text: str, *, inner: Box, stock: LabelStock
) -> list[tuple[Sequence[Sequence[int]], float]]:
    """Return the sizes in which a code fits, the largest first; strong error correction first."""
    least = _least_dots(LEAST_SQUARE_MM, dot_mm=stock.dot_mm)
    most = _dots_in(MOST_SQUARE_MM, dot_mm=stock.dot_mm)
    for level in ("m", "l"):
        rows = code_rows(text, level=level)
        if rows is None:
            continue
        squares = len(rows) + 2 * CODE_RIM_SQUARES
        room_mm = min(inner.height_mm, inner.width_mm - LEAST_WORDS_WIDTH_MM)
        fits = min(most, _dots_in(room_mm / squares, dot_mm=stock.dot_mm))
        if fits < least:
            continue
        # a code of more than half of the label leaves too little for the number
        usual = _dots_in(min(room_mm, inner.width_mm / 2) / squares, dot_mm=stock.dot_mm)
        begin = max(least, min(fits, usual))
        return [(rows, dots * stock.dot_mm) for dots in range(begin, least - 1, -1)]
    return []


def _side(rows: Sequence[Sequence[int]], square_mm: float) -> float:
    return (len(rows) + 2 * CODE_RIM_SQUARES) * square_mm


def _code_at(
    rows: Sequence[Sequence[int]], square_mm: float, *, inner: Box, height_mm: float
) -> SquareCode:
    side = _side(rows, square_mm)
    return SquareCode(
        rows=rows,
        square_mm=square_mm,
        box=Box(
            left_mm=inner.left_mm,
            top_mm=inner.top_mm + (height_mm - side) / 2,
            width_mm=side,
            height_mm=side,
        ),
    )


def _beside(code: SquareCode, *, inner: Box, height_mm: float) -> Box:
    return Box(
        left_mm=inner.left_mm + code.box.width_mm,
        top_mm=inner.top_mm,
        width_mm=inner.width_mm - code.box.width_mm,
        height_mm=height_mm,
    )


def _bar_module(modules: int, *, width_mm: float, stock: LabelStock) -> float | None:
    """Return the largest module of whole dots in which the bars and their rims fit, or None."""
    room = _dots_in(width_mm / (modules + 2 * BAR_RIM_MODULES), dot_mm=stock.dot_mm)
    dots = min(room, _dots_in(MOST_BAR_MM, dot_mm=stock.dot_mm))
    if dots < _least_dots(LEAST_BAR_MM, dot_mm=stock.dot_mm):
        return None
    return dots * stock.dot_mm


def _bar_height(modules: int, *, module_mm: float) -> float:
    return max(LEAST_BAR_HEIGHT_MM, BAR_HEIGHT_SHARE * modules * module_mm)


def _bars_at(modules: int, module_mm: float, *, left_mm: float, bottom_mm: float) -> Bars:
    height = _bar_height(modules, module_mm=module_mm)
    return Bars(
        module_mm=module_mm,
        box=Box(
            left_mm=left_mm,
            top_mm=bottom_mm - height,
            width_mm=(modules + 2 * BAR_RIM_MODULES) * module_mm,
            height_mm=height,
        ),
    )


def _with_bars_beside(
    rows: Sequence[Sequence[int]],
    square_mm: float,
    *,
    inner: Box,
    modules: int,
    stock: LabelStock,
) -> LabelLayout | None:
    code = _code_at(rows, square_mm, inner=inner, height_mm=inner.height_mm)
    beside = _beside(code, inner=inner, height_mm=inner.height_mm)
    module_mm = _bar_module(modules, width_mm=beside.width_mm, stock=stock)
    if module_mm is None:
        return None
    bars = _bars_at(
        modules,
        module_mm,
        left_mm=beside.left_mm,
        bottom_mm=inner.top_mm + inner.height_mm,
    )
    left_over = bars.box.top_mm - beside.top_mm - 0.5
    if left_over < LEAST_WORDS_HEIGHT_MM:
        return None
    words = Box(
        left_mm=beside.left_mm,
        top_mm=beside.top_mm,
        width_mm=beside.width_mm,
        height_mm=left_over,
    )
    return LabelLayout(code=code, bars=bars, words=words)


def _with_bars_under(
    rows: Sequence[Sequence[int]],
    square_mm: float,
    *,
    inner: Box,
    modules: int,
    stock: LabelStock,
) -> LabelLayout | None:
    module_mm = _bar_module(modules, width_mm=inner.width_mm, stock=stock)
    if module_mm is None:
        return None
    room = inner.height_mm - _bar_height(modules, module_mm=module_mm) - 0.5
    if _side(rows, square_mm) > room + _NEARLY:
        return None
    code = _code_at(rows, square_mm, inner=inner, height_mm=room)
    bars = _bars_at(
        modules, module_mm, left_mm=inner.left_mm, bottom_mm=inner.top_mm + inner.height_mm
    )
    return LabelLayout(code=code, bars=bars, words=_beside(code, inner=inner, height_mm=room))
