"""Reads row after row as decided for the whole table."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Final

from django.utils.translation import gettext as _

from moldcare.feeds.tables.clock import Twice
from moldcare.feeds.tables.clock_changes import Night, Wall, clock_question, settled_by_order
from moldcare.feeds.tables.columns import Column
from moldcare.feeds.tables.heading_row import is_total
from moldcare.feeds.tables.layout import Layout, is_heading_again
from moldcare.feeds.tables.matching import Match, Matcher
from moldcare.feeds.tables.meanings import Meaning
from moldcare.feeds.tables.mold_cells import held_number, mold_text, zeros_key
from moldcare.feeds.tables.moments import MomentReader
from moldcare.feeds.tables.numbers import (
    NumberDecision,
    estimate_or_not,
    has_signs,
    read_whole,
)
from moldcare.feeds.tables.problems import (
    flawed,
    lost_letters,
    more_cells,
    nameless,
    not_ours,
    refused,
    several,
    skipped,
    too_long,
    waiting,
)
from moldcare.feeds.tables.questions import Question
from moldcare.feeds.tables.reading_rows import ReadingRow
from moldcare.feeds.tables.rows import LONGEST_FACT, Flaw, Row, cell, held
from moldcare.feeds.tables.text import clean, unguarded
from moldcare.feeds.tables.verdicts import Problem, Verdict

#: Names kept in a memory of look-ups; beyond, it starts afresh so that it stays bounded.
REMEMBERED_NAMES: Final = 50_000
_YES: Final = frozenset(
    [
        *("x", "y", "yes", "true", "1", "e", "est", "estimated"),
        *("j", "ja", "wahr", "geschätzt", "s", "si", "sí", "verdadero"),
    ]
)
_NO: Final = frozenset(["", "-", "n", "no", "false", "0", "nein", "falsch", "falso"])

#: A name in the file with the text and ours, or why it is none of ours.
Named = tuple[str, Match | None, Problem | None]


@dataclass(slots=True)
class Walk:
    """Reads row after row as decided.

    Parameters
    ----------
    layout : Layout
        Where everything is.
    numbers : NumberDecision
        How the readings are read.
    moments : MomentReader
        How dates and times are read.
    answers : mapping
        A person's answers.
    matchers : mapping
        By "mold", "counter" and "press".
    waits_for : Question or None
        What every row waits for.
    cells_at_most : int or None
        Where commas part the cells: how many the heading has. A row with more has a comma inside
        a number or a note that nobody put in quotes, and everything behind it is shifted.
    """

    layout: Layout
    numbers: NumberDecision
    moments: MomentReader
    answers: Mapping[str, str]
    matchers: Mapping[str, Matcher | None]
    waits_for: Question | None
    cells_at_most: int | None = None
    values: tuple[Column, ...] = ()
    date_place: int | None = None
    time_place: int | None = None
    mold_place: int | None = None
    counter_place: int | None = None
    press_place: int | None = None
    note_place: int | None = None
    reported_by_place: int | None = None
    estimated_place: int | None = None
    zeros: str | None = None
    named: dict[str, dict[str, Named]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        layout = self.layout
        self.values = layout.value_columns
        self.date_place = layout.date_place
        self.time_place = layout.place_of(Meaning.TIME)
        self.mold_place = layout.place_of(Meaning.MOLD)
        self.counter_place = layout.place_of(Meaning.COUNTER)
        self.press_place = layout.place_of(Meaning.PRESS)
        self.note_place = layout.place_of(Meaning.NOTE)
        self.reported_by_place = layout.place_of(Meaning.REPORTED_BY)
        self.estimated_place = layout.place_of(Meaning.ESTIMATED)
        if self.mold_place is not None:
            self.zeros = self.answers.get(zeros_key(layout.columns[self.mold_place]))
        self.named = {kind: {} for kind in ("mold", "counter", "press")}

    def can_be_short(self) -> bool:
        """Say whether plain rows of this table can be read by look-ups alone."""
        return (
            len(self.values) == 1
            and self.values[0].mold_text is None
            and self.waits_for is None
            and self.date_place is not None
            and self.estimated_place is None
        )

    def remember(self, reading: ReadingRow, *, cells: list[str]) -> None:
        """Keep the raw texts of a good row's names."""
        for kind, place, text, match in (
            ("mold", self.mold_place, reading.mold_text, reading.mold),
            ("counter", self.counter_place, reading.counter_text, reading.counter),
            ("press", self.press_place, reading.press_text, reading.press),
        ):
            if place is not None and place < len(cells):
                self._keep(kind, cells[place], (text, match, None))

    def _keep(self, kind: str, text: str, named: Named) -> None:
        known = self.named[kind]
        if len(known) >= REMEMBERED_NAMES:
            known.clear()
        known[text] = named

    def wall(self, row: Row) -> Wall | datetime | Problem:
        """Read the local date and time of a row."""
        return self.moments.wall(row, date_place=self.date_place, time_place=self.time_place)

    def readings(self, row: Row) -> Iterator[ReadingRow]:
        """Read one row: one reading in a long table, one a mold in a wide one."""
        whole = self._problem_of_row(row)
        wall = None if whole is not None else self.wall(row)
        counter_text = cell(row, place=self.counter_place)
        press_text = cell(row, place=self.press_place)
        note = unguarded(cell(row, place=self.note_place))
        for column in self.values or self.layout.columns[:1]:
            mold_text, of_name = self._mold_text(row, column=column)
            value: int | None = None
            at: datetime | None = None
            is_estimated = False
            problem = whole
            mold = counter = press = None
            if problem is None:
                value, is_estimated, problem = self.value(row, column=column)
            if wall is not None:
                found = wall
                if isinstance(found, Wall):
                    found = self.moments.instant(found, row=row.number, place=column.place)
                if isinstance(found, datetime):
                    at = found
                else:
                    problem = problem or found
                mold, of_mold = self._match("mold", mold_text)
                counter, of_counter = self._match("counter", counter_text)
                press, of_press = self._match("press", press_text)
                problem = problem or of_name or of_mold or of_counter
                if problem is None and not mold_text and not counter_text:
                    problem = of_press if press_text else nameless()
                problem = problem or lost_letters(note)
            yield ReadingRow(
                row=row.number,
                column=column.letter,
                mold_text=mold_text,
                counter_text=counter_text,
                press_text=press_text,
                mold=mold,
                counter=counter,
                press=press,
                at=at,
                value=value,
                is_estimated=is_estimated,
                note=note,
                reported_by=cell(row, place=self.reported_by_place),
                problem=problem,
            )

    def value(self, row: Row, *, column: Column) -> tuple[int | None, bool, Problem | None]:
        """Read the value of a cell, whether it is estimated, or why there is none."""
        text = cell(row, place=column.place)
        what = held(row, place=column.place)
        if what is not None:
            problem = _problem_of_held(what.flaw, text=text, is_merged=what.is_merged)
            if problem is not None:
                return None, False, problem
            if what.value is not None:
                digits = held_number(what)
                if digits is None:
                    return None, False, refused(_("“%(text)s” is no number.") % {"text": text})
                return self._with_estimate(row, value=_whole_held(digits), is_estimated=False)
        if not text:
            return None, False, skipped(_("There is no reading in this cell."))
        if len(text) > LONGEST_FACT:
            return None, False, too_long(_("reading"))
        number, is_estimated = estimate_or_not(text)
        if self.numbers.signs is None and has_signs(number):
            question = self.numbers.question
            return None, is_estimated, waiting(question.text if question else text)
        value = read_whole(number, signs=self.numbers.signs)
        return self._with_estimate(row, value=value, is_estimated=is_estimated)

    def _with_estimate(
        self, row: Row, *, value: int | str, is_estimated: bool
    ) -> tuple[int | None, bool, Problem | None]:
        if isinstance(value, str):
            return None, is_estimated, refused(value)
        answer = cell(row, place=self.estimated_place).casefold()
        if answer not in _YES and answer not in _NO:
            reason = _("“%(text)s” says neither that the reading is estimated nor that it is not.")
            return value, is_estimated, refused(reason % {"text": answer})
        return value, is_estimated or answer in _YES, None

    def _problem_of_row(self, row: Row) -> Problem | None:
        if is_total(row.cells, date_place=self.date_place):
            return skipped(_("This row is a total."))
        if self.cells_at_most is not None and any(map(clean, row.cells[self.cells_at_most :])):
            return more_cells()
        if self.waits_for is not None:
            return waiting(self.waits_for.text)
        if is_heading_again(row, layout=self.layout):
            return skipped(_("The heading is repeated here."))
        return None

    def _mold_text(self, row: Row, *, column: Column) -> tuple[str, Problem | None]:
        if column.mold_text is not None:
            return column.mold_text, None
        return mold_text(row, place=self.mold_place, zeros=self.zeros)

    def _match(self, kind: str, text: str) -> tuple[Match | None, Problem | None]:
        find = self.matchers[kind]
        if find is None or not text:
            return None, None
        found = find(text)
        if isinstance(found, Match):
            return found, None
        if found is None:
            return None, not_ours(kind, text=text)
        return None, several(text, found=found)

    def settle_clock_changes(self, rows: Iterable[Row]) -> list[Question]:
        """Settle times that come twice by the file's order, and ask for the rest."""
        nights: dict[tuple[str, str, str, int, date], list[Night]] = {}
        doubtful: list[tuple[int, int, Wall]] = []
        for row in rows:
            if row.held is None and self.moments.is_plain_day(cell(row, place=self.date_place)):
                continue
            wall = self.wall(row) if self._problem_of_row(row) is None else None
            if not isinstance(wall, Wall) or wall.seconds is None or wall.day.is_plain:
                continue
            found = self.moments.instants(wall)
            names = (
                cell(row, place=self.mold_place),
                cell(row, place=self.counter_place),
                cell(row, place=self.press_place),
            )
            for column in self.values:
                value, _is_estimated, problem = self.value(row, column=column)
                if problem is not None and problem.verdict is Verdict.SKIPPED:
                    continue
                instants: tuple[datetime, ...] = ()
                if isinstance(found, datetime):
                    instants = (found,)
                else:
                    doubtful.append((row.number, column.place, wall))
                    if isinstance(found, Twice):
                        instants = (found.first, found.second)
                if instants:
                    key = (*names, column.place, wall.day.date)
                    night = Night(row.number, column.place, instants, value)
                    nights.setdefault(key, []).append(night)
        for night_readings in nights.values():
            if any(len(reading.instants) > 1 for reading in night_readings):
                self.moments.settled.update(settled_by_order(night_readings))
        asked: dict[str, Question] = {}
        for number, place, wall in doubtful:
            if isinstance(self.moments.instant(wall, row=number, place=place), Problem):
                doubt = self.moments.instants(wall)
                if not isinstance(doubt, datetime):
                    question = clock_question(doubt, wall=wall, row=number, zone=self.moments.zone)
                    asked.setdefault(question.key, question)
        return list(asked.values())


def _problem_of_held(flaw: Flaw | None, *, text: str, is_merged: bool) -> Problem | None:
    if flaw is not None and flaw is not Flaw.TOO_LONG:
        return flawed(flaw, text=text)
    if is_merged:
        return skipped(_("The cell is merged with the one before it."))
    return None


def _whole_held(digits: str) -> int | str:
    """Read a workbook's own number: its point is always the decimal one."""
    if "." in digits:
        return _("“%(text)s” is not a whole number.") % {"text": digits}
    return read_whole(digits, signs=None)
