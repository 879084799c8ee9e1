"""What a first walk over all rows gathers, before any is read."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

from moldcare.feeds.tables.heading_row import is_total
from moldcare.feeds.tables.layout import Layout, is_heading_again
from moldcare.feeds.tables.meanings import Meaning
from moldcare.feeds.tables.mold_cells import zeros_in, zeros_key, zeros_question
from moldcare.feeds.tables.moments import MomentEvidence, MomentReader, time_of_day_question
from moldcare.feeds.tables.numbers import NumberEvidence
from moldcare.feeds.tables.questions import Question
from moldcare.feeds.tables.rows import LONGEST_FACT, Held, Row, cell, held
from moldcare.feeds.tables.text import clean


@dataclass(slots=True)
class Evidence:
    """What the rows of one table say as a whole.

    `zeros` is the first mold whose cell holds a number but shows more than its digits: its row,
    what is shown and what is held.
    """

    layout: Layout
    numbers: NumberEvidence = field(default_factory=NumberEvidence)
    moments: MomentEvidence = field(default_factory=MomentEvidence)
    zeros: tuple[int, str, str] | None = None
    workbook_dates: set[date] = field(default_factory=set)
    rows_count: int = 0
    date_place: int | None = None
    time_place: int | None = None
    mold_place: int | None = None
    value_places: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        self.date_place = self.layout.date_place
        self.time_place = self.layout.place_of(Meaning.TIME)
        self.mold_place = self.layout.place_of(Meaning.MOLD)
        self.value_places = tuple(column.place for column in self.layout.value_columns)

    def add(self, row: Row) -> None:
        """Take one row into account."""
        self.rows_count += 1
        if row.held is None and self._is_plain(row):
            return
        if is_total(row.cells, date_place=self.date_place):
            return
        if is_heading_again(row, layout=self.layout):
            return
        for place in self.value_places:
            text = cell(row, place=place)
            if len(text) > LONGEST_FACT:
                continue
            if text and not text.isdigit() and not _holds_value(held(row, place=place)):
                self.numbers.add(text, row=row.number)
        if self.date_place is not None:
            self.moments.add(row, date_place=self.date_place, time_place=self.time_place)
        if row.held is not None:
            self._add_held(row)

    def _is_plain(self, row: Row) -> bool:
        """Say whether a row of a long text table tells nothing new about dates; its value told.

        A short way for the many: its date was met before and it has a time.
        """
        cells = row.cells
        if self.date_place is None or len(self.value_places) != 1:
            return False
        value_place = self.value_places[0]
        if max(self.date_place, value_place, self.time_place or 0) >= len(cells):
            return False
        date_text = cells[self.date_place]
        if self.time_place is not None:
            has_time = bool(cells[self.time_place].strip())
        else:
            date_text, _blank, time_text = date_text.partition(" ")
            has_time = bool(time_text)
        if not has_time or date_text not in self.moments.dates_met:
            return False
        text = cells[value_place]
        if len(text) <= LONGEST_FACT and not text.isdigit():
            self.numbers.add(clean(text), row=row.number)
        return True

    def _add_held(self, row: Row) -> None:
        if self.zeros is None:
            self.zeros = zeros_in(row, place=self.mold_place)
        moment = held(row, place=self.date_place)
        if moment is not None and isinstance(moment.value, date):
            value = moment.value
            self.workbook_dates.add(value.date() if isinstance(value, datetime) else value)

    def meets_clock_change(self, reader: MomentReader) -> bool:
        """Say whether any date of the file has an hour that comes twice or never."""
        if self.moments.seen_too_many:
            return True
        for text in self.moments.seen:
            reader.day(text)
        for on in self.workbook_dates:
            reader.on(on)
        reader.for_all()
        return any(not day.is_plain for day in reader.days_by_date.values())

    def questions(self, *, answers: Mapping[str, str]) -> list[Question]:
        """Ask what single cells leave open for a whole column."""
        questions: list[Question] = []
        if self.moments.first_without_time is not None and "time_of_day" not in answers:
            questions.append(time_of_day_question(self.moments.first_without_time))
        if self.zeros is not None and self.mold_place is not None:
            key = zeros_key(self.layout.columns[self.mold_place])
            if key not in answers:
                questions.append(zeros_question(self.zeros, key=key))
        return questions


def _holds_value(what: Held | None) -> bool:
    return what is not None and what.value is not None
