"""How close the record of a mold is set: as wide as it may be on one page."""

from dataclasses import dataclass
from typing import Final

from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm

from moldcare.paper.styles import INK, LABEL, MARGIN_SMALL, SMALL, SMALL_STRONG
from moldcare.paper.typefaces import TEXT

#: Smaller letters are not read on paper.
LEAST_SIZE: Final = 6.0
_LINE: Final = ParagraphStyle("record", fontName=TEXT, fontSize=7.4, leading=9.3, textColor=INK)


@dataclass(frozen=True, kw_only=True, slots=True)
class Spacing:
    """The styles and measures of a record, in points.

    `columns` is how many cells of facts stand beside one another, `section_columns` how many
    sections; `last_done_width` is the room of when a rule was done last.
    """

    line: ParagraphStyle
    small: ParagraphStyle
    small_strong: ParagraphStyle
    label: ParagraphStyle
    margin: ParagraphStyle
    margin_room: float
    last_done_width: float
    photo_width: float
    photo_height: float
    columns: int
    section_columns: int
    pad: float
    rule_pad: float


def _scaled(style: ParagraphStyle, *, by: float) -> ParagraphStyle:
    size = max(LEAST_SIZE, style.fontSize * by)
    leading = style.leading * size / style.fontSize
    return style.clone(f"{style.name}-{by}", fontSize=size, leading=leading)


def _spacing(
    share: float,
    *,
    margin_room: float,
    last_done_width: float,
    columns: int,
    section_columns: int,
    pad: float,
    rule_pad: float,
) -> Spacing:
    return Spacing(
        line=_scaled(_LINE, by=share),
        small=_scaled(SMALL, by=share),
        small_strong=_scaled(SMALL_STRONG, by=share),
        label=_scaled(LABEL, by=share),
        margin=_scaled(MARGIN_SMALL, by=share),
        margin_room=margin_room,
        last_done_width=last_done_width,
        photo_width=40 * mm * share,
        photo_height=25 * mm * share,
        columns=columns,
        section_columns=section_columns,
        pad=pad,
        rule_pad=rule_pad,
    )


#: From the widest to the closest.
SPACINGS: Final = (
    _spacing(
        1.0,
        margin_room=21 * mm,
        last_done_width=146.0,
        columns=5,
        section_columns=1,
        pad=2.0,
        rule_pad=0.9,
    ),
    _spacing(
        0.91,
        margin_room=20 * mm,
        last_done_width=132.0,
        columns=6,
        section_columns=1,
        pad=1.5,
        rule_pad=0.6,
    ),
    _spacing(
        0.82,
        margin_room=17 * mm,
        last_done_width=120.0,
        columns=6,
        section_columns=2,
        pad=1.0,
        rule_pad=0.3,
    ),
)
