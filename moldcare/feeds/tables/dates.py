"""Dates and times as people write them; the order of day and month decided once for a column.

``03/04/2026`` is the third of April in one file and the fourth of March in another. All dates of
a column are looked at; where both orders would do it is asked, and where both are needed the file
is refused with the two rows that contradict each other.
"""

import re
import unicodedata
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import Final, NamedTuple

from django.utils.translation import gettext as _

from moldcare.core.errors import TableRefused
from moldcare.feeds.tables.questions import Choice, Question


class Order(StrEnum):
    """In which order a date names its parts."""

    DAY_FIRST = "day_first"
    MONTH_FIRST = "month_first"
    YEAR_FIRST = "year_first"


class Written(NamedTuple):
    """A date as written: a date where it is unmistakable, else its parts in their order."""

    date: date | None
    parts: tuple[int, int, int] | None
    sign: str
    has_short_year: bool
    serial: float | None = None


#: Years outside are slips of the pen: no counter reading is older or newer.
FIRST_YEAR: Final = 1970
LAST_YEAR: Final = 2100

#: Stands for a date such as 31 February, so that its row can say so.
_NO_DAY: Final = date.min

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
    r"(?P<time>[0-9]{1,2}[:.h][0-9]{2}.*|[0-9]{1,2}\s*[ap]\.?m\.?)",
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
    ["mo", "di", "mi", "do", "fr", "sa", "so", "mon", "tue", "tues", "wed", "thu", "thur", "thurs", "fri", "sat", "sun", "montag", "dienstag", "mittwoch", "donnerstag", "freitag", "samstag", "sonnabend", "sonntag", "monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday", "lu", "ma", "ju", "vi", "sá", "lun", "mar", "mié", "mie", "jue", "vie", "sáb", "sab", "dom", "lunes", "martes", "miércoles", "miercoles", "jueves", "viernes", "sábado", "sabado", "domingo"]
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
        return Written(None, parts, sign, len(year) == 2)
    if found := _ISO.fullmatch(text):
        return _certain(found[1], found[3], found[4])
    if found := _COMPACT.fullmatch(text):
        return _certain(found[1], found[2], found[3])
    if found := _SERIAL.fullmatch(text):
        return Written(None, None, "", False, float(f"{found[1]}.{found[2] or 0}"))
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


@dataclass(slots=True)
class DateEvidence:
    """What the dates of one column say about their order, with a row for each.

    `fits`: the first row that rules the other order out, by order. `first`: the first date in
    figures. `signs`: the signs between the parts.
    """

    fits: dict[Order, tuple[int, str]] = field(default_factory=dict)
    first: tuple[int, str] | None = None
    first_short_year: tuple[int, str] | None = None
    first_serial: tuple[int, str] | None = None
    has_long_year: bool = False
    can_be_year_first: bool = True
    signs: set[str] = field(default_factory=set)

    def add(self, written: Written, *, text: str, row: int) -> None:
        """Take one date into account."""
        found = (row, text)
        if written.date is not None:
            self.has_long_year = True
            return
        if written.serial is not None:
            self.first_serial = self.first_serial or found
            return
        if written.parts is None:
            return
        first, second, year = written.parts
        self.signs.add(written.sign)
        if written.has_short_year:
            self.first_short_year = self.first_short_year or found
            is_year_first = 1 <= second <= 12 and 1 <= year <= 31 and written.sign == "-"
            self.can_be_year_first = self.can_be_year_first and is_year_first
        else:
            self.has_long_year = True
            self.can_be_year_first = False
        fits_day, fits_month = second <= 12 < first <= 31, first <= 12 < second <= 31
        if fits_day:
            self.fits.setdefault(Order.DAY_FIRST, found)
        elif fits_month:
            self.fits.setdefault(Order.MONTH_FIRST, found)
        self.first = self.first or found


@dataclass(frozen=True, kw_only=True, slots=True)
class DateDecision:
    """How a column's dates are read.

    Parameters
    ----------
    order : Order or None
        None where it is asked, or where no date needs it.
    reason : str
        Why, for the preview.
    serial_epoch : date or None
        Day 0 of serial numbers, None where they wait.
    questions : tuple of Question
        What is asked, and what is taken until somebody says otherwise.
    """

    order: Order | None
    reason: str = ""
    serial_epoch: date | None = None
    questions: tuple[Question, ...] = ()


#: Day 0 of serial numbers. In the one that begins in 1900, day 60 is a 29 February that never
#: was; dates later than that, and readings have no others, count from 30 December 1899.
SERIAL_EPOCHS: Final = {"1900": date(1899, 12, 30), "1904": date(1904, 1, 1)}


def decide_dates(
    evidence: DateEvidence,
    *,
    answer: str | None = None,
    serial_answer: str | None = None,
) -> DateDecision:
    """Decide the order of day and month for a column.

    Parameters
    ----------
    evidence : DateEvidence
        From all its dates.
    answer : str or None
        What a person said: one of `Order`.
    serial_answer : str or None
        What a person said about days as serial numbers: "1900" or "1904".

    Returns
    -------
    DateDecision

    Raises
    ------
    TableRefused
        When the column needs both orders; names both rows.

    Notes
    -----
    Points between the parts mean day first (DIN 5008 and its likes; nobody writes the month first
    with points), which is shown and may be changed. Two figures for the year are taken as 20xx,
    shown likewise. With hyphens and two figures the year may also come first: that is asked.
    """
    questions: list[Question] = []
    if evidence.first_short_year is not None and not evidence.has_long_year:
        questions.append(_century_question(evidence.first_short_year))
    epoch = SERIAL_EPOCHS.get(serial_answer or "")
    if evidence.first_serial is not None and epoch is None:
        questions.append(_serial_question(evidence.first_serial))
    order, reason, question = _order(evidence, answer=answer)
    if question is not None:
        questions.insert(0, question)
    return DateDecision(order=order, reason=reason, serial_epoch=epoch, questions=tuple(questions))


def _order(
    evidence: DateEvidence, *, answer: str | None
) -> tuple[Order | None, str, Question | None]:
    if answer in set(Order):
        return Order(answer), _("as answered"), None
    if evidence.first is None:
        return None, "", None
    if len(evidence.fits) == 2 and not _is_year_first(evidence):
        (day_row, day_text), (month_row, month_text) = (
            evidence.fits[Order.DAY_FIRST],
            evidence.fits[Order.MONTH_FIRST],
        )
        raise TableRefused(
            _(
                "The dates contradict each other: “%(day_text)s” in row %(day_row)d has the day "
                "first, “%(month_text)s” in row %(month_row)d the month. Nothing was read."
            )
            % {
                "day_text": day_text,
                "day_row": day_row,
                "month_text": month_text,
                "month_row": month_row,
            },
            row=max(day_row, month_row),
        )
    if not _is_year_first(evidence) and evidence.fits:
        order, (row, text) = next(iter(evidence.fits.items()))
        reason = _("day first: “%(text)s” in row %(row)d allows nothing else")
        if order is Order.MONTH_FIRST:
            reason = _("month first: “%(text)s” in row %(row)d allows nothing else")
        return order, reason % {"text": text, "row": row}, None
    assumed = Order.DAY_FIRST if evidence.signs == {"."} else None
    reason = _("day first, as usual where points part a date") if assumed else ""
    return assumed, reason, _order_question(evidence, assumed=assumed)


def _is_year_first(evidence: DateEvidence) -> bool:
    return evidence.first_short_year is not None and evidence.can_be_year_first


def date_from(written: Written, *, decision: DateDecision, text: str) -> date | str:
    """The date, or the sentence that says why there is none."""
    if written.date == _NO_DAY:
        return _("“%(text)s” does not exist in any calendar.") % {"text": text}
    if written.date is not None:
        return _in_range(written.date, text)
    if written.serial is not None:
        if decision.serial_epoch is None:
            return _("“%(text)s” waits for what day it stands for.") % {"text": text}
        return decision.serial_epoch + timedelta(days=int(written.serial))
    if written.parts is None:
        return _no_date(text)
    if decision.order is None:
        return _("“%(text)s” waits for which comes first, day or month.") % {"text": text}
    first, second, third = written.parts
    year, month, day = {
        Order.DAY_FIRST: (third, second, first),
        Order.MONTH_FIRST: (third, first, second),
        Order.YEAR_FIRST: (first, second, third),
    }[decision.order]
    if written.has_short_year:
        year += 2000
    try:
        return _in_range(date(year, month, day), text)
    except ValueError:
        return _("“%(text)s” does not exist in any calendar.") % {"text": text}


def _in_range(on: date, text: str) -> date | str:
    if FIRST_YEAR <= on.year <= LAST_YEAR:
        return on
    return _("“%(text)s” is not a date of this plant's time.") % {"text": text}


def _no_date(text: str) -> str:
    return _("“%(text)s” is not a date.") % {"text": text}


def _certain(year: str, month: str, day: str) -> Written | None:
    try:
        return Written(date(int(year), int(month), int(day)), None, "", False)
    except ValueError:
        return Written(_NO_DAY, None, "", False)


def _named(day: str, name: str, year: str) -> Written | None:
    month = _MONTHS.get(unicodedata.normalize("NFC", name).casefold())
    if month is None:
        return None
    return _certain(year if len(year) == 4 else f"20{year}", str(month), day)


def _order_question(evidence: DateEvidence, *, assumed: Order | None) -> Question:
    row, text = evidence.first or (0, "")
    written = written_date(text)
    orders = [Order.DAY_FIRST, Order.MONTH_FIRST]
    if len(evidence.fits) == 2:
        orders = []
    elif evidence.fits:
        orders = list(evidence.fits)
    if _is_year_first(evidence):
        orders.append(Order.YEAR_FIRST)
    choices = []
    for order in orders:
        on = (
            None
            if written is None
            else date_from(written, decision=DateDecision(order=order), text=text)
        )
        meant = on.isoformat() if isinstance(on, date) else order.replace("_", " ")
        choices.append(Choice(value=order, text=f"{text} = {meant}"))
    return Question(
        key="dates",
        text=_("Which day is “%(text)s” in row %(row)d?") % {"text": text, "row": row},
        choices=tuple(choices),
        assumed=assumed,
    )


def _century_question(found: tuple[int, str]) -> Question:
    row, text = found
    return Question(
        key="years",
        text=_("“%(text)s” in row %(row)d has two figures for the year. Read as 20xx.")
        % {"text": text, "row": row},
        choices=(Choice(value="20xx", text=_("years from 2000 to 2099")),),
        assumed="20xx",
    )


def _serial_question(found: tuple[int, str]) -> Question:
    row, text = found
    written = written_date(text)
    days = int(written.serial or 0) if written is not None else 0
    return Question(
        key="serial_days",
        text=_("“%(text)s” in row %(row)d looks like a spreadsheet's day number. Which day is it?")
        % {"text": text, "row": row},
        choices=tuple(
            Choice(value=name, text=f"{text} = {epoch + timedelta(days=days)}")
            for name, epoch in SERIAL_EPOCHS.items()
        ),
    )


def with_offset(text: str) -> datetime | None:
    """An instant written with its own offset or Z; None where it has none.

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
