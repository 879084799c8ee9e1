"""Single cells of registers and sheets: texts, masses, times, lengths, counts."""

import re
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from datetime import time as time_of_day
from decimal import Decimal
from typing import Final

from django.utils.translation import gettext as _

from moldcare.feeds.register import units
from moldcare.feeds.register.gather import text_of
from moldcare.feeds.register.intervals import UNITS
from moldcare.feeds.tables import Column, Problem, Row
from moldcare.feeds.tables.mold_cells import held_number
from moldcare.feeds.tables.numbers import (
    NumberDecision,
    Signs,
    estimate_or_not,
    has_signs,
    read_decimal,
)
from moldcare.feeds.tables.problems import flawed, lost_letters, refused, too_long, waiting
from moldcare.feeds.tables.rows import LONGEST_FACT, Flaw, cell, held
from moldcare.feeds.tables.text import unguarded

#: No half of a mold is heavier.
KG_AT_MOST: Final = Decimal(500_000)
SECONDS_AT_MOST: Final = Decimal(86_400)
COUNT_AT_MOST: Final = 10**15
_HALVES: Final = re.compile(r"\s*(?:\+|/|;|\bund\b|\band\b|\by\b)\s*")
_TIMES: Final = re.compile(
    r"(?P<number>[0-9][0-9.,'’\s]*?)\s*(?P<times>k|tsd\.?|mio\.?|mil)?\s*(?P<unit>[^\W\d]+)?\.?"
)
_THOUSANDS: Final = {"k": 1000, "tsd": 1000, "mil": 1000, "mio": 1_000_000}


@dataclass(frozen=True, kw_only=True, slots=True)
class Masses:
    """Masses in kg: of the halves, or of both together."""

    a: Decimal | None = None
    b: Decimal | None = None
    both: Decimal | None = None


def words_in(row: Row, column: Column | None, *, at_most: int) -> str | Problem:
    """Read a text of at most so many signs."""
    text = unguarded(text_of(row, column))
    what = held(row, place=column.place) if column is not None else None
    if what is not None and what.flaw in {Flaw.ERROR, Flaw.NOT_CALCULATED}:
        return flawed(what.flaw, text=text, column=column.name if column is not None else "")
    if len(text) > at_most:
        return too_long(column.name if column is not None else "")
    return lost_letters(text) or " ".join(text.split())


def number_text(row: Row, column: Column) -> tuple[str, str, bool] | Problem:
    """Give a number's digits, the text shown, and whether a workbook holds it as a number."""
    shown = text_of(row, column)
    what = held(row, place=column.place)
    if what is not None and what.flaw in {Flaw.ERROR, Flaw.NOT_CALCULATED}:
        return flawed(what.flaw, text=cell(row, place=column.place), column=column.name)
    if what is not None and isinstance(what.value, date | datetime):
        return refused(
            _("“%(column)s” holds the date %(text)s where a number should stand.")
            % {"column": column.name, "text": shown}
        )
    digits = held_number(what)
    if digits is not None and shown:
        return digits, shown, True
    if len(shown) > LONGEST_FACT:
        return too_long(column.name)
    return shown, shown, False


def decimal_of(text: str, *, decision: NumberDecision, is_held: bool) -> Decimal | Problem:
    """Read a number as decided for its column; what a workbook holds has a decimal point."""
    if is_held:
        value = read_decimal(text, signs=Signs.POINT_DECIMAL)
    elif decision.signs is None and has_signs(text):
        return waiting(decision.question.text if decision.question else text)
    else:
        value = read_decimal(text, signs=decision.signs)
    return refused(value) if isinstance(value, str) else value


def masses_in(
    row: Row, column: Column, *, decision: NumberDecision, unit: str
) -> tuple[Masses, str] | Problem:
    """Read one mass or two, "420/515" or "420 + 515", in kg, with a note where converted."""
    found = number_text(row, column)
    if isinstance(found, Problem):
        return found
    digits, shown, is_held = found
    if not shown:
        return Masses(), ""
    parts = [digits] if is_held else _HALVES.split(digits)
    if len(parts) > 2:
        return refused(_("“%(text)s” names more than two halves.") % {"text": shown})
    # a unit behind the last holds for both
    behind = units.mass_parted(shown)[1]
    masses: list[Decimal] = []
    notes: list[str] = []
    for part in parts:
        number, own = units.mass_parted(part)
        number, is_estimate = estimate_or_not(number)
        named = own or behind or unit
        if named not in units.MASS_UNITS:
            return refused(_("“%(text)s” is no mass in kg, g, t or lb.") % {"text": shown})
        value = decimal_of(number, decision=decision, is_held=is_held)
        if isinstance(value, Problem):
            return value
        mass, note = units.in_kg(value, unit=named, text=part.strip())
        if not 0 < mass <= KG_AT_MOST:
            return refused(_("“%(text)s” is no mass of a mold.") % {"text": shown})
        masses.append(mass)
        notes += [note] if note else []
        if is_estimate:
            notes.append(_("The mass %(text)s is an estimate.") % {"text": shown})
    note = " ".join(notes)
    if len(masses) == 2:
        return Masses(a=masses[0], b=masses[1]), note
    return Masses(both=masses[0]), note


def seconds_in(
    row: Row, column: Column, *, decision: NumberDecision, unit: str
) -> tuple[Decimal | None, str] | Problem:
    """Read a cycle time in seconds, with a note where converted."""
    what = held(row, place=column.place)
    if what is not None and isinstance(what.value, time_of_day | timedelta):
        # A spreadsheet takes 0:35 for half past midnight and means minutes and seconds.
        return refused(
            _("“%(text)s” in “%(column)s” is a time of day. Enter seconds.")
            % {"text": text_of(row, column), "column": column.name}
        )
    found = number_text(row, column)
    if isinstance(found, Problem):
        return found
    digits, shown, is_held = found
    if not shown:
        return None, ""
    number, own = units.time_parted(digits)
    number, is_estimate = estimate_or_not(number)
    clock = None if is_held else units.clock_seconds(number)
    named = (units.time_parted(shown)[1] if is_held else own) or unit
    if clock is not None:
        value: Decimal | Problem = clock
        named = "s"
    else:
        value = decimal_of(number, decision=decision, is_held=is_held)
    if isinstance(value, Problem):
        return value
    if named not in units.TIME_UNITS:
        return refused(_("“%(text)s” is no time in s or min.") % {"text": shown})
    seconds, note = units.in_seconds(value, unit=named, text=shown)
    if clock is not None:
        note = _("%(text)s is %(value)s s.") % {"text": shown, "value": seconds}
    if not 0 < seconds <= SECONDS_AT_MOST:
        return refused(_("“%(text)s” is no cycle time.") % {"text": shown})
    if is_estimate:
        note = f"{note} " + _("The cycle time %(text)s is an estimate.") % {"text": shown}
    return seconds, note.strip()


def millimeters_in(
    row: Row, column: Column, *, decision: NumberDecision, unit: str, step: Decimal, most: Decimal
) -> tuple[Decimal | None, str] | Problem:
    """Read a bore or a length in mm, with a note where converted; `most` is the longest."""
    found = number_text(row, column)
    if isinstance(found, Problem):
        return found
    digits, shown, is_held = found
    if not shown:
        return None, ""
    digits, is_estimate = (digits, False) if is_held else estimate_or_not(digits)
    number, own = units.length_parted(digits)
    named = (units.length_parted(shown)[1] if is_held else own) or unit
    if named not in units.LENGTH_UNITS:
        return refused(
            _("“%(text)s” in “%(column)s” is no length in mm, cm, m, in or ft.")
            % {"text": shown, "column": column.name}
        )
    # millimeters are not written as fractions: 4/8 may be two bores
    is_plain = is_held or named not in ("in", "ft")
    value: Decimal | Problem | None = None if is_plain else units.fraction(number)
    if value is None:
        value = decimal_of(number, decision=decision, is_held=is_held)
    if isinstance(value, Problem):
        return value
    if not 0 < value * units.LENGTH_UNITS[named] <= most:
        return refused(
            _("“%(text)s” in “%(column)s” is no length of more than 0 and at most %(most)s mm.")
            % {"text": shown, "column": column.name, "most": most}
        )
    length, note = units.in_mm(value, unit=named, text=shown, step=step)
    if not 0 < length <= most:
        return refused(
            _("“%(text)s” in “%(column)s” is less than %(step)s mm.")
            % {"text": shown, "column": column.name, "step": step}
        )
    if is_estimate:
        note = f"{note} " + _("“%(column)s” %(text)s is an estimate.") % {
            "column": column.name,
            "text": shown,
        }
    return length, note.strip()


def count_in(
    row: Row, column: Column, *, decision: NumberDecision, times: int = 1
) -> tuple[int | None, str] | Problem:
    """Read a count of cycles, with a note where it is an estimate.

    `times` is 1,000 where the heading counts in thousands.
    """
    found = number_text(row, column)
    if isinstance(found, Problem):
        return found
    digits, shown, is_held = found
    return count_of(digits, shown=shown, decision=decision, is_held=is_held, thousand=times)


def count_of(
    text: str, *, shown: str, decision: NumberDecision, is_held: bool = False, thousand: int = 1
) -> tuple[int | None, str] | Problem:
    """Read a count from a text such as "184.000", "184k" or "ca. 184.000 Schuss"."""
    if not shown:
        return None, ""
    number, is_estimate = estimate_or_not(text)
    parted = _TIMES.fullmatch(number.casefold())
    if parted is None or (parted["unit"] and UNITS.get(parted["unit"]) not in ("cycles", "shots")):
        return refused(_("“%(text)s” is no count.") % {"text": shown})
    times = _THOUSANDS.get((parted["times"] or "").rstrip("."), thousand)
    figures = parted["number"].strip()
    if times > 1 and re.fullmatch(r"[0-9]+[.,][0-9]{1,2}", figures):
        value: Decimal | Problem = Decimal(figures.replace(",", "."))
    else:
        value = decimal_of(figures, decision=decision, is_held=is_held)
    if isinstance(value, Problem):
        return value
    value *= times
    if value != value.to_integral_value() or not 0 <= value <= COUNT_AT_MOST:
        return refused(_("“%(text)s” is no whole number of cycles.") % {"text": shown})
    note = _("The count %(text)s is an estimate.") % {"text": shown} if is_estimate else ""
    return int(value), note
