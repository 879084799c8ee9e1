"""Rows as a whole: whether they are read at all, and whose they are."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from django.utils.translation import gettext as _

from moldcare.feeds.register.gather import HIDDEN_KEY, Gathered, is_total_row, text_of
from moldcare.feeds.register.head import Head, is_heading_again
from moldcare.feeds.register.spellings import Named
from moldcare.feeds.tables import Problem, Question, Row, Table
from moldcare.feeds.tables.mold_cells import mold_text
from moldcare.feeds.tables.problems import more_cells, skipped, too_long, waiting
from moldcare.feeds.tables.text import clean

#: Signs of a mold's number.
NUMBER_AT_MOST: Final = 40


@dataclass(frozen=True, kw_only=True, slots=True)
class WholeRows:
    """Says what keeps a row from being read at all.

    `cells_at_most` is set where commas part the cells: how many the heading has. A row with more
    has a comma inside a number or a note that nobody put in quotes, and all behind it is shifted.
    `left` are the numbers of rows that somebody wants left out.
    """

    head: Head
    waits_for: Question | None
    cells_at_most: int | None
    left: frozenset[int] = frozenset()

    @classmethod
    def of(cls, table: Table, *, head: Head, answers: Mapping[str, str]) -> "WholeRows":
        """Give what a table's rows are measured by."""
        questions = (*table.questions, *head.questions)
        return cls(
            head=head,
            waits_for=next((question for question in questions if question.is_open), None),
            cells_at_most=head.heading_cells or None if table.delimiter == "comma" else None,
            left=table.hidden_rows if answers.get(HIDDEN_KEY) == "leave" else frozenset(),
        )

    def problem(self, row: Row) -> Problem | None:
        """Return why a row is left, refused or waits as a whole."""
        if row.number in self.left:
            return skipped(_("This row is hidden in the workbook."))
        if is_total_row(row, head=self.head):
            return skipped(_("This row is a total."))
        if self.waits_for is not None:
            return waiting(self.waits_for.text)
        if is_heading_again(row, head=self.head):
            return skipped(_("The heading is repeated here."))
        if self.cells_at_most is not None and any(map(clean, row.cells[self.cells_at_most :])):
            return more_cells()
        return None


@dataclass(slots=True)
class MoldColumn:
    """Reads the mold of each row, in the file's order."""

    gathered: Gathered
    above: str = ""

    def of(self, row: Row) -> Named:
        """Return the mold that a row names, or the one above it where a person said so."""
        gathered = self.gathered
        column = gathered.mold_column
        if column is None or not text_of(row, column):
            answer = gathered.answers.get("mold_above")
            if not self.above or answer == "no":
                return Named(number="", problem=skipped(_("This row names no mold.")))
            if answer == "yes":
                return gathered.spellings.of(self.above)
            return Named(
                number="",
                problem=waiting(
                    _("This row names no mold. Does it belong to “%(text)s” above it?")
                    % {"text": self.above}
                ),
            )
        text, problem = mold_text(row, place=column.place, zeros=gathered.zeros_answer)
        if problem is None and len(text) > NUMBER_AT_MOST:
            problem = too_long(_("number"))
        if problem is not None:
            self.above = ""
            return Named(number=text[:NUMBER_AT_MOST], problem=problem)
        self.above = text
        return gathered.spellings.of(text)
