"""What a first walk over a register or sheet gathers, before any row is read."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from itertools import islice
from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from moldcare.core.errors import TableRefused
from moldcare.feeds.register.head import Head, is_heading_again
from moldcare.feeds.register.spans import (
    FIRST,
    LAST,
    SPANS_KEY,
    Span,
    held_span,
    span_question,
    written_span,
)
from moldcare.feeds.register.spellings import Spellings
from moldcare.feeds.tables import Choice, Column, Meaning, Question, Row, Table
from moldcare.feeds.tables.date_order import DateDecision, DateEvidence, decide_dates
from moldcare.feeds.tables.dates import moment_parts, written_date
from moldcare.feeds.tables.heading_row import is_total
from moldcare.feeds.tables.mold_cells import mold_text, zeros_in, zeros_key, zeros_question
from moldcare.feeds.tables.numbers import NumberDecision, NumberEvidence, Signs, decide_numbers
from moldcare.feeds.tables.rows import LONGEST_FACT, cell, held
from moldcare.feeds.tables.text import clean

SAMPLE_ROWS: Final = 300
#: A register or sheet has no more rows.
ROWS_AT_MOST: Final = 500_000
#: Distinct texts of dates that are remembered; beyond, they are looked at again.
DATES_AT_MOST: Final = 50_000

_NOTHING: Final = frozenset(
    [
        *("", "-", "–", "—", "--", "?", "??", "???", "n/a", "na", "n.a.", "n.a", "#n/a", "k.a."),
        *("k. a.", "k.a", "keine angabe", "unbekannt", "unknown", "tbd", "s/d", "s.d."),
        "sin datos",
        *("desconocido", "offen", "not known", "./.", ".", "n. a."),
    ]
)


def text_of(row: Row, column: Column | None) -> str:
    """Give the text of a cell; what stands for nothing, such as "n/a" or a dash, is empty."""
    if column is None:
        return ""
    text = cell(row, place=column.place)
    return "" if text.casefold() in _NOTHING else text


def is_total_row(row: Row, *, head: Head) -> bool:
    """Tell a row of totals; a row that names a mold is none, whatever the mold is called."""
    column = head.of(Meaning.MOLD)
    text = text_of(row, column)
    return is_total([text] if text else row.cells, date_place=None)


def data_rows(table: Table, *, head: Head) -> Iterator[Row]:
    """Give the rows below the heading that hold anything.

    Raises
    ------
    TableRefused
        When there are more than any register has.
    """
    count = 0
    for row in table.rows():
        if row.number <= head.heading_row or not any(map(clean, row.cells)):
            continue
        count += 1
        if count > ROWS_AT_MOST:
            raise TableRefused(
                _("This table has more than %(count)d rows: no register of molds has.")
                % {"count": ROWS_AT_MOST},
                row=row.number,
            )
        yield row


def sample_of(table: Table) -> list[Row]:
    """Give the first rows, among which the heading is looked for."""
    return list(islice(table.rows(), SAMPLE_ROWS))


#: What it is answered under whether hidden rows are read.
HIDDEN_KEY: Final = "hidden_rows"
#: Answers to whether rows without a mold belong to the one above.
ABOVE: Final = frozenset(["yes", "no"])
#: What columns are called that are decided together.
_TOGETHER: Final = {"masses": gettext_lazy("masses"), "counts": gettext_lazy("counts")}


#: The numbers of a cell whose points and commas need a decision, by what its column means.
NumbersIn = Callable[[Column, str], Sequence[str]]


@dataclass(slots=True)
class Gathered:
    """What the rows of one table say as a whole.

    `numbers` is by the key under which columns are decided together; `without_unit` has the
    places of columns that hold a number without a unit.
    """

    head: Head
    spellings: Spellings
    answers: Mapping[str, str]
    numbers_in: NumbersIn
    date_columns: tuple[Column, ...]
    number_keys: Mapping[int, str]
    hidden_rows: frozenset[int] = frozenset()
    date_in: Callable[[str], str] = str
    names_unit: Callable[[Column, str], bool] | None = None
    rows_count: int = 0
    numbers: dict[str, NumberEvidence] = field(default_factory=dict)
    dates: DateEvidence = field(default_factory=DateEvidence)
    dates_met: set[str] = field(default_factory=set)
    span: tuple[int, str, Span] | None = None
    hidden: list[int] = field(default_factory=list)
    zeros: tuple[int, str, str] | None = None
    without_mold: tuple[int, int, str] | None = None
    last_mold: tuple[int, str] | None = None
    without_unit: set[int] = field(default_factory=set)

    @property
    def mold_column(self) -> Column | None:
        """The column of molds."""
        return self.head.of(Meaning.MOLD)

    @property
    def zeros_answer(self) -> str | None:
        """What was said about molds that show more than they hold."""
        column = self.mold_column
        return None if column is None else self.answers.get(zeros_key(column))

    def add(self, row: Row) -> None:
        """Take one row into account."""
        self.rows_count += 1
        if row.number in self.hidden_rows:
            self.hidden.append(row.number)
        if is_total_row(row, head=self.head) or is_heading_again(row, head=self.head):
            return
        self._add_mold(row)
        for column in self.date_columns:
            what = held(row, place=column.place)
            text = text_of(row, column)
            if what is None or not isinstance(what.value, date):
                if 0 < len(text) <= LONGEST_FACT:
                    self.add_date(self.date_in(text), row=row.number)
            elif self.span is None and (span := held_span(what)) is not None:
                self.span = (row.number, text, span)
        for place, key in self.number_keys.items():
            column = self.head.columns[place]
            what = held(row, place=place)
            text = text_of(row, column)
            if not text or len(text) > LONGEST_FACT:
                continue
            if self.names_unit is not None and not self.names_unit(column, text):
                self.without_unit.add(place)
            if what is not None and what.value is not None:
                continue
            for number in self.numbers_in(column, text):
                self.numbers.setdefault(key, NumberEvidence()).add(number, row=row.number)

    def _add_mold(self, row: Row) -> None:
        column = self.mold_column
        if column is None:
            return
        if self.zeros is None:
            self.zeros = zeros_in(row, place=column.place)
        if not text_of(row, column):
            if self.without_mold is None and self.last_mold is not None:
                self.without_mold = (row.number, *self.last_mold)
            return
        text, problem = mold_text(row, place=column.place, zeros=self.zeros_answer)
        if problem is None:
            self.spellings.add(text, row=row.number)
            self.last_mold = (row.number, text)

    def add_date(self, text: str, *, row: int) -> None:
        """Take the date in a text into account."""
        if not text or text in self.dates_met:
            return
        if len(self.dates_met) >= DATES_AT_MOST:
            self.dates_met.clear()
        self.dates_met.add(text)
        span = written_span(text)
        if span is not None:
            self.span = self.span or (row, text, span)
            return
        date_text = moment_parts(text)[0]
        written = written_date(date_text)
        if written is not None:
            self.dates.add(written, text=date_text, row=row)

    def date_decision(self) -> DateDecision:
        """Decide once how all dates are read."""
        return decide_dates(
            self.dates,
            answer=self.answers.get("dates"),
            serial_answer=self.answers.get("serial_days"),
        )

    def number_decisions(
        self, *, whole: frozenset[str]
    ) -> tuple[dict[str, NumberDecision], list[Question]]:
        """Decide how numbers are read, by key; `whole` are the keys that hold whole numbers."""
        decisions: dict[str, NumberDecision] = {}
        for place, key in self.number_keys.items():
            if key in decisions:
                continue
            column = self.head.columns[place]
            decisions[key] = decide_numbers(
                self.numbers.get(key, NumberEvidence()),
                is_whole=key in whole,
                takes_thousands=key in whole,
                key=f"numbers:{key}",
                column=column.name if key == column.key else str(_TOGETHER.get(key, key)),
                answer=self.answers.get(
                    f"numbers:{column.key}", self.answers.get(f"numbers:{key}")
                ),
            )
        self._told_by_others(decisions)
        questions = [each.question for each in decisions.values() if each.question is not None]
        return decisions, questions

    def _told_by_others(self, decisions: dict[str, NumberDecision]) -> None:
        """Take 1.190 for thousands where other columns of the file part decimals by a comma."""
        signs: dict[str, set[str]] = {"decimal": set(), "thousands": set()}
        for found in self.numbers.values():
            signs["decimal"] |= found.decimal.keys()
            signs["thousands"] |= found.thousands.keys()
        for key, decision in decisions.items():
            grouped = self.numbers[key].grouped.keys() if key in self.numbers else set()
            if decision.signs is not None or decision.question is None or len(grouped) != 1:
                continue
            others = signs["decimal"] - grouped
            is_told = bool(others or grouped & signs["thousands"])
            if is_told and not grouped & signs["decimal"]:
                decisions[key] = NumberDecision(
                    signs=Signs.THOUSANDS,
                    reason=_("of thousands: other columns part decimals by another sign"),
                    question=replace(decision.question, assumed=Signs.THOUSANDS),
                )

    def questions(self) -> list[Question]:
        """Ask what molds and single cells leave open."""
        questions = self.spellings.questions()
        if self.hidden:
            questions.insert(0, hidden_question(self.hidden))
        column = self.mold_column
        if self.zeros is not None and column is not None and self.zeros_answer is None:
            questions.append(zeros_question(self.zeros, key=zeros_key(column)))
        if self.span is not None and self.answers.get(SPANS_KEY) not in {FIRST, LAST}:
            questions.append(span_question(self.span[:2], span=self.span[2]))
        if self.without_mold is not None and self.answers.get("mold_above") not in ABOVE:
            questions.append(self._above_question(self.without_mold))
        return questions

    def _above_question(self, found: tuple[int, int, str]) -> Question:
        row, above, text = found
        return Question(
            key="mold_above",
            text=_(
                "Row %(row)d names no mold. Does it belong to “%(text)s” of row %(above)d, and so "
                "on for all such rows?"
            )
            % {"row": row, "text": text, "above": above},
            choices=(
                Choice(value="yes", text=_("yes, to the mold above it")),
                Choice(value="no", text=_("no, such rows are left")),
            ),
        )


def hidden_question(rows: Sequence[int]) -> Question:
    """Say that rows are hidden in the workbook, and let a person leave them."""
    text = ngettext(
        "Row %(row)d is hidden in the workbook. Is it read?",
        "Row %(row)d and others, %(count)d in all, are hidden in the workbook. Are they read?",
        len(rows),
    )
    return Question(
        key=HIDDEN_KEY,
        text=text % {"row": rows[0], "count": len(rows)},
        choices=(
            Choice(value="read", text=_("yes, like all others")),
            Choice(value="leave", text=_("no, hidden rows are left")),
        ),
        assumed="read",
    )
