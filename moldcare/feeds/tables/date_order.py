"""The order of day and month, decided once for a column.

``03/04/2026`` is the third of April in one file and the fourth of March in another. All dates of
a column are looked at; where both orders would do it is asked, and where both are needed the file
is refused with the two rows that contradict each other.
"""

from dataclasses import dataclass, field
from datetime import date, timedelta
from enum import StrEnum
from typing import Final

from django.utils.translation import gettext as _

from moldcare.core.errors import TableRefused
from moldcare.feeds.tables.dates import NO_DAY, Written, written_date
from moldcare.feeds.tables.questions import Choice, Question

#: Day 0 of serial numbers. In the one that begins in 1900, day 60 is a 29 February that never
#: was; dates later than that, and readings have no others, count from 30 December 1899.
SERIAL_EPOCHS: Final = {"1900": date(1899, 12, 30), "1904": date(1904, 1, 1)}


class Order(StrEnum):
    """In which order a date names its parts."""

    DAY_FIRST = "day_first"
    MONTH_FIRST = "month_first"
    YEAR_FIRST = "year_first"


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
    """Give the date, or the sentence that says why there is none."""
    if written.date == NO_DAY:
        return _("“%(text)s” does not exist in any calendar.") % {"text": text}
    if written.date is not None:
        return _in_range(written.date, text)
    if written.serial is not None:
        if decision.serial_epoch is None:
            return _("“%(text)s” waits for what day it stands for.") % {"text": text}
        return decision.serial_epoch + timedelta(days=int(written.serial))
    if written.parts is None:
        return _("“%(text)s” is not a date.") % {"text": text}
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


#: Years outside are slips of the pen: no counter reading is older or newer.
FIRST_YEAR: Final = 1970


LAST_YEAR: Final = 2100
