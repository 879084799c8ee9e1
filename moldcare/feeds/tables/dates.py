"""Dates and times as people write them, taken apart without deciding what is ambiguous."""

import re
import unicodedata
from datetime import date, datetime
from typing import Final, NamedTuple


class Written(NamedTuple):
    """A date as written: a date where it is unmistakable, else its parts in their order."""

    date: date | None
    parts: tuple[int, int, int] | None
    sign: str
    has_short_year: bool = False
    serial: float | None = None


#: Stands for a date such as 31 February, so that its row can say so.
NO_DAY: Final = date.min

_ISO: Final = re.compile(r"([0-9]{4})([-/.])([0-9]{1,2})\2([0-9]{1,2})")
_COMPACT: Final = re.compile(r"((?:19|20)[0-9]{2})([0-9]{2})([0-9]{2})")
_NUMERIC: Final = re.compile(r"([0-9]{1,2})([-/.])([0-9]{1,2})\2([0-9]{4}|[0-9]{2})")
_DAY_NAME_YEAR: Final = re.compile(
    r"([0-9]{1,2})(?:st|nd|rd|th)?[\s.\-]*(?:de\s+)?([^\W\d]{3,10})[\s.,\-]*(?:de\s+)?"
    r"([0-9]{4}|[0-9]{2})"
)
_NAME_DAY_YEAR: Final = re.compile(
    r"([^\W\d]{3,10})[\s.]+([0-9]{1,2})(?:st|nd|rd|th)?[\s,]+([0-9]{4})"
)
_SERIAL: Final = re.compile(r"([2-7][0-9]{4})(?:[.,]([0-9]+))?")
_WEEKDAY: Final = re.compile(r"([^\W\d]{2,10})[.,]{0,2}\s+(?=\S)")
_MOMENT: Final = re.compile(
    r"(?P<date>.*?[0-9.])(?:(?:\s*,\s*|\s+)(?:um\s+|at\s+)?)"
    r"(?P<time>[0-9]{1,2}[:.h][0-9]{2}(?:[:.][0-9]{2}(?:[.,][0-9]+)?)?"
    r"\s*(?:[ap]\.?\s?m\.?|uhr|hrs?|h)?|[0-9]{1,2}\s*[ap]\.?\s?m\.?)",
    re.IGNORECASE,
)
_TIME: Final = re.compile(
    r"([0-9]{1,2})[:.h]([0-9]{2})(?:[:.]([0-9]{2})(?:[.,][0-9]{1,9})?)?\s*"
    r"(?:(?P<half>[ap])\.?\s?m\.?|uhr|hrs?|h)?",
    re.IGNORECASE,
)
_HOUR_WITH_HALF: Final = re.compile(r"([0-9]{1,2})\s*(?P<half>[ap])\.?\s?m\.?", re.IGNORECASE)
_FOUR_DIGITS: Final = re.compile(r"([0-9]{2})([0-9]{2})(?:\s*(?:uhr|hrs?|h))?", re.IGNORECASE)

_MONTHS: Final = {
    name: month
    for month, names in enumerate(
        [
            "jan january januar jaenner janner jän ene enero",
            "feb february februar febrero",
            "mar march märz mär mrz maerz marz marzo",
            "apr april abr abril",
            "may mai mayo",
            "jun june juni junio",
            "jul july juli julio",
            "aug august ago agosto",
            "sep sept september set septiembre setiembre",
            "oct october okt oktober octubre",
            "nov november noviembre",
            "dec december dez dezember dic diciembre",
        ],
        start=1,
    )
    for name in names.split()
}
_WEEKDAYS: Final = frozenset(
    [
        *("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"),
        *("mon", "tue", "tues", "wed", "thu", "thur", "thurs", "fri", "sat", "sun"),
        *("montag", "dienstag", "mittwoch", "donnerstag", "freitag", "samstag"),
        *("sonnabend", "sonntag", "mo", "di", "mi", "do", "fr", "sa", "so"),
        *("lunes", "martes", "miércoles", "miercoles", "jueves", "viernes", "sábado"),
        *("sabado", "domingo", "lun", "mar", "mié", "mie", "jue", "vie", "sáb", "sab", "dom"),
        *("lu", "ma", "ju", "vi", "sá"),
    ]
)


def written_date(text: str) -> Written | None:
    """Take a date apart without deciding what is ambiguous; None where it is no date.

    Parameters
    ----------
    text : str
        A date alone, clean of blanks at its ends.

    Notes
    -----
    Unmistakable: a four-digit year in front, eight digits, a month by name in English, German or
    Spanish. A weekday in front is passed over.

    Examples
    --------
    >>> written_date("2026-04-03").date, written_date("3. März 2026").date
    (datetime.date(2026, 4, 3), datetime.date(2026, 3, 3))
    >>> written_date("03/04/2026").parts
    (3, 4, 2026)
    """
    if found := _NUMERIC.fullmatch(text):
        first, sign, second, year = found.groups()
        parts = (int(first), int(second), int(year))
        return Written(None, parts, sign, has_short_year=len(year) == 2)
    if found := _ISO.fullmatch(text):
        return _certain(found[1], found[3], found[4])
    if found := _COMPACT.fullmatch(text):
        return _certain(found[1], found[2], found[3])
    if found := _SERIAL.fullmatch(text):
        return Written(None, None, "", serial=float(f"{found[1]}.{found[2] or 0}"))
    if (found := _WEEKDAY.match(text)) and found[1].casefold() in _WEEKDAYS:
        rest = written_date(text[found.end() :])
        if rest is not None:
            return rest
    if found := _DAY_NAME_YEAR.fullmatch(text):
        return _named(found[1], found[2], found[3])
    if found := _NAME_DAY_YEAR.fullmatch(text):
        return _named(found[2], found[1], found[3])
    return None


def moment_parts(text: str) -> tuple[str, str]:
    """Date and time of a text that may hold both; the time is empty where there is none.

    Examples
    --------
    >>> moment_parts("03.04.2026 14:22"), moment_parts("3 April 2026, 2:22 pm")
    (('03.04.2026', '14:22'), ('3 April 2026', '2:22 pm'))
    """
    if len(text) > 10 and text[10] in "Tt" and text[4] == text[7] == "-":
        return text[:10], text[11:]
    first, _blank, rest = text.partition(" ")
    if rest[:1].isdigit() and first[-1:].isdigit() and len(first) >= 6:
        return first, rest.strip()
    if found := _MOMENT.fullmatch(text):
        return found["date"].rstrip(" ,"), found["time"]
    return text, ""


def seconds_of_day(text: str) -> int | None:
    """Seconds since midnight of a time, 86,400 for 24:00; None where it is no time.

    Examples
    --------
    >>> seconds_of_day("14:22"), seconds_of_day("2.22 pm"), seconds_of_day("24:00")
    (51720, 51720, 86400)
    >>> seconds_of_day("25:00")
    """
    half = None
    if found := _TIME.fullmatch(text):
        hour, minute, second = int(found[1]), int(found[2]), int(found[3] or 0)
        half = found["half"]
    elif found := _HOUR_WITH_HALF.fullmatch(text):
        hour, minute, second, half = int(found[1]), 0, 0, found["half"]
    elif found := _FOUR_DIGITS.fullmatch(text):
        hour, minute, second = int(found[1]), int(found[2]), 0
    else:
        return None
    if half:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half.casefold() == "p" else 0)
    if minute > 59 or second > 59 or hour > 24 or (hour == 24 and (minute or second)):
        return None
    return hour * 3600 + minute * 60 + second


def _certain(year: str, month: str, day: str) -> Written | None:
    try:
        return Written(date(int(year), int(month), int(day)), None, "")
    except ValueError:
        return Written(NO_DAY, None, "")


def month_named(name: str) -> int | None:
    """Give the number of a month by its name, None where it is none."""
    return _MONTHS.get(unicodedata.normalize("NFC", name).casefold())


def _named(day: str, name: str, year: str) -> Written | None:
    month = month_named(name)
    if month is None:
        return None
    return _certain(year if len(year) == 4 else f"20{year}", str(month), day)


def with_offset(text: str) -> datetime | None:
    """Read an instant written with its own offset or Z; None where it has none.

    Examples
    --------
    >>> with_offset("2026-04-03T14:22:05+02:00").isoformat()
    '2026-04-03T14:22:05+02:00'
    >>> with_offset("2026-04-03T14:22:05")
    """
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return None
    return moment if moment.tzinfo is not None else None
