"""Counter readings from a table: what is asked, and each reading or why it is none."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time
from itertools import islice
from typing import Final
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from moldcare.core.errors import TableRefused
from moldcare.feeds.tables.cell_formats import plain
from moldcare.feeds.tables.clock import Twice
from moldcare.feeds.tables.dates import decide_dates, seconds_of_day
from moldcare.feeds.tables.headings import Meaning
from moldcare.feeds.tables.layout import Column, Form, Layout, cell, held, is_total, table_layout
from moldcare.feeds.tables.matching import Match, Matched, Matcher, is_damaged_name
from moldcare.feeds.tables.moments import (
    MomentEvidence,
    MomentReader,
    Reading,
    Wall,
    clock_question,
    flaw_problem,
    settled_by_order,
    time_of_day_question,
)
from moldcare.feeds.tables.numbers import (
    NumberDecision,
    NumberEvidence,
    decide_numbers,
    estimate_or_not,
    has_signs,
    read_whole,
)
from moldcare.feeds.tables.questions import Choice, Question
from moldcare.feeds.tables.reader import Table
from moldcare.feeds.tables.rows import Flaw, Row
from moldcare.feeds.tables.text import REPLACEMENT_MARK, clean, unguarded
from moldcare.feeds.tables.verdicts import Problem, Proposal, RowVerdict, Verdict

SAMPLE_ROWS: Final = 300
#: Names kept in a memory of look-ups; beyond, it starts afresh so that it stays bounded.
REMEMBERED_NAMES: Final = 50_000
_YES: Final = frozenset(
    ["x", "y", "yes", "true", "1", "e", "est", "estimated", "j", "ja", "wahr", "geschätzt", "s", "si", "sí", "verdadero"]
)
_NO: Final = frozenset(["", "-", "n", "no", "false", "0", "nein", "falsch", "falso"])


@dataclass(frozen=True, kw_only=True, slots=True)
class ReadingRow:
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
        """The verdict that follows from the file alone; None where the counter's judge decides."""
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
    found = _Evidence()
    for row in _data_rows(table, layout=layout):
        found.add(row, layout=layout)
    numbers, columns = _number_decisions(layout, found=found, answers=answers)
    dates = decide_dates(
        found.moments.dates,
        answer=answers.get("dates"),
        serial_answer=answers.get("serial_days"),
    )
    moments = MomentReader(decision=dates, zone=zone, answers=answers)
    questions = [*table.questions, *layout.questions, *dates.questions]
    questions += [decision.question for decision in numbers.values() if decision.question]
    questions += _questions_of_cells(found, layout=layout, answers=answers)
    walk = _Walk(
        layout=layout,
        numbers=numbers,
        moments=moments,
        answers=answers,
        matchers={"mold": match_mold, "counter": match_counter, "press": match_press},
        waits_for=next((question for question in layout.questions if question.is_open), None),
    )
    if walk.waits_for is None and found.may_meet_clock_change(moments):
        questions += _settle_clock_changes(walk, table=table)

    def rows() -> Iterator[ReadingRow]:
        for row in _data_rows(table, layout=layout):
            yield from walk.readings(row)

    return Plan(
        questions=tuple(questions),
        columns=tuple(_with_date_reason(column, reason=dates.reason) for column in columns),
        form=layout.form,
        heading_row=layout.heading_row,
        rows_count=found.rows_count,
        rows=rows,
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
    """Rows below the heading that hold anything."""
    heading_row = layout.heading_row
    for row in table.rows():
        if row.number > heading_row and any(row.cells) and any(map(clean, row.cells)):
            yield row


@dataclass(slots=True)
class _Evidence:
    """What a first walk over all rows gathers."""

    numbers: NumberEvidence = field(default_factory=NumberEvidence)
    moments: MomentEvidence = field(default_factory=MomentEvidence)
    zeros: tuple[int, str, str] | None = None
    workbook_dates: set[date] = field(default_factory=set)
    rows_count: int = 0

    def add(self, row: Row, *, layout: Layout) -> None:
        self.rows_count += 1
        date_place, time_place = _moment_places(layout)
        if not cell(row, place=date_place) and is_total(row.cells):
            return
        if _is_heading_again(row, layout=layout):
            return
        for column in layout.value_columns:
            text = cell(row, place=column.place)
            if text and not text.isdigit() and not _is_held_number(row, place=column.place):
                self.numbers.add(text, row=row.number)
        if date_place is not None:
            self.moments.add(row, date_place=date_place, time_place=time_place)
        if row.held is not None:
            self._add_held(row, layout=layout, date_place=date_place)

    def _add_held(self, row: Row, *, layout: Layout, date_place: int | None) -> None:
        what = held(row, place=layout.place_of(Meaning.MOLD))
        if self.zeros is None and what is not None and _shows_other(row, layout=layout):
            shown = cell(row, place=layout.place_of(Meaning.MOLD))
            self.zeros = (row.number, shown, _held_text(what.value))
        moment = held(row, place=date_place)
        if moment is not None and isinstance(moment.value, date):
            value = moment.value
            self.workbook_dates.add(value.date() if isinstance(value, datetime) else value)

    def may_meet_clock_change(self, moments: MomentReader) -> bool:
        """True where any date of the file has an hour that comes twice or never."""
        for text in self.moments.seen:
            moments._day(text)
        for on in self.workbook_dates:
            moments._on(on)
        moments._for_all()
        return any(not day.is_plain for day in moments.days_by_date.values())


def _moment_places(layout: Layout) -> tuple[int | None, int | None]:
    date_place = layout.place_of(Meaning.AT)
    if date_place is None:
        date_place = layout.place_of(Meaning.DATE)
    return date_place, layout.place_of(Meaning.TIME)


def _is_held_number(row: Row, *, place: int) -> bool:
    what = held(row, place=place)
    return what is not None and what.value is not None


def _shows_other(row: Row, *, layout: Layout) -> bool:
    """True where a mold's cell holds a number but shows more than its digits: 0417 for 417."""
    place = layout.place_of(Meaning.MOLD)
    what = held(row, place=place)
    if what is None or what.value is None or isinstance(what.value, bool):
        return False
    return isinstance(what.value, int | float) and cell(row, place=place) != plain(what.value)


def _held_text(value: object) -> str:
    return plain(value) if isinstance(value, int | float) else str(value)


def _is_heading_again(row: Row, *, layout: Layout) -> bool:
    """True for a heading repeated further down, as printed lists have on every page."""
    date_place, _time_place = _moment_places(layout)
    value_places = [column.place for column in layout.value_columns][:1]
    places = [place for place in (date_place, *value_places) if place is not None]
    return bool(places) and all(
        " ".join(cell(row, place=place).split()) == layout.columns[place].name for place in places
    )


def _number_decisions(
    layout: Layout, *, found: _Evidence, answers: Mapping[str, str]
) -> tuple[dict[int, NumberDecision], list[Column]]:
    """One decision for all readings of the file, by place of their columns."""
    columns = list(layout.columns)
    values = layout.value_columns
    if not values:
        return {}, columns
    is_wide = layout.form is Form.WIDE
    name = _("readings") if is_wide else values[0].name
    key = "numbers:readings" if is_wide else f"numbers:{values[0].key}"
    decision = decide_numbers(
        found.numbers, is_whole=True, key=key, column=name, answer=answers.get(key)
    )
    for column in values:
        columns[column.place] = replace(column, how=decision.reason)
    # The question is asked once, however many columns it concerns.
    again = replace(decision, question=None)
    return {column.place: decision if column is values[0] else again for column in values}, columns


def _with_date_reason(column: Column, *, reason: str) -> Column:
    if column.meaning in {Meaning.AT, Meaning.DATE} and reason:
        return replace(column, how=reason)
    return column


def _questions_of_cells(
    found: _Evidence, *, layout: Layout, answers: Mapping[str, str]
) -> list[Question]:
    questions: list[Question] = []
    if found.moments.first_without_time is not None and "time_of_day" not in answers:
        questions.append(time_of_day_question(found.moments.first_without_time))
    place = layout.place_of(Meaning.MOLD)
    if found.zeros is not None and place is not None:
        key = f"zeros:{layout.columns[place].key}"
        if key not in answers:
            questions.append(_zeros_question(found.zeros, key=key))
    return questions


def _zeros_question(found: tuple[int, str, str], *, key: str) -> Question:
    row, shown, holds = found
    return Question(
        key=key,
        text=_("The cell in row %(row)d shows %(shown)s but holds %(holds)s. Which is the mold?")
        % {"row": row, "shown": shown, "holds": holds},
        choices=(
            Choice(value="shown", text=_("what cells show: %(shown)s") % {"shown": shown}),
            Choice(value="held", text=_("what cells hold: %(holds)s") % {"holds": holds}),
        ),
    )


def _settle_clock_changes(walk: "_Walk", *, table: Table) -> list[Question]:
    """Settle times that come twice by the file's order, and ask for the rest."""
    nights: dict[tuple[str, str, str, int, date], list[Reading]] = {}
    doubtful: list[tuple[int, int, Wall]] = []
    moments = walk.moments
    for row in _data_rows(table, layout=walk.layout):
        wall = walk.wall(row)
        if not isinstance(wall, Wall) or wall.seconds is None or wall.day.is_plain:
            continue
        instants = moments.instants(wall)
        names = tuple(cell(row, place=place) for place in walk.name_places)
        for column in walk.layout.value_columns:
            value, _is_estimated, problem = walk.value(row, column=column)
            if problem is not None and problem.verdict is Verdict.SKIPPED:
                continue
            if not isinstance(instants, datetime):
                doubtful.append((row.number, column.place, wall))
            if isinstance(instants, datetime):
                known: tuple[datetime, ...] = (instants,)
            elif isinstance(instants, Twice):
                known = (instants.first, instants.second)
            else:
                continue
            night = nights.setdefault((*names, column.place, wall.day.date), [])
            night.append(Reading(row.number, column.place, known, value))
    for readings in nights.values():
        if any(len(reading.instants) > 1 for reading in readings):
            moments.settled.update(settled_by_order(readings))
    asked: dict[str, Question] = {}
    for number, place, wall in doubtful:
        if isinstance(moments.instant(wall, row=number, place=place), Problem):
            instants = moments.instants(wall)
            if not isinstance(instants, datetime):
                question = clock_question(instants, wall=wall, row=number, zone=moments.zone)
                asked.setdefault(question.key, question)
    return list(asked.values())


@dataclass(slots=True)
class _Walk:
    """Reads row after row as decided."""

    layout: Layout
    numbers: Mapping[int, NumberDecision]
    moments: MomentReader
    answers: Mapping[str, str]
    matchers: Mapping[str, Matcher | None]
    waits_for: Question | None
    values: tuple[Column, ...] = ()
    date_place: int | None = None
    time_place: int | None = None
    name_places: tuple[int | None, int | None, int | None] = (None, None, None)
    note_place: int | None = None
    reported_by_place: int | None = None
    estimated_place: int | None = None
    zeros_key: str = ""
    known: dict[tuple[str, str], Matched] = field(default_factory=dict)

    def __post_init__(self) -> None:
        layout = self.layout
        self.values = layout.value_columns
        self.date_place, self.time_place = _moment_places(layout)
        mold_place = layout.place_of(Meaning.MOLD)
        self.name_places = (
            mold_place,
            layout.place_of(Meaning.COUNTER),
            layout.place_of(Meaning.PRESS),
        )
        self.note_place = layout.place_of(Meaning.NOTE)
        self.reported_by_place = layout.place_of(Meaning.REPORTED_BY)
        self.estimated_place = layout.place_of(Meaning.ESTIMATED)
        if mold_place is not None:
            self.zeros_key = f"zeros:{layout.columns[mold_place].key}"

    def wall(self, row: Row) -> Wall | datetime | Problem:
        return self.moments.wall(row, date_place=self.date_place, time_place=self.time_place)

    def readings(self, row: Row) -> Iterator[ReadingRow]:
        """Every reading of one row: one in a long table, one a mold in a wide one."""
        whole = self._problem_of_row(row)
        wall = None if whole is not None else self.wall(row)
        mold_place, counter_place, press_place = self.name_places
        counter_text = cell(row, place=counter_place)
        press_text = cell(row, place=press_place)
        note = unguarded(cell(row, place=self.note_place))
        reported_by = cell(row, place=self.reported_by_place)
        for column in self.values or self.layout.columns[:1]:
            mold_text, name_problem = self._mold_text(row, place=mold_place, column=column)
            value: int | None = None
            is_estimated = False
            at: datetime | None = None
            problem = whole
            mold = counter = press = None
            if problem is None:
                value, is_estimated, problem = self.value(row, column=column)
            if wall is not None:
                found = (
                    self.moments.instant(wall, row=row.number, place=column.place)
                    if isinstance(wall, Wall)
                    else wall
                )
                if isinstance(found, datetime):
                    at = found
                else:
                    problem = problem or found
                problem = problem or name_problem
                mold, of_mold = self._match("mold", mold_text)
                counter, of_counter = self._match("counter", counter_text)
                press, of_press = self._match("press", press_text)
                if problem is None:
                    problem = of_mold or of_counter
                if problem is None and not mold_text and not counter_text:
                    problem = of_press if press_text else _no_name()
                if problem is None and not note.isascii():
                    problem = _lost_letters(note)
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
                reported_by=reported_by,
                problem=problem,
            )

    def value(self, row: Row, *, column: Column) -> tuple[int | None, bool, Problem | None]:
        """Value of a cell, whether it is estimated, and why there is none."""
        place = column.place
        text = cell(row, place=place)
        what = held(row, place=place)
        is_estimated = False
        if what is not None:
            if what.flaw is not None and what.flaw is not Flaw.TOO_LONG:
                return None, False, flaw_problem(what.flaw, text=text)
            if what.is_merged:
                return None, False, _skipped(_("The cell is merged with the one above it."))
            if what.value is not None:
                if isinstance(what.value, bool | date | time) or not isinstance(
                    what.value, int | float
                ):
                    return None, False, _refused(_("“%(text)s” is no number.") % {"text": text})
                text = plain(what.value)
        if not text:
            return None, False, _skipped(_("There is no reading in this cell."))
        if not text.isdigit():
            text, is_estimated = estimate_or_not(text)
        signs = self.numbers[place].signs
        is_held = what is not None and what.value is not None
        if signs is None and not is_held and has_signs(text):
            question = self.numbers[self.values[0].place].question
            reason = question.text if question is not None else _("This number waits.")
            return None, is_estimated, Problem(verdict=Verdict.NEEDS_ANSWER, reason=reason)
        value = _whole_held(text) if is_held else read_whole(text, signs=signs)
        if isinstance(value, str):
            return None, is_estimated, _refused(value)
        if self.estimated_place is not None:
            answer = cell(row, place=self.estimated_place).casefold()
            if answer not in _YES and answer not in _NO:
                reason = _(
                    "“%(text)s” says neither that the reading is estimated nor that it is not."
                )
                return value, False, _refused(reason % {"text": answer})
            is_estimated = is_estimated or answer in _YES
        return value, is_estimated, None

    def _problem_of_row(self, row: Row) -> Problem | None:
        if not cell(row, place=self.date_place) and is_total(row.cells):
            return _skipped(_("This row is a total."))
        if self.waits_for is not None:
            return Problem(verdict=Verdict.NEEDS_ANSWER, reason=self.waits_for.text)
        first = self.values[0].place if self.values else 0
        if cell(row, place=first)[:1].isalpha() and _is_heading_again(row, layout=self.layout):
            return _skipped(_("The heading is repeated here."))
        return None

    def _mold_text(
        self, row: Row, *, place: int | None, column: Column
    ) -> tuple[str, Problem | None]:
        if column.mold_text is not None:
            return column.mold_text, None
        text = cell(row, place=place)
        what = held(row, place=place)
        if what is not None and what.value is not None:
            if what.flaw is not None:
                return text, flaw_problem(what.flaw, text=text)
            if "E+" in what.number_format.upper():
                return text, _damaged_name(text)
            if _shows_other(row, layout=self.layout):
                return self._shown_or_held(text, holds=_held_text(what.value))
        elif what is not None and what.flaw is not None:
            return text, flaw_problem(what.flaw, text=text)
        if is_damaged_name(text):
            return text, _damaged_name(text)
        if not text.isascii() and REPLACEMENT_MARK in text:
            return text, _lost_letters(text)
        return text, None

    def _shown_or_held(self, shown: str, *, holds: str) -> tuple[str, Problem | None]:
        answer = self.answers.get(self.zeros_key)
        if answer == "shown":
            return shown, None
        if answer == "held":
            return holds, None
        reason = _("The cell shows %(shown)s but holds %(holds)s.")
        return shown, Problem(
            verdict=Verdict.NEEDS_ANSWER,
            reason=reason % {"shown": shown, "holds": holds},
            proposals=(
                Proposal(value="shown", text=shown),
                Proposal(value="held", text=holds),
            ),
        )

    def _match(self, kind: str, text: str) -> tuple[Match | None, Problem | None]:
        find = self.matchers[kind]
        if find is None or not text:
            return None, None
        key = (kind, text)
        if key in self.known:
            found = self.known[key]
        else:
            if len(self.known) >= REMEMBERED_NAMES:
                self.known.clear()
            found = self.known[key] = find(text)
        if isinstance(found, Match):
            return found, None
        if found is None:
            return None, _not_ours(kind, text)
        return None, _several(text, found)


def _whole_held(text: str) -> int | str:
    """A workbook's own number: its point is always the decimal one."""
    if "." in text:
        return _("“%(text)s” is not a whole number.") % {"text": text}
    return read_whole(text, signs=None)


def _refused(reason: str) -> Problem:
    return Problem(verdict=Verdict.REFUSED, reason=reason)


def _skipped(reason: str) -> Problem:
    return Problem(verdict=Verdict.SKIPPED, reason=reason)


def _no_name() -> Problem:
    return _refused(_("This row names neither a mold nor a counter."))


def _damaged_name(text: str) -> Problem:
    return _refused(
        _("“%(text)s” is what a spreadsheet makes of a name with an E in it. Enter it as text.")
        % {"text": text}
    )


def _lost_letters(text: str) -> Problem | None:
    if REPLACEMENT_MARK not in text:
        return None
    return _refused(_("“%(text)s” has lost letters before it came here.") % {"text": text})


def _not_ours(kind: str, text: str) -> Problem:
    sentence = {
        "mold": _("No mold of ours is called “%(text)s”. Assign it or leave it."),
        "counter": _("No counter of ours is called “%(text)s”. Assign it or leave it."),
        "press": _("No press of ours is called “%(text)s”. Assign it or leave it."),
    }[kind]
    return Problem(verdict=Verdict.NOT_OURS, reason=sentence % {"text": text})


def _several(text: str, found: tuple[Match, ...]) -> Problem:
    return Problem(
        verdict=Verdict.NEEDS_ANSWER,
        reason=_("“%(text)s” may be several of ours.") % {"text": text},
        proposals=tuple(Proposal(value=str(one.key), text=one.label) for one in found),
    )
