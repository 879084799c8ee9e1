"""A mold register from a table: what is asked, and each mold or why it is none."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from moldcare.feeds.register.circuits import put_together
from moldcare.feeds.register.days import Days
from moldcare.feeds.register.gather import (
    Gathered,
    data_rows,
    sample_of,
    text_of,
)
from moldcare.feeds.register.head import MEASURES, Head, head_of
from moldcare.feeds.register.mold_facts import (
    MASSES,
    MoldFacts,
    number_key,
    unit_of_column,
    unit_of_titles,
)
from moldcare.feeds.register.rows import MoldRow, RegisterPlan
from moldcare.feeds.register.spans import SPANS_KEY
from moldcare.feeds.register.spellings import Named, Spellings
from moldcare.feeds.register.units import (
    LENGTH_UNITS,
    MASS_UNITS,
    TIME_UNITS,
    clock_seconds,
    fraction,
    length_parted,
    mass_parted,
    time_parted,
)
from moldcare.feeds.register.whole_rows import MoldColumn, WholeRows
from moldcare.feeds.register.words import MOLDS
from moldcare.feeds.tables import (
    Choice,
    Column,
    Matcher,
    Meaning,
    Problem,
    Question,
    Row,
    Table,
)
from moldcare.feeds.tables.numbers import NumberDecision
from moldcare.feeds.tables.problems import refused

#: Rows of one mold that are listed in a note.
ROWS_LISTED: Final = 5
_DECIMAL: Final = MASSES | MEASURES | {Meaning.CYCLE_TIME}
_UNITS: Final = {
    **dict.fromkeys(MASSES, (MASS_UNITS, "kg")),
    **dict.fromkeys(MEASURES, (LENGTH_UNITS, "mm")),
}
_NUMBERS: Final = _DECIMAL | {Meaning.OPENING_COUNT}


def read_molds(
    table: Table,
    *,
    zone: ZoneInfo | None = None,
    answers: Mapping[str, str] | None = None,
    remembered: Mapping[str, Meaning] | None = None,
    match_mold: Matcher | None = None,
) -> RegisterPlan[MoldRow]:
    """Read a mold register from a table.

    Parameters
    ----------
    table : Table
        From `open_register`, or `open_table`.
    zone : ZoneInfo or None
        The plant's; instants with an offset of their own become days there.
    answers : mapping of str to str, or None
        A person's answers by the keys of the questions.
    remembered : mapping of str to Meaning, or None
        What headings meant in earlier files, by `words_of` the column's name.
    match_mold : callable or None
        Tells which of our molds a text names.

    Returns
    -------
    RegisterPlan of MoldRow
        A mold that stands in several rows comes once, under its first row, when its last row
        was read.

    Raises
    ------
    TableRefused
        When the table is empty, its dates contradict each other, or an answer fits nothing.

    Notes
    -----
    The table is walked twice: the first walk gathers what each column as a whole says about
    numbers, dates and spellings, the second reads. Kept in memory are the molds' numbers and
    the molds whose last row is still to come.
    """
    said = dict(answers or {})
    head = head_of(
        sample_of(table),
        known=MOLDS,
        needed={Meaning.MOLD: _("Which column names the mold?")},
        match=match_mold,
        answers=said,
        remembered=remembered,
    )
    units, unit_questions = _units_of(head, answers=said)
    gathered = Gathered(
        head=head,
        spellings=Spellings(match=match_mold, answers=said, takes_new=True),
        answers=said,
        hidden_rows=table.hidden_rows,
        numbers_in=_numbers_in,
        names_unit=_names_unit,
        date_columns=head.all_of(Meaning.OPENING_AT),
        number_keys={
            column.place: number_key(column)
            for column in head.columns
            if column.meaning in _NUMBERS
        },
    )
    for row in data_rows(table, head=head):
        gathered.add(row)
    gathered.spellings.settle()
    numbers, number_questions = gathered.number_decisions(
        whole=frozenset(
            column.key for column in head.columns if column.meaning is Meaning.OPENING_COUNT
        )
    )
    dates = gathered.date_decision()
    reader = _MoldReader(
        facts=MoldFacts(
            gathered=gathered,
            numbers=numbers,
            days=Days(decision=dates, zone=zone, of_span=said.get(SPANS_KEY, "")),
            units_of=units,
        ),
        whole_rows=WholeRows.of(table, head=head, answers=said),
    )
    return RegisterPlan(
        questions=(
            *table.questions,
            *head.questions,
            *(
                unit_questions[place]
                for place in sorted(gathered.without_unit & unit_questions.keys())
            ),
            *dates.questions,
            *number_questions,
            *gathered.questions(),
        ),
        columns=tuple(
            replace(column, how=_how(column, numbers=numbers, dates=dates.reason, units=units))
            for column in head.columns
        ),
        heading_row=head.heading_row,
        rows_count=gathered.rows_count,
        rows=lambda: reader.rows(data_rows(table, head=head)),
    )


def _numbers_in(column: Column, text: str) -> list[str]:
    """Numbers of a cell whose points and commas need the column's decision."""
    if column.meaning in MASSES:
        return [mass_parted(part.strip())[0] for part in text.replace("+", "/").split("/")]
    if column.meaning is Meaning.CYCLE_TIME:
        return [time_parted(text)[0]]
    if column.meaning in MEASURES:
        number = length_parted(text)[0]
        return [number] if fraction(number) is None else []
    return [text.rstrip("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZüÜß. ")]


def _names_unit(column: Column, text: str) -> bool:
    """Say whether the unit of a mass, length or time stands in its cell."""
    if column.meaning in MASSES:
        return mass_parted(text)[1] is not None
    if column.meaning in MEASURES:
        return length_parted(text)[1] is not None
    return time_parted(text)[1] is not None or clock_seconds(text) is not None


def _units_of(
    head: Head, *, answers: Mapping[str, str]
) -> tuple[dict[int, str], dict[int, Question]]:
    """Settle the unit of each column that has one: named, answered, or taken and shown."""
    units: dict[int, str] = {}
    questions: dict[int, Question] = {}
    for column in head.columns:
        if column.meaning not in _DECIMAL:
            continue
        known, usual = _UNITS.get(column.meaning, (TIME_UNITS, "s"))
        answer = answers.get(f"unit:{column.key}", "")
        named = answer if answer in known else unit_of_column(column)
        told = unit_of_titles(column, titles=head.titles)
        units[column.place] = named or told or usual
        if named is None:
            text = _("“%(column)s” names no unit. Numbers without one are read as %(unit)s.")
            if told is not None:
                text = _("“%(column)s” names no unit. By the title above it is %(unit)s.")
            questions[column.place] = Question(
                key=f"unit:{column.key}",
                text=text % {"column": column.name, "unit": told or usual},
                choices=tuple(Choice(value=unit, text=unit) for unit in known),
                assumed=told or usual,
            )
    return units, questions


def _how(
    column: Column, *, numbers: Mapping[str, NumberDecision], dates: str, units: Mapping[int, str]
) -> str:
    parts = []
    if column.place in units:
        parts.append(_("in %(unit)s") % {"unit": units[column.place]})
    if column.meaning in _NUMBERS:
        parts.append(numbers[number_key(column)].reason)
    if column.meaning is Meaning.OPENING_AT:
        parts.append(dates)
    return ", ".join(part for part in parts if part)


@dataclass(slots=True)
class _Parts:
    """A mold whose rows are being read: its facts, and the row each came from."""

    row: int
    named: Named
    facts: dict[str, Any] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    problem: Problem | None = None
    rows: int = 0
    more_rows: list[int] = field(default_factory=list)


@dataclass(slots=True)
class _MoldReader:
    """Reads row after row, and puts the rows of one mold together."""

    facts: MoldFacts
    whole_rows: WholeRows

    def rows(self, rows: Iterator[Row]) -> Iterator[MoldRow]:
        """Give each mold when its last row was read."""
        gathered = self.facts.gathered
        molds = MoldColumn(gathered=gathered)
        expected = self._expected()
        begun: dict[str, _Parts] = {}
        for row in rows:
            problem = self.whole_rows.problem(row)
            if problem is not None:
                number = text_of(row, gathered.mold_column)
                yield MoldRow(row=row.number, number=number[:40], problem=problem)
                continue
            named = molds.of(row)
            facts, notes, problem = self.facts.of(row)
            if named.problem is not None:
                yield _mold_row(_Parts(row.number, named, facts, list(notes), named.problem, 1))
                continue
            parts = begun.setdefault(named.number, _Parts(row.number, named))
            _add(parts, facts, notes=notes, problem=problem, row=row.number)
            # rows without a mold that belong to the one above are not counted beforehand
            if gathered.answers.get("mold_above") != "yes" and (
                parts.rows == expected[named.number]
            ):
                yield _mold_row(begun.pop(named.number))
        for parts in begun.values():
            yield _mold_row(parts)

    def _expected(self) -> Counter[str]:
        """How many rows each mold has."""
        spellings = self.facts.gathered.spellings
        expected: Counter[str] = Counter()
        for text, count in spellings.rows.items():
            expected[spellings.of(text).number] += count
        return expected


def _add(
    parts: _Parts,
    facts: Mapping[str, Any],
    *,
    notes: tuple[str, ...],
    problem: Problem | None,
    row: int,
) -> None:
    """Take a further row of a mold in; what it says otherwise than the rows before is refused."""
    parts.rows += 1
    parts.problem = parts.problem or problem
    parts.notes += [note for note in notes if note not in parts.notes]
    if parts.rows > 1:
        parts.more_rows.append(row)
    for name, value in facts.items():
        known = parts.facts.get(name)
        if name == "circuits":
            together = put_together(known or (), more=value)
            if not isinstance(together, str):
                parts.facts[name] = together
            elif parts.problem is None:
                parts.problem = refused(together)
        elif known is None:
            parts.facts[name] = value
        elif known != value and parts.problem is None:
            parts.problem = refused(
                _("Row %(row)d says “%(value)s” where row %(first)d says “%(known)s”.")
                % {"row": row, "value": value, "first": parts.row, "known": known}
            )


def _same_mold(rows: Sequence[int]) -> list[str]:
    """Say which other rows are about the same mold, of many only the first."""
    if not rows:
        return []
    if len(rows) == 1:
        return [_("Row %(row)d is about the same mold.") % {"row": rows[0]}]
    listed = ", ".join(map(str, rows[:ROWS_LISTED]))
    if len(rows) <= ROWS_LISTED:
        return [_("Rows %(rows)s are about the same mold.") % {"rows": listed}]
    return [
        _("Rows %(rows)s and %(more)d more are about the same mold.")
        % {"rows": listed, "more": len(rows) - ROWS_LISTED}
    ]


def _mold_row(parts: _Parts) -> MoldRow:
    return MoldRow(
        row=parts.row,
        number=parts.named.number,
        mold=None if parts.named.mold is None else parts.named.mold.key,
        notes=(*parts.notes, *_same_mold(parts.more_rows)),
        problem=parts.problem,
        **parts.facts,
    )
