"""Intervals as people write them: by count, calendar, hours or event, whichever comes first."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import lru_cache
from typing import Final

from django.utils.translation import gettext as _

from moldcare.feeds.register.events import event_in
from moldcare.feeds.tables.numbers import Signs, read_decimal
from moldcare.feeds.tables.rows import LONGEST_FACT
from moldcare.feeds.tables.text import clean


@dataclass(frozen=True, kw_only=True, slots=True)
class Interval:
    """An interval: by count, by calendar, in running hours, at an event, or several of these.

    `bare` is a number that names no unit.
    """

    count: int | None = None
    basis: str = "cycles"
    period_n: int | None = None
    period_unit: str = ""
    hours: int | None = None
    event: str = ""
    bare: Decimal | None = None

    def has_kind_of(self, other: "Interval") -> bool:
        """Say whether two intervals are of one kind, such as both by count."""
        return bool(
            ((self.count or self.bare) and (other.count or other.bare))
            or (self.period_n and other.period_n)
            or (self.hours and other.hours)
            or (self.event and other.event)
        )


def _all(words: str, meaning: str) -> dict[str, str]:
    return dict.fromkeys(words.split(), meaning)


#: What a number in front of them counts.
UNITS: Final[Mapping[str, str]] = {
    **_all("cycle cycles cyc zyklus zyklen ciclo ciclos hübe hub takte takt closings", "cycles"),
    **_all("hits hit strokes stroke golpes golpe counts count", "cycles"),
    **_all("shot shots schuss schüsse schuß schüssen disparo disparos inyectadas", "shots"),
    **_all("inyectada inyecciones", "shots"),
    **_all("d day days tag tage tagen día días dia dias", "day"),
    **_all("tägig tägige täglich", "day"),
    **_all("wöchig wöchentlich", "week"),
    **_all("monatig monatlich monthly", "month"),
    **_all("jährig jährlich yearly", "year"),
    **_all("w wk wks week weeks woche wochen wo semana semanas sem", "week"),
    **_all("m mo mon mos mth month months monat monate monaten mes meses", "month"),
    **_all("y yr yrs year years a jahr jahre jahren j año años ano anos", "year"),
    **_all("quarter quarters quartal quartale trimestre trimestres", "quarter"),
    **_all("h hr hrs hour hours std stunde stunden hora horas bh betriebsstunden oh", "hour"),
    **_all("laufstunden produktionsstunden", "hour"),
}
_NAMED: Final = {
    **dict.fromkeys(["daily", "täglich", "diario", "diaria", "diariamente"], (1, "day")),
    **dict.fromkeys(["weekly", "wöchentlich", "semanal", "semanalmente"], (1, "week")),
    **dict.fromkeys(["biweekly", "fortnightly", "zweiwöchentlich", "vierzehntägig"], (2, "week")),
    **dict.fromkeys(["14-tägig", "14-täglich", "14tägig", "quincenal", "bi-weekly"], (2, "week")),
    **dict.fromkeys(["every other week", "every second week", "every fortnight"], (2, "week")),
    **dict.fromkeys(["monthly", "monatlich", "mensual", "mensualmente"], (1, "month")),
    **dict.fromkeys(["bimonthly", "zweimonatlich", "bimestral"], (2, "month")),
    **dict.fromkeys(["quarterly", "vierteljährlich", "quartalsweise", "trimestral"], (3, "month")),
    **dict.fromkeys(["half-yearly", "half yearly", "halbjährlich", "semestral"], (6, "month")),
    **dict.fromkeys(["semi-annually", "semiannually", "semi-annual", "biannually"], (6, "month")),
    **dict.fromkeys(["twice a year", "halbjahr", "jedes halbe jahr"], (6, "month")),
    **dict.fromkeys(["yearly", "annually", "annual", "jährlich", "anual"], (1, "year")),
    **dict.fromkeys(["anualmente", "once a year"], (1, "year")),
    **dict.fromkeys(["zweijährlich", "bienal", "biennially"], (2, "year")),
    **dict.fromkeys(["tägl", "tgl"], (1, "day")),
    **dict.fromkeys(["wöchentl"], (1, "week")),
    **dict.fromkeys(["14-tägl", "14tägl", "2-wöchentl"], (2, "week")),
    **dict.fromkeys(["monatl", "mtl"], (1, "month")),
    **dict.fromkeys(["vierteljährl", "viertelj", "quartalsw"], (3, "month")),
    **dict.fromkeys(["halbjährl", "halbj"], (6, "month")),
    **dict.fromkeys(["jährl", "jhrl"], (1, "year")),
}
_TIMES: Final = {
    **dict.fromkeys(["k", "tsd", "tausend", "thousand", "mil", "t"], 1000),
    **dict.fromkeys(["mio", "million", "millionen", "millones"], 1_000_000),
}
_BETWEEN: Final = re.compile(
    r"\s*(?:\bor\b|\boder\b|(?<=\s)o(?=\s)|\bund\b|\band\b|(?<=\s)y(?=\s)|\bbzw\b\.?|/|;|\n|\||\+"
    r"|,(?![0-9]))\s*"
)
_AFTERTHOUGHT: Final = re.compile(
    r"[,;(\s]*\b(?:whichever|what(?:ever)? comes|je nachdem|was zuerst|lo que|whatever)\b.*$", re.S
)
_LEAD: Final = re.compile(
    r"(?:every|each|all|alle|allen|jede[nsmr]?|cada|nach|after|tras|ca|about|max|at most|bis zu|"
    r"todos los|todas las|spätestens|at least|mindestens|once an?|once per|per|pro|por|einmal|"
    r"una vez (?:al|por)|1\s?[x×](?=\s|/)\s*(?:pro|per|a|im|al|por|/)?|(?=/)/)\.?\s+"
)
_NUMBERED: Final = re.compile(
    r"(?P<number>(?>[0-9]+(?:[.,'’][0-9]+|\s[0-9]{3}(?![0-9]))*))\s*(?P<times>k|tsd|mio|mil|tausend|thousand|million|"
    r"millionen|millones)?(?![^\W\d_])\.?\s*(?:-\s*)?(?P<unit>[^\W\d_]+)?\.?"
)
_STUCK: Final = re.compile(
    r"(?P<number>(?>[0-9]+(?:[.,'’][0-9]+|\s[0-9]{3}(?![0-9]))*))\s*(?P<unit>[^\W\d_]+)\.?"
)
_OFTEN: Final = re.compile(
    r"(?P<times>[0-9]{1,2})\s*(?:[x×]|mal|times|veces|(?=/))\s*"
    r"(?:pro|per|an?|im|in der|al|a la|por|/)?\s*(?P<unit>[^\W\d_]+)"
)
_A_YEAR: Final = {"year": 12, "jährlich": 12, "yearly": 12, "anual": 12}
#: Units of large numbers, whose points and commas may part thousands.
_COUNTED: Final = frozenset(["", "cycles", "shots", "hour"])
#: The database holds no larger interval.
COUNT_AT_MOST: Final = 1_000_000_000
PERIOD_AT_MOST: Final = 10_000
HOURS_AT_MOST: Final = 1_000_000
#: Texts that are remembered: a sheet repeats the same few intervals.
MEMORY: Final = 5000


def read_interval(text: str, *, signs: Signs | None) -> Interval | str:
    """Read an interval, or give the sentence that says why it is none.

    Parameters
    ----------
    text : str
        As the cell shows it.
    signs : Signs or None
        What points and commas in counts mean.

    Examples
    --------
    >>> both = read_interval("250k shots or 6 months", signs=Signs.THOUSANDS)
    >>> both.count, both.basis, both.period_n, both.period_unit
    (250000, 'shots', 6, 'month')
    >>> read_interval("alle 14 Tage", signs=None).period_n
    14
    >>> read_interval("200 h", signs=None).hours, read_interval("each run", signs=None).event
    (200, 'end_of_run')
    >>> read_interval("as needed", signs=None)
    '“as needed” is no interval by count, by calendar, in hours or by an event.'
    """
    if len(text) > LONGEST_FACT:
        return _("This text is too long for an interval.")
    return _remembered(text, signs=signs)


@lru_cache(maxsize=MEMORY)
def _remembered(text: str, *, signs: Signs | None) -> Interval | str:
    bare = _AFTERTHOUGHT.sub("", clean(text).casefold()).strip(" .;,()")
    whole = _one(bare, signs=signs)
    if isinstance(whole, Interval):
        return whole
    found = Interval()
    parts = [part for part in _BETWEEN.split(bare) if part]
    for part in parts if len(parts) > 1 else [bare]:
        one = _one(part.strip(" .()"), signs=signs)
        if isinstance(one, str):
            return one or (
                _("“%(text)s” is no interval by count, by calendar, in hours or by an event.")
                % {"text": text}
            )
        if found.has_kind_of(one):
            return _("“%(text)s” names two intervals of one kind.") % {"text": text}
        found = joined(found, more=one)
    return found


@lru_cache(maxsize=MEMORY)
def counts_in(text: str) -> tuple[str, ...]:
    """Give the numbers of an interval whose points and commas need the column's decision.

    Examples
    --------
    >>> counts_in("50.000 Schuss oder 1,5 Jahre"), counts_in("2,5k")
    (('50.000',), ())
    """
    numbers = []
    for found in _NUMBERED.finditer(clean(text).casefold()):
        unit = UNITS.get(found["unit"] or "", "")
        if not found["times"] and unit in _COUNTED:
            numbers.append(found["number"].strip())
    return tuple(numbers)


def with_unit(interval: Interval, *, unit: str) -> Interval | str:
    """Give an interval whose number names no unit the unit of its column."""
    if interval.bare is None:
        return interval
    one = _of_unit(interval.bare, unit=unit)
    if isinstance(one, str):
        return one
    return joined(replace(interval, bare=None), more=one)


def joined(interval: Interval, *, more: Interval) -> Interval:
    """Put two intervals together; where both are of one kind, the first stands."""
    return Interval(
        count=interval.count or more.count,
        basis=interval.basis if interval.count else more.basis,
        period_n=interval.period_n or more.period_n,
        period_unit=interval.period_unit or more.period_unit,
        hours=interval.hours or more.hours,
        event=interval.event or more.event,
        bare=interval.bare if interval.bare is not None else more.bare,
    )


def _one(text: str, *, signs: Signs | None) -> Interval | str:
    """Read one interval; an empty sentence where it is none at all."""
    if text in _NAMED:
        n, unit = _NAMED[text]
        return Interval(period_n=n, period_unit=unit)
    if found := _OFTEN.fullmatch(text):
        return _often(int(found["times"]), found["unit"])
    if event := event_in(text):
        return Interval(event=event)
    lead = _LEAD.match(f"{text} ")
    if lead is not None and lead.end() <= len(text):
        rest = text[lead.end() :].strip()
        if UNITS.get(rest) in {"day", "week", "month", "year", "quarter"}:
            return _of_unit(Decimal(1), unit=UNITS[rest])
        return _one(rest, signs=signs)
    found = _NUMBERED.fullmatch(text) or _STUCK.fullmatch(text)
    if found is None:
        return ""
    groups = found.groupdict()
    number, times, unit = groups["number"].strip(), groups.get("times"), groups["unit"] or ""
    if unit in _TIMES and unit not in UNITS:
        times, unit = unit, ""
    if unit.startswith("k") and unit[1:] in UNITS:
        times, unit = "k", unit[1:]
    if unit and unit not in UNITS:
        return ""
    known = UNITS.get(unit, "")
    is_short = times is not None or known not in _COUNTED
    value = _short(number) if is_short else read_decimal(number, signs=signs)
    if isinstance(value, str):
        return value
    if value is None:
        return ""
    value *= _TIMES.get(times or "", 1)
    if known:
        return _of_unit(value, unit=known)
    if times is not None:
        return _of_unit(value, unit="cycles")
    return Interval(bare=value) if value > 0 else _not_positive(text)


def _short(number: str) -> Decimal | None:
    """Read a number of months or thousands: its point or comma can only part decimals."""
    found = re.fullmatch(r"([0-9]{1,6})(?:[.,]([0-9]{1,3}))?", number)
    return None if found is None else Decimal(f"{found[1]}.{found[2] or 0}")


def _of_unit(value: Decimal, *, unit: str) -> Interval | str:
    if value <= 0:
        return _not_positive(format(value, "f"))
    if unit in ("cycles", "shots"):
        if value != value.to_integral_value() or value > COUNT_AT_MOST:
            return _("“%(text)s” is no whole number of cycles.") % {"text": format(value, "f")}
        return Interval(count=int(value), basis=unit)
    if unit == "hour":
        if value != value.to_integral_value() or value > HOURS_AT_MOST:
            return _("“%(text)s” is no whole number of hours.") % {"text": format(value, "f")}
        return Interval(hours=int(value))
    if unit == "quarter":
        value, unit = value * 3, "month"
    if unit == "year" and value != value.to_integral_value():
        value, unit = value * 12, "month"
    if value != value.to_integral_value() or value > PERIOD_AT_MOST:
        return _("“%(text)s” is no whole number of days, weeks, months or years.") % {
            "text": format(value.normalize(), "f")
        }
    return Interval(period_n=int(value), period_unit=unit)


def _often(times: int, unit: str) -> Interval | str:
    """Read "4 times a year" as every three months."""
    months = _A_YEAR.get(UNITS.get(unit, unit))
    if times == 1 and UNITS.get(unit) in {"day", "week", "month", "year"}:
        return Interval(period_n=1, period_unit=UNITS[unit])
    if months is None or not times or months % times:
        return ""
    return Interval(period_n=months // times, period_unit="month")


def _not_positive(text: str) -> str:
    return _("“%(text)s” is no interval.") % {"text": text}
