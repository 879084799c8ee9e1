"""One reading as a file has it."""

from datetime import datetime
from typing import NamedTuple

from moldcare.feeds.tables.matching import Match
from moldcare.feeds.tables.verdicts import Problem, RowVerdict


class ReadingRow(NamedTuple):
    """One reading as a file has it, or why it is none.

    Parameters
    ----------
    row : int
        Its row, counted from 1 as a spreadsheet does.
    column : str
        The letter of the column its value stands in.
    mold_text, counter_text, press_text : str
        As the file has them; empty where it has none.
    mold, counter, press : Match or None
        Ours, where they were matched.
    at : datetime or None
        When it was read, in UTC.
    value : int or None
        What was read.
    is_estimated : bool
        True where the file says so ("ca. 313000", or a column for it).
    note, reported_by : str
        As the file has them.
    problem : Problem or None
        Why it cannot be taken as it stands; None where it can.

    Notes
    -----
    A named tuple, because files have millions of them.
    """

    row: int
    column: str
    mold_text: str
    counter_text: str
    press_text: str
    mold: Match | None
    counter: Match | None
    press: Match | None
    at: datetime | None
    value: int | None
    is_estimated: bool
    note: str
    reported_by: str
    problem: Problem | None

    def verdict(self) -> RowVerdict | None:
        """Give the verdict of the file alone; None where the counter's judge decides."""
        if self.problem is None:
            return None
        return RowVerdict(
            row=self.row,
            column=self.column,
            verdict=self.problem.verdict,
            reason=self.problem.reason,
            mold=self.mold.label if self.mold else self.mold_text or None,
            counter=self.counter.label if self.counter else self.counter_text or None,
            at=self.at,
            value=self.value,
            proposals=self.problem.proposals,
        )
