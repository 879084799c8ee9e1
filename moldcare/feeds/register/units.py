"""Units of masses and times as headings and cells name them, and what they are in ours."""

import re
from decimal import ROUND_HALF_UP, Decimal
from typing import Final

from django.utils.translation import gettext as _

from moldcare.feeds.tables.rows import LONGEST_FACT
from moldcare.feeds.tables.text import clean

#: In kg. The pound is exact by the international yard and pound agreement of 1959.
MASS_UNITS: Final = {
    "kg": Decimal(1),
    "lb": Decimal("0.45359237"),
    "t": Decimal(1000),
    "g": Decimal("0.001"),
}
#: In seconds.
TIME_UNITS: Final = {"s": Decimal(1), "min": Decimal(60), "ms": Decimal("0.001")}
_MASS_WORDS: Final = {
    **dict.fromkeys(["kg", "kgs", "kilo", "kilos", "kilogram", "kilograms", "kilogramm"], "kg"),
    **dict.fromkeys(["kilogramos", "kilogramo"], "kg"),
    **dict.fromkeys(["lb", "lbs", "pound", "pounds", "#", "pfund", "libras", "libra"], "lb"),
    **dict.fromkeys(["t", "to", "ton", "tons", "tonne", "tonnes", "tonnen", "toneladas"], "t"),
    **dict.fromkeys(["g", "gr", "gram", "grams", "gramm", "gramos"], "g"),
}
_TIME_WORDS: Final = {
    **dict.fromkeys(["s", "sec", "secs", "second", "seconds", "sek", "sekunden"], "s"),
    **dict.fromkeys(["seg", "segundos", '"', "''", "″"], "s"),
    **dict.fromkeys(["min", "mins", "minute", "minutes", "minuten", "minutos", "'", "′"], "min"),
    **dict.fromkeys(["ms"], "ms"),
}
_COUNT_WORDS: Final = frozenset(
    [
        *("pcs", "pc", "no", "nr", "qty", "stk", "stück", "anzahl", "cycles", "shots", "schuss"),
        *("zyklen", "ciclos", "disparos", "date", "datum", "fecha", "unit", "mm", "in", "inch"),
        *("tage", "days", "días", "months", "monate", "meses", "weeks", "wochen", "semanas"),
    ]
)
_IN_BRACKETS: Final = re.compile(r"[(\[]\s*(?:in\s+)?([^()\[\]]{1,12}?)\s*[)\]]")
_BEHIND: Final = re.compile(r"(?:[\s,/]|\bin\s)([^\W\d]{1,9})\.?$")
_CLOCK: Final = re.compile(r"([0-9]{1,2}):([0-5][0-9])(?:[.,]([0-9]))?")


def unit_in(heading: str, *, units: dict[str, str]) -> str | None:
    """Give the unit that a heading names in brackets or as its last word.

    Examples
    --------
    >>> unit_in("Mass A [lbs]", units=_MASS_WORDS), unit_in("Gewicht in kg", units=_MASS_WORDS)
    ('lb', 'kg')
    >>> unit_in("Gewicht", units=_MASS_WORDS)
    """
    text = clean(heading).casefold()[:LONGEST_FACT]
    for found in _IN_BRACKETS.finditer(text):
        if found[1].strip(".") in units:
            return units[found[1].strip(".")]
    behind = _BEHIND.search(text)
    return units.get(behind[1]) if behind is not None else None


def mass_unit_in(heading: str) -> str | None:
    """Give the unit of mass that a heading names."""
    return unit_in(heading, units=_MASS_WORDS)


def time_unit_in(heading: str) -> str | None:
    """Give the unit of time that a heading names."""
    return unit_in(heading, units=_TIME_WORDS)


def is_unit_word(text: str) -> bool:
    """Tell a text that is nothing but a unit, as a row below the headings has."""
    bare = clean(text).casefold().strip("()[]. ")
    return bare in _MASS_WORDS or bare in _TIME_WORDS or bare in _COUNT_WORDS or bare == "-"


def parted(text: str, *, units: dict[str, str]) -> tuple[str, str | None]:
    """Part a number from the unit behind it; the unit is None where there is none.

    Examples
    --------
    >>> parted("925 lbs", units=_MASS_WORDS), parted("12,5", units=_MASS_WORDS)
    (('925', 'lb'), ('12,5', None))
    """
    bare = text.rstrip(" .")
    end = len(bare)
    while end and not bare[end - 1].isdigit():
        end -= 1
    word = bare[end:].strip().casefold()
    if not word:
        return bare, None
    return bare[:end].strip(), units.get(word, word)


def mass_parted(text: str) -> tuple[str, str | None]:
    """Part a mass from its unit."""
    return parted(text, units=_MASS_WORDS)


def time_parted(text: str) -> tuple[str, str | None]:
    """Part a time from its unit."""
    return parted(text, units=_TIME_WORDS)


def clock_seconds(text: str) -> Decimal | None:
    """Give the seconds of a time written as minutes and seconds, such as 1:05.

    Examples
    --------
    >>> clock_seconds("1:05"), clock_seconds("35")
    (Decimal('65'), None)
    """
    found = _CLOCK.fullmatch(text)
    if found is None:
        return None
    return Decimal(int(found[1]) * 60 + int(found[2])) + Decimal(f"0.{found[3] or 0}").normalize()


def in_kg(value: Decimal, *, unit: str, text: str) -> tuple[Decimal, str]:
    """Give a mass in kg to a tenth, and a note where that is not what was written.

    Examples
    --------
    >>> in_kg(Decimal(925), unit="lb", text="925 lb")
    (Decimal('419.6'), '925 lb is 419.6 kg.')
    """
    exact = value * MASS_UNITS[unit]
    rounded = exact.quantize(Decimal("0.1"), rounding=ROUND_HALF_UP)
    if unit == "kg" and rounded == exact:
        return rounded, ""
    shown = text if unit in text.casefold() else f"{text} {unit}"
    return rounded, _("%(text)s is %(value)s kg.") % {"text": shown, "value": rounded}


def in_seconds(value: Decimal, *, unit: str, text: str) -> tuple[Decimal, str]:
    """Give a time in seconds to a hundredth, and a note where that is not what was written."""
    exact = value * TIME_UNITS[unit]
    rounded = exact.quantize(Decimal("0.01"), rounding=ROUND_HALF_UP)
    if unit == "s" and rounded == exact:
        return rounded, ""
    shown = text if unit in text.casefold() or ":" in text else f"{text} {unit}"
    return rounded, _("%(text)s is %(value)s s.") % {"text": shown, "value": rounded}
