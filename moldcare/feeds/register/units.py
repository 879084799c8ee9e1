"""Units of masses, times and lengths as headings and cells name them, and what they are in ours."""

import re
import unicodedata
from collections.abc import Iterable
from decimal import ROUND_HALF_UP, Decimal
from typing import Final

from django.utils.translation import gettext as _

from moldcare.feeds.tables.rows import LONGEST_FACT
from moldcare.feeds.tables.text import clean
from moldcare.work.numbers import plain_decimal

#: In kg. The pound is exact by the international yard and pound agreement of 1959.
MASS_UNITS: Final = {
    "kg": Decimal(1),
    "lb": Decimal("0.45359237"),
    "t": Decimal(1000),
    "g": Decimal("0.001"),
}
#: In seconds.
TIME_UNITS: Final = {"s": Decimal(1), "min": Decimal(60), "ms": Decimal("0.001")}
#: In mm. The inch is exact by the international yard and pound agreement of 1959, the foot 12.
LENGTH_UNITS: Final = {
    "mm": Decimal(1),
    "cm": Decimal(10),
    "m": Decimal(1000),
    "in": Decimal("25.4"),
    "ft": Decimal("304.8"),
}
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
_LENGTH_WORDS: Final = {
    **dict.fromkeys(["mm", "millimeter", "millimeters", "millimetre", "millimetres"], "mm"),
    **dict.fromkeys(["milímetro", "milímetros"], "mm"),
    **dict.fromkeys(["cm", "centimeter", "centimeters", "centimetre", "centimetres"], "cm"),
    **dict.fromkeys(["zentimeter", "centímetro", "centímetros"], "cm"),
    **dict.fromkeys(["m", "meter", "meters", "metre", "metres", "metro", "metros"], "m"),
    **dict.fromkeys(["in", "inch", "inches", "zoll", "pulgada", "pulgadas", "pulg"], "in"),
    **dict.fromkeys(['"', "''", "″"], "in"),
    **dict.fromkeys(["ft", "foot", "feet", "fuß", "fuss", "pie", "pies", "'", "′"], "ft"),
}
_COUNT_WORDS: Final = frozenset(
    [
        *("pcs", "pc", "no", "nr", "qty", "stk", "stück", "anzahl", "cycles", "shots", "schuss"),
        *("zyklen", "ciclos", "disparos", "date", "datum", "fecha", "unit", "mm", "in", "inch"),
        *("tage", "days", "días", "months", "monate", "meses", "weeks", "wochen", "semanas"),
    ]
)
_WORD: Final = re.compile(r"[^\W\d_]{2,}")
#: A longer title is not read to its end.
TITLE_LENGTH: Final = 400
#: Units that are also words of other things.
_OTHER_WORDS: Final = frozenset(["in", "to", "min", "ton", "pie", "seg", "ms", "second", "metro"])
_IN_BRACKETS: Final = re.compile(r"[(\[]\s*(?:in\s+)?([^()\[\]]{1,12}?)\s*[)\]]")
_BEHIND: Final = re.compile(r"(?:[\s,/]|\bin\s)([^\W\d]{1,9})\.?$")
_SIGN_BEHIND: Final = re.compile(r"[\w\s](\"|″|'{1,2}|′)$")
_BEFORE_A_BORE: Final = re.compile(r"^[øØ⌀]\s*")
_VULGAR: Final = re.compile(r"[¼-¾⅐-⅞]")
#: Inches as rules and drills have them: 3/8, 1 1/4, 1-1/4.
_FRACTION: Final = re.compile(r"(?:([0-9]{1,3})[\s-]+)?([0-9]{1,2})/(2|4|8|16|32|64)", re.ASCII)
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


def unit_told(texts: Iterable[str], *, units: dict[str, str]) -> str | None:
    """Give the one unit that titles name, such as "all weights in lb"; None where they name two.

    A word of two letters that says other things as well is no unit here.

    Examples
    --------
    >>> unit_told(["Molds of hall 2, weights in lbs"], units=_MASS_WORDS)
    'lb'
    >>> unit_told(["Weights in kg, before in lb"], units=_MASS_WORDS)
    """
    words = [
        word for text in texts for word in _WORD.findall(clean(text).casefold()[:TITLE_LENGTH])
    ]
    found = {units[word] for word in words if word in units and word not in _OTHER_WORDS}
    return found.pop() if len(found) == 1 else None


def mass_unit_told(titles: Iterable[str]) -> str | None:
    """Give the unit of mass that titles name."""
    return unit_told(titles, units=_MASS_WORDS)


def time_unit_told(titles: Iterable[str]) -> str | None:
    """Give the unit of time that titles name."""
    return unit_told(titles, units=_TIME_WORDS)


def length_unit_told(titles: Iterable[str]) -> str | None:
    """Give the unit of length that titles name."""
    return unit_told(titles, units=_LENGTH_WORDS)


def mass_unit_in(heading: str) -> str | None:
    """Give the unit of mass that a heading names."""
    return unit_in(heading, units=_MASS_WORDS)


def time_unit_in(heading: str) -> str | None:
    """Give the unit of time that a heading names."""
    return unit_in(heading, units=_TIME_WORDS)


def length_unit_in(heading: str) -> str | None:
    """Give the unit of length that a heading names, or the sign of one at its end.

    Examples
    --------
    >>> length_unit_in("Bore [in]"), length_unit_in("Länge mm"), length_unit_in("Ø ″")
    ('in', 'mm', 'in')
    """
    named = unit_in(heading, units=_LENGTH_WORDS)
    sign = _SIGN_BEHIND.search(clean(heading))
    return named or (_LENGTH_WORDS[sign[1]] if sign is not None else None)


def is_length_word(text: str) -> bool:
    """Tell a word that is a unit of length."""
    return text in _LENGTH_WORDS


def is_unit_word(text: str) -> bool:
    """Tell a text that is nothing but a unit, as a row below the headings has."""
    bare = clean(text).casefold().strip("()[]. ")
    return (bare in _MASS_WORDS or bare in _TIME_WORDS or bare in _LENGTH_WORDS) or (
        bare in _COUNT_WORDS or bare == "-"
    )


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


def length_parted(text: str) -> tuple[str, str | None]:
    """Part a length from its unit; a sign of the diameter before it is left out.

    Examples
    --------
    >>> length_parted("Ø 8 mm"), length_parted("3/8″"), length_parted("1½ in")
    (('8', 'mm'), ('3/8', 'in'), ('1 1/2', 'in'))
    """
    spread = _VULGAR.sub(
        lambda sign: f" {unicodedata.normalize('NFKC', sign[0])}",
        _BEFORE_A_BORE.sub("", clean(text)),
    )
    return parted(spread.replace("⁄", "/").strip(), units=_LENGTH_WORDS)


def fraction(text: str) -> Decimal | None:
    """Give the value of a fraction of an inch, None where the text is none.

    Two numbers such as 8/10 are none: they may be two bores.

    Examples
    --------
    >>> fraction("3/8"), fraction("1 1/4"), fraction("8/10"), fraction("10/8")
    (Decimal('0.375'), Decimal('1.25'), None, None)
    """
    found = _FRACTION.fullmatch(text)
    if found is None or int(found[2]) >= int(found[3]):
        return None
    return int(found[1] or 0) + Decimal(found[2]) / Decimal(found[3])


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


def in_mm(value: Decimal, *, unit: str, text: str, step: Decimal) -> tuple[Decimal, str]:
    """Give a length in mm to a step, and a note where that is not what was written.

    Examples
    --------
    >>> in_mm(Decimal("0.375"), unit="in", text="3/8 in", step=Decimal("0.00001"))
    (Decimal('9.52500'), '3/8 in is 9.525 mm.')
    """
    exact = value * LENGTH_UNITS[unit]
    rounded = exact.quantize(step, rounding=ROUND_HALF_UP)
    if unit == "mm" and rounded == exact:
        return rounded, ""
    shown = text if length_parted(text)[1] else f"{text} {unit}"
    return rounded, _("%(text)s is %(value)s mm.") % {
        "text": shown,
        "value": plain_decimal(rounded),
    }
