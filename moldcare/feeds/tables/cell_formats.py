"""How a workbook's cell shows the number or date it holds."""

import re
from datetime import date, datetime, time, timedelta
from decimal import ROUND_HALF_UP, Decimal
from typing import Final

#: What a cell may hold beside text. A truth value counts as a number.
Shown = float | datetime | date | time | timedelta

_SECTION_MARKS: Final = re.compile(r"\[[^\]]*\]|_.|\*.")
_PLAIN: Final = re.compile(
    r'^((?:"[^"]*"|\\.|[^0#?.,";\\])*)([0#?,]+)(?:\.([0#?]+))?((?:"[^"]*"|\\.|[^0#?.,";\\])*)$'
)


def shown(value: Shown, *, number_format: str) -> str:
    """Give the text that a cell shows, as far as readings need it.

    Parameters
    ----------
    value : number or date
        What the cell holds.
    number_format : str
        Its format, for example ``0000`` or ``#,##0``.

    Notes
    -----
    Leading zeros, thousands, decimals and texts in the format are followed. Dates are written as
    ISO 8601 whatever their format; formats with fractions, exponents or scaling show the number
    itself.

    Examples
    --------
    >>> shown(417, number_format="0000"), shown(12400, number_format="#,##0")
    ('0417', '12,400')
    >>> shown(417, number_format='"M-"0000'), shown(12.5, number_format="General")
    ('M-0417', '12.5')
    """
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, datetime):
        has_time = value.time() != time() or "h" in number_format.casefold()
        return value.isoformat(sep=" ") if has_time else value.date().isoformat()
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, timedelta):
        minutes, seconds = divmod(int(value.total_seconds()), 60)
        return f"{minutes // 60:02d}:{minutes % 60:02d}:{seconds:02d}"
    if number_format in {"General", "@", "0", ""}:
        return plain(value)
    sections = number_format.split(";")
    section = sections[1] if value < 0 and len(sections) > 1 else sections[0]
    found = _PLAIN.match(_SECTION_MARKS.sub("", section))
    if found is None or "%" in section or "E" in section:
        return plain(value)
    before, whole, decimals, after = found.groups()
    if whole.endswith(","):
        return plain(value)
    text = _digits(value, whole=whole, decimals=decimals or "")
    sign = "-" if value < 0 and len(sections) == 1 else ""
    return sign + _literal(before) + text + _literal(after)


def plain(value: int | float) -> str:
    """Write a number in digits only, never as a power of ten.

    Examples
    --------
    >>> plain(1200000.0), plain(4.25), plain(1e21)
    ('1200000', '4.25', '1000000000000000000000')
    """
    if isinstance(value, int):
        return str(value)
    text = format(Decimal(repr(value)), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def _digits(value: int | float, *, whole: str, decimals: str) -> str:
    step = Decimal(1).scaleb(-len(decimals))
    rounded = abs(Decimal(repr(value))).quantize(step, rounding=ROUND_HALF_UP)
    places, _point, fraction = format(rounded, "f").partition(".")
    places = places.zfill(whole.replace(",", "").count("0"))
    if "," in whole:
        head = len(places) % 3 or 3
        groups = [places[:head], *(places[i : i + 3] for i in range(head, len(places), 3))]
        places = ",".join(group for group in groups if group)
    while fraction and decimals[len(fraction) - 1] in "#?" and fraction.endswith("0"):
        fraction = fraction[:-1]
    return f"{places}.{fraction}" if fraction else places


def _literal(text: str) -> str:
    return re.sub(r'"([^"]*)"|\\(.)', lambda found: found[1] or found[2] or "", text)
