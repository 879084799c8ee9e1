"""Geometry of the strip: the engraved scale that shows how much of one rule's interval is used."""

import math
from dataclasses import dataclass

WIDTH = 360
HEIGHT = 66
_ZERO_X = 12.0
_TENTH_X = 24.0
_END_X = 348.0
_CHANNEL_TOP = 18.0
_CHANNEL_BOTTOM = 40.0
# the longest share that fits the plain scale; beyond it the scale is broken
_PLAIN_END = (_END_X - _ZERO_X) / (10 * _TENTH_X)
_BREAK_AT = 1.15
_TAIL_X = 300.0
_TAIL_LENGTH = 46.0
# two marks in the tail nearer than this could not be told apart
_TAIL_GAP = 10.0
_HATCH_STEP = 7.0


@dataclass(frozen=True, kw_only=True, slots=True)
class Strip:
    """What the template draws; coordinates are texts, so no reader's locale changes a point.

    A path that is empty is not drawn. Percentages are whole and rounded down, so that 99.9 % of
    an interval never reads as 100.
    """

    state: str
    width: int
    height: int
    channel: str
    ticks: str
    tall_ticks: str
    used: str
    beyond: str
    limit: str
    margin: str
    margin_hatch: str
    hard_limit: str
    pointer: str
    band: str
    gap: str
    is_unknown: bool
    is_unsure: bool
    is_broken: bool
    percent: int | None
    limit_percent: int
    margin_percent: int | None
    hard_limit_percent: int | None
    band_from_percent: int | None
    band_to_percent: int | None


def strip(
    share: float | None,
    *,
    limit_share: float = 1.0,
    margin_share: float = 0.1,
    hard_limit_share: float | None = None,
    band: tuple[float, float] | None = None,
    state: str = "not_due",
) -> Strip:
    """Return the lines and points of one rule's strip.

    Parameters
    ----------
    share : float or None
        Part of the interval used, 1 = the whole interval, at least 0; None when it is not known.
    limit_share : float, optional
        Where the heavy line stands; 1 unless a deferral moved the limit [share].
    margin_share : float, optional
        Allowed excess after the limit [share]; 0 draws no hatching.
    hard_limit_share : float or None, optional
        Where the double line stands, if the rule has a hard limit [share].
    band : tuple of two floats or None, optional
        Low and high end of the 80 % band of the forecast [share].
    state : str, optional
        The standing's state; ``"unsure"`` draws what is used as a dashed line.

    Returns
    -------
    Strip
        Texts for the SVG's attributes and whole percentages for its text alternative.

    Raises
    ------
    ValueError
        When a share is negative or not a finite number, the limit is not above 0, or the band
        runs backwards.

    Notes
    -----
    The scale is linear up to 1.4. When something to be shown lies further, it is linear up to
    1.15 and broken there; behind the break a share v stands at ``1 - 1.15 / v`` of the tail, so
    that order is kept for any v and there is room for all of them.

    Examples
    --------
    >>> strip(0.62).percent
    62
    >>> strip(0.5).pointer
    '132,20 124,9 124,2 140,2 140,9'
    >>> strip(0.9, hard_limit_share=3.0).is_broken
    True
    """
    _refuse_unusable(share, margin_share, hard_limit_share, *(band or ()))
    if not limit_share > 0 or not math.isfinite(limit_share):
        raise ValueError("The limit of a strip must be above 0.")
    if band is not None and band[0] > band[1]:
        raise ValueError("The band of a strip must run from low to high.")

    # the limit itself decides too: a deferral may have moved it far out
    furthest = max(share or 0.0, limit_share, hard_limit_share or 0.0)
    is_broken = furthest > _PLAIN_END
    limit_x = _place(limit_share, is_broken=is_broken)
    hard_x = None if hard_limit_share is None else _place(hard_limit_share, is_broken=is_broken)
    share_x = None if share is None else _place(share, is_broken=is_broken)
    if is_broken and share_x is not None and hard_x is not None:
        share_x, hard_x = _apart(share_x, hard_x)
    margin_x = _place(limit_share + margin_share, is_broken=is_broken)
    scale_end = _BREAK_AT if is_broken else _PLAIN_END

    return Strip(
        state=state,
        width=WIDTH,
        height=HEIGHT,
        channel=_box(_ZERO_X, _END_X, top=_CHANNEL_TOP, bottom=_CHANNEL_BOTTOM),
        ticks=_ticks(scale_end, is_tall=False),
        tall_ticks=_ticks(scale_end, is_tall=True),
        used=_line(_ZERO_X, None if share_x is None else min(share_x, limit_x)),
        beyond="" if share_x is None else _line(limit_x, share_x),
        limit=f"M{_text(limit_x)} 9V55",
        margin=(
            _box(limit_x, margin_x, top=_CHANNEL_TOP, bottom=_CHANNEL_BOTTOM)
            if margin_x > limit_x
            else ""
        ),
        margin_hatch=_hatch(limit_x, margin_x),
        hard_limit=(
            "" if hard_x is None else f"M{_text(hard_x - 2.5)} 9V55M{_text(hard_x + 2.5)} 9V55"
        ),
        pointer="" if share_x is None else _pointer(share_x),
        band="" if band is None else _bracket(band, is_broken=is_broken),
        gap=_gap() if is_broken else "",
        is_unknown=share is None,
        is_unsure=share is None or state == "unsure",
        is_broken=is_broken,
        percent=_percent(share),
        limit_percent=_percent(limit_share) or 0,
        margin_percent=_percent(limit_share + margin_share) if margin_share > 0 else None,
        hard_limit_percent=_percent(hard_limit_share),
        band_from_percent=_percent(band[0]) if band else None,
        band_to_percent=_percent(band[1]) if band else None,
    )


def _refuse_unusable(*shares: float | None) -> None:
    for share in shares:
        if share is not None and not (math.isfinite(share) and share >= 0):
            raise ValueError("A share on a strip must be a finite number and at least 0.")


def _place(share: float, *, is_broken: bool) -> float:
    """Return where a share stands on the scale, never outside it."""
    if not is_broken:
        return min(_ZERO_X + 10 * _TENTH_X * share, _END_X)
    if share <= _BREAK_AT:
        return _ZERO_X + 10 * _TENTH_X * share
    return _TAIL_X + _TAIL_LENGTH * (1 - _BREAK_AT / share)


def _apart(share_x: float, hard_x: float) -> tuple[float, float]:
    """Keep pointer and hard limit apart behind the break, in the order they have."""
    is_behind = min(share_x, hard_x) >= _TAIL_X
    if share_x == hard_x or not is_behind or abs(share_x - hard_x) >= _TAIL_GAP:
        return share_x, hard_x
    middle = (share_x + hard_x) / 2
    low = min(max(middle - _TAIL_GAP / 2, _TAIL_X), _END_X - _TAIL_GAP)
    high = low + _TAIL_GAP
    return (low, high) if share_x < hard_x else (high, low)


def _text(coordinate: float) -> str:
    """Write a coordinate with a point and no needless zeros."""
    return f"{coordinate:.1f}".rstrip("0").rstrip(".")


def _percent(share: float | None) -> int | None:
    # rounding first keeps 0.29 * 100 = 28.999999999999996 from becoming 28
    return None if share is None else math.floor(round(share * 100, 6))


def _box(left: float, right: float, *, top: float, bottom: float) -> str:
    return f"M{_text(left)} {_text(top)}H{_text(right)}V{_text(bottom)}H{_text(left)}Z"


def _line(left: float, right: float | None) -> str:
    return "" if right is None or right <= left else f"M{_text(left)} 29H{_text(right)}"


def _pointer(x: float) -> str:
    corners = ((0, 20), (-8, 9), (-8, 2), (8, 2), (8, 9))
    return " ".join(f"{_text(x + dx)},{y}" for dx, y in corners)


def _ticks(scale_end: float, *, is_tall: bool) -> str:
    parts = []
    for tenth in range(math.floor(scale_end * 10 + 1e-9) + 1):
        if (tenth % 5 == 0) is is_tall:
            bottom = 46 if not is_tall else 54 if tenth % 10 == 0 else 51
            parts.append(f"M{_text(_ZERO_X + _TENTH_X * tenth)} 40V{bottom}")
    return "".join(parts)


def _hatch(left: float, right: float) -> str:
    """Return slanted lines cut off at the edges of the margin, so that no clip path is needed."""
    height = _CHANNEL_BOTTOM - _CHANNEL_TOP
    parts = []
    foot = left - height + _HATCH_STEP / 2
    while foot < right:
        head = foot + height
        start, end = max(foot, left), min(head, right)
        if end > start:
            parts.append(
                f"M{_text(start)} {_text(_CHANNEL_BOTTOM - (start - foot))}"
                f"L{_text(end)} {_text(_CHANNEL_BOTTOM - (end - foot))}"
            )
        foot += _HATCH_STEP
    return "".join(parts)


def _bracket(band: tuple[float, float], *, is_broken: bool) -> str:
    low, high = (_text(_place(share, is_broken=is_broken)) for share in band)
    return f"M{low} 57V63H{high}V57"


def _gap() -> str:
    """Return the zigzag at which the scale is broken."""
    x = _ZERO_X + 10 * _TENTH_X * _BREAK_AT + 3
    return "".join(
        f"M{_text(x + shift)} 11L{_text(x + shift + 5)} 21L{_text(x + shift - 1)} 32"
        f"L{_text(x + shift + 4)} 47"
        for shift in (0, 6)
    )
