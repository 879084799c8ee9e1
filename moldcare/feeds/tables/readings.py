"""Counter readings from a table: what is asked, and each reading or why it is none."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import islice
from typing import Final
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from moldcare.core.errors import TableRefused
from moldcare.feeds.tables.columns import Column
from moldcare.feeds.tables.date_order import DateDecision, decide_dates
from moldcare.feeds.tables.dates import seconds_of_day
from moldcare.feeds.tables.evidence import Evidence
from moldcare.feeds.tables.layout import Form, Layout, table_layout
from moldcare.feeds.tables.matching import Matcher
from moldcare.feeds.tables.meanings import Meaning
from moldcare.feeds.tables.moments import MomentReader
from moldcare.feeds.tables.numbers import NumberDecision, decide_numbers
from moldcare.feeds.tables.questions import Question
from moldcare.feeds.tables.reader import Table
from moldcare.feeds.tables.reading_rows import ReadingRow
from moldcare.feeds.tables.rows import Row
from moldcare.feeds.tables.short_way import readings_of
from moldcare.feeds.tables.text import clean
from moldcare.feeds.tables.walk import Walk

SAMPLE_ROWS: Final = 300


@dataclass(frozen=True, kw_only=True, slots=True)
class Plan:
    """What will be read from a table, shown before anything is stored.

    Parameters
    ----------
    questions : tuple of Question
        What the file leaves open, and what is taken meanwhile.
    columns : tuple of Column
        What each column means, and why.
    form : Form
        One row a reading, or one column a mold.
    heading_row : int
        Where the heading is; 0 where there is none.
    rows_count : int
        Rows below the heading that hold anything.
    rows : callable
        Gives the readings from the first, each time it is called.
    """

    questions: tuple[Question, ...]
    columns: tuple[Column, ...]
    form: Form
    heading_row: int
    rows_count: int
    rows: Callable[[], Iterator[ReadingRow]]

    @property
    def open_questions(self) -> tuple[Question, ...]:
        """The questions for which rows wait."""
        return tuple(question for question in self.questions if question.is_open)


def read_readings(
    table: Table,
    *,
    zone: ZoneInfo,
    answers: Mapping[str, str] | None = None,
    match_mold: Matcher | None = None,
    match_counter: Matcher | None = None,
    match_press: Matcher | None = None,
    remembered: Mapping[str, Meaning] | None = None,
) -> Plan:
    """Read counter readings from a table.

    Parameters
    ----------
    table : Table
        From `open_table`.
    zone : ZoneInfo
        The plant's; times without offset are wall times there.
    answers : mapping of str to str, or None
        A person's answers by the keys of the questions.
    match_mold, match_counter, match_press : callable or None
        Tell which of ours a text names; without one, texts are passed on unmatched.
    remembered : mapping of str to Meaning, or None
        What headings meant in earlier files, by `words_of` the heading.

    Returns
    -------
    Plan

    Raises
    ------
    TableRefused
        When the table is empty, its dates contradict each other, or an answer fits nothing.

    Notes
    -----
    The table is walked twice, and a third time where it has rows on the night of a clock change:
    the first walk gathers what each column as a whole says about dates and numbers, the last
    reads. Nothing is kept but what repeats (dates, times of day, names).
    """
    answers = dict(answers or {})
    _check_answers(answers)
    layout = table_layout(
        list(islice(table.rows(), SAMPLE_ROWS)),
        match=match_mold,
        answers=answers,
        remembered=remembered,
    )
    found = Evidence(layout=layout)
    for row in _data_rows(table, layout=layout):
        found.add(row)
    numbers = _number_decision(layout, found=found, answers=answers)
    dates = decide_dates(
        found.moments.dates,
        answer=answers.get("dates"),
        serial_answer=answers.get("serial_days"),
    )
    walk = Walk(
        layout=layout,
        numbers=numbers,
        moments=MomentReader(decision=dates, zone=zone, answers=answers),
        answers=answers,
        matchers={"mold": match_mold, "counter": match_counter, "press": match_press},
        waits_for=next(
            (each for each in (*table.questions, *layout.questions) if each.is_open), None
        ),
        cells_at_most=layout.heading_cells or None if table.delimiter == "comma" else None,
    )
    questions = [*table.questions, *layout.questions, *dates.questions]
    if numbers.question is not None:
        questions.append(numbers.question)
    questions += found.questions(answers=answers)
    if walk.waits_for is None and found.meets_clock_change(walk.moments):
        questions += walk.settle_clock_changes(_data_rows(table, layout=layout))
    return Plan(
        questions=tuple(questions),
        columns=_with_decisions(layout, numbers=numbers, dates=dates),
        form=layout.form,
        heading_row=layout.heading_row,
        rows_count=found.rows_count,
        rows=lambda: readings_of(walk, rows=_data_rows(table, layout=layout)),
    )


def _check_answers(answers: Mapping[str, str]) -> None:
    text = answers.get("time_of_day")
    if text is not None and seconds_of_day(text) is None:
        raise TableRefused(_("“%(text)s” is not a time of day.") % {"text": text})
    text = answers.get("at_for_all")
    if text is not None:
        try:
            datetime.fromisoformat(text)
        except ValueError:
            raise TableRefused(
                _("“%(text)s” is not a date with a time, such as 2026-04-03T06:00.")
                % {"text": text}
            ) from None


def _data_rows(table: Table, *, layout: Layout) -> Iterator[Row]:
    """Give the rows below the heading that hold anything."""
    heading_row = layout.heading_row
    for row in table.rows():
        if row.number > heading_row and any(row.cells) and any(map(clean, row.cells)):
            yield row


def _number_decision(
    layout: Layout, *, found: Evidence, answers: Mapping[str, str]
) -> NumberDecision:
    """Decide once for all readings of the file, in however many columns they stand."""
    values = layout.value_columns
    is_wide = layout.form is Form.WIDE or not values
    names = ["numbers:readings", *(f"numbers:{column.key}" for column in values)]
    key = "numbers:readings" if is_wide else f"numbers:{values[0].key}"
    return decide_numbers(
        found.numbers,
        is_whole=True,
        key=key,
        column=_("readings") if is_wide else values[0].name,
        answer=next((answers[name] for name in names if name in answers), None),
    )


def _with_decisions(
    layout: Layout, *, numbers: NumberDecision, dates: DateDecision
) -> tuple[Column, ...]:
    """Give the columns with how their values are read."""
    reasons = {
        Meaning.VALUE: numbers.reason,
        Meaning.AT: dates.reason,
        Meaning.DATE: dates.reason,
    }
    return tuple(replace(column, how=reasons.get(column.meaning, "")) for column in layout.columns)
