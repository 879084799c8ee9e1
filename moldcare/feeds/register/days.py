"""Days in the cells of registers and sheets, as decided for the whole table."""

from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from moldcare.feeds.register.gather import text_of
from moldcare.feeds.register.spans import Span, held_span, written_span
from moldcare.feeds.tables import Column, Problem, Row
from moldcare.feeds.tables.date_order import DateDecision
from moldcare.feeds.tables.dates import moment_parts, with_offset
from moldcare.feeds.tables.moments import day_written
from moldcare.feeds.tables.problems import flawed, too_long, waiting
from moldcare.feeds.tables.rows import LONGEST_FACT, Flaw, held


@dataclass(frozen=True, kw_only=True, slots=True)
class Days:
    """Reads days; a time beside one is left.

    Parameters
    ----------
    decision : DateDecision
        Order of day and month.
    zone : ZoneInfo or None
        The plant's; instants with an offset of their own become days there.
    of_span : str
        Which day is taken of a month or week that names none: "first", "last", or "" while
        nobody has said.
    """

    decision: DateDecision
    zone: ZoneInfo | None
    of_span: str = ""

    def inside(self, row: Row, column: Column) -> date | Problem | None:
        """Read the day in a cell."""
        shown = text_of(row, column)
        what = held(row, place=column.place)
        if what is not None and what.flaw in {Flaw.ERROR, Flaw.NOT_CALCULATED}:
            return flawed(what.flaw, text=shown, column=column.name)
        if what is not None and isinstance(what.value, date):
            span = held_span(what)
            if span is not None:
                return self._of(span, text=shown)
            return what.value.date() if isinstance(what.value, datetime) else what.value
        return self.written(shown)

    def written(self, text: str) -> date | Problem | None:
        """Read the day that a text names."""
        if not text:
            return None
        if len(text) > LONGEST_FACT:
            return too_long(_("date"))
        span = written_span(text)
        if span is not None:
            return self._of(span, text=text)
        instant = with_offset(text)
        if instant is not None:
            return (instant.astimezone(self.zone) if self.zone is not None else instant).date()
        return day_written(moment_parts(text)[0], decision=self.decision)

    def _of(self, span: Span, *, text: str) -> date | Problem:
        day = span.day(self.of_span)
        if day is None:
            return waiting(_("“%(text)s” names no day; say which is taken.") % {"text": text})
        return day
