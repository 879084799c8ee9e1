"""Dates that name a month, a week or a year, and no day of it."""

import re
from calendar import monthrange
from datetime import date, timedelta
from typing import Final, NamedTuple

from django.utils.translation import gettext as _

from moldcare.feeds.tables import Choice, Question
from moldcare.feeds.tables.dates import month_named
from moldcare.feeds.tables.rows import LONGEST_FACT, Held
from moldcare.feeds.tables.text import clean

#: What it is answered under which day of them is taken.
SPANS_KEY: Final = "days_of_spans"
FIRST, LAST = "first", "last"

_YEAR: Final = r"((?:19|20)[0-9]{2})"
_MONTH_YEAR: Final = re.compile(rf"(0?[1-9]|1[0-2])\s?[-/.]\s?{_YEAR}", re.ASCII)
_YEAR_MONTH: Final = re.compile(rf"{_YEAR}\s?[-/.]\s?(0?[1-9]|1[0-2])", re.ASCII)
_NAME_YEAR: Final = re.compile(rf"([^\W\d]{{3,10}})[\s.,/'’-]{{1,3}}(?:del?\s)?{_YEAR}")
_WEEK_YEAR: Final = re.compile(
    rf"(?:kw|cw|wk|week|woche|kalenderwoche|semana|sem|w)[\s.]{{0,2}}([0-9]{{1,2}})[\s./-]{{1,3}}"
    rf"(?:de\s)?{_YEAR}",
    re.IGNORECASE | re.ASCII,
)
_YEAR_WEEK: Final = re.compile(
    rf"{_YEAR}[\s/-]{{0,2}}(?:kw|cw|wk|w)[\s.]{{0,2}}([0-9]{{1,2}})", re.IGNORECASE | re.ASCII
)
_NO_CODE: Final = re.compile(r'"[^"]*"|\[[^\]]*\]|\\.')


class Span(NamedTuple):
    """The first day and the last of a month, a week or a year."""

    first: date
    last: date

    def day(self, answer: str) -> date | None:
        """Return the day that an answer takes, None without one."""
        return {FIRST: self.first, LAST: self.last}.get(answer)


def written_span(text: str) -> Span | None:
    """Read a month or a week that names no day; weeks as ISO 8601 counts them.

    Examples
    --------
    >>> written_span("03/2024") == written_span("März 2024") == written_span("2024-03")
    True
    >>> written_span("KW 12/2024").first, written_span("02.2024").last
    (datetime.date(2024, 3, 18), datetime.date(2024, 2, 29))
    >>> written_span("12.03.2024"), written_span("March 24"), written_span("KW 53/2024")
    (None, None, None)
    """
    text = clean(text)
    if not 6 <= len(text) <= LONGEST_FACT:
        return None
    if found := _MONTH_YEAR.fullmatch(text):
        return _month(int(found[2]), month=int(found[1]))
    if found := _YEAR_MONTH.fullmatch(text):
        return _month(int(found[1]), month=int(found[2]))
    if found := _WEEK_YEAR.fullmatch(text):
        return _week(int(found[2]), week=int(found[1]))
    if found := _YEAR_WEEK.fullmatch(text):
        return _week(int(found[1]), week=int(found[2]))
    if found := _NAME_YEAR.fullmatch(text):
        month = month_named(found[1])
        return None if month is None else _month(int(found[2]), month=month)
    return None


def held_span(what: Held | None) -> Span | None:
    """Give the month or year of a workbook's date whose format shows no day.

    A spreadsheet makes the first of March of "03/2024" and goes on showing the month alone.

    Examples
    --------
    >>> held_span(Held(date(2024, 3, 1), "mm/yyyy")).last
    datetime.date(2024, 3, 31)
    >>> held_span(Held(date(2024, 3, 1), "dd.mm.yyyy"))
    """
    if what is None or not isinstance(what.value, date):
        return None
    codes = set(_NO_CODE.sub("", what.number_format).casefold())
    if "d" in codes or "t" in codes or not codes & {"y", "j", "a"}:
        return None
    year = what.value.year
    if "m" in codes:
        return _month(year, month=what.value.month)
    return Span(date(year, 1, 1), date(year, 12, 31))


def span_question(found: tuple[int, str], *, span: Span) -> Question:
    """Ask which day is taken of dates that name none."""
    row, text = found
    return Question(
        key=SPANS_KEY,
        text=_("“%(text)s” in row %(row)d names no day. Which day is taken for all such dates?")
        % {"text": text, "row": row},
        choices=(
            Choice(value=FIRST, text=_("the first: %(day)s") % {"day": span.first}),
            Choice(value=LAST, text=_("the last: %(day)s") % {"day": span.last}),
        ),
    )


def _month(year: int, *, month: int) -> Span:
    return Span(date(year, month, 1), date(year, month, monthrange(year, month)[1]))


def _week(year: int, *, week: int) -> Span | None:
    try:
        first = date.fromisocalendar(year, week, 1)
    except ValueError:
        return None
    return Span(first, first + timedelta(days=6))
