"""A maintenance sheet from a table: what is asked, and each rule of a mold or why it is none."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Final
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from moldcare.feeds.register.care_facts import CareFacts, numbers_in
from moldcare.feeds.register.days import Days
from moldcare.feeds.register.gather import Gathered, data_rows, sample_of, text_of
from moldcare.feeds.register.head import TASK_FOR_ALL, head_of
from moldcare.feeds.register.interval_units import interval_units
from moldcare.feeds.register.last_done import last_parts
from moldcare.feeds.register.rows import CareRow, RegisterPlan
from moldcare.feeds.register.spans import SPANS_KEY
from moldcare.feeds.register.spellings import Named, Spellings
from moldcare.feeds.register.task_columns import OF_A_TASK
from moldcare.feeds.register.task_groups import Columns, column_groups
from moldcare.feeds.register.tasks import family_of, tasks_in
from moldcare.feeds.register.whole_rows import MoldColumn, WholeRows
from moldcare.feeds.register.words import CARE
from moldcare.feeds.tables import Matcher, Meaning, Problem, Row, Table, Verdict, words_of
from moldcare.feeds.tables.problems import refused, skipped
from moldcare.feeds.tables.text import unguarded

TASK_AT_MOST: Final = 120
#: Signs of a cell that names tasks, however many.
CELL_AT_MOST: Final = 500
COUNTS_KEY: Final = "counts"


def read_care(
    table: Table,
    *,
    zone: ZoneInfo | None = None,
    answers: Mapping[str, str] | None = None,
    remembered: Mapping[str, Meaning] | None = None,
    match_mold: Matcher | None = None,
) -> RegisterPlan[CareRow]:
    """Read a maintenance sheet from a table.

    Parameters
    ----------
    table, zone, answers, remembered, match_mold
        As of `read_molds`.

    Returns
    -------
    RegisterPlan of CareRow
        One row a mold and task, from sheets with one row a task and from sheets with a column, or
        several, a task. A cell that names two tasks gives two.

    Raises
    ------
    TableRefused
        When the table is empty, its dates contradict each other, or an answer fits nothing.

    Notes
    -----
    Families are told by words of the trade in English, German and Spanish: common practice. The
    table is walked twice, as by `read_molds`; kept in memory is which mold has which task.
    """
    said = dict(answers or {})
    head = head_of(
        sample_of(table),
        known=CARE,
        needed={
            Meaning.MOLD: _("Which column names the mold?"),
            Meaning.TASK: _("Which column names the task?"),
        },
        match=match_mold,
        answers=said,
        remembered=remembered,
    )
    gathered = Gathered(
        head=head,
        spellings=Spellings(match=match_mold, answers=said, takes_new=False),
        answers=said,
        hidden_rows=table.hidden_rows,
        numbers_in=numbers_in,
        date_columns=tuple(
            column for column in head.columns if column.meaning is Meaning.LAST_DONE
        ),
        number_keys={
            column.place: COUNTS_KEY for column in head.columns if column.meaning in OF_A_TASK
        },
        date_in=lambda text: last_parts(text)[0],
    )
    units = interval_units(head, answers=said)
    for row in data_rows(table, head=head):
        gathered.add(row)
        units.add(row)
    gathered.spellings.settle()
    numbers, number_questions = gathered.number_decisions(whole=frozenset([COUNTS_KEY]))
    dates = gathered.date_decision()
    unit_questions = units.settle()
    reader = _CareReader(
        gathered=gathered,
        facts=CareFacts(
            numbers=numbers.get(COUNTS_KEY),
            days=Days(decision=dates, zone=zone, of_span=said.get(SPANS_KEY, "")),
            units=units,
        ),
        groups=column_groups(head),
        whole_rows=WholeRows.of(table, head=head, answers=said),
        task_for_all="" if head.of(Meaning.TASK) else said.get(TASK_FOR_ALL, ""),
    )
    counts = numbers.get(COUNTS_KEY)
    how = {
        **dict.fromkeys(OF_A_TASK, "" if counts is None else counts.reason),
        Meaning.PERIOD: "",
        Meaning.LAST_DONE: dates.reason,
    }
    return RegisterPlan(
        questions=(
            *table.questions,
            *head.questions,
            *dates.questions,
            *number_questions,
            *unit_questions,
            *gathered.questions(),
        ),
        columns=tuple(
            replace(column, how=units.how(column) or how.get(column.meaning, ""))
            for column in head.columns
        ),
        heading_row=head.heading_row,
        rows_count=gathered.rows_count,
        rows=lambda: reader.rows(data_rows(table, head=head)),
    )


@dataclass(slots=True)
class _CareReader:
    """Reads row after row: each task of a row, or each group of columns headed by a task."""

    gathered: Gathered
    facts: CareFacts
    groups: tuple[Columns, ...]
    whole_rows: WholeRows
    task_for_all: str = ""
    seen: dict[tuple[str, str], CareRow] = field(default_factory=dict)

    def rows(self, rows: Iterator[Row]) -> Iterator[CareRow]:
        """Give the rules of each row."""
        molds = MoldColumn(gathered=self.gathered)
        self.seen = {}
        for row in rows:
            problem = self.whole_rows.problem(row)
            if problem is not None:
                number = text_of(row, self.gathered.mold_column)[:40]
                yield CareRow(row=row.number, column="A", number=number, task="", problem=problem)
                continue
            named = molds.of(row)
            found = False
            for columns in self.groups:
                for rule in self._rules(row, columns=columns, named=named):
                    found = True
                    yield self._once(rule)
            if not found:
                yield CareRow(
                    row=row.number,
                    column="A",
                    number=named.number,
                    task="",
                    mold=None if named.mold is None else named.mold.key,
                    problem=skipped(_("This row names no task.")),
                )

    def _rules(self, row: Row, *, columns: Columns, named: Named) -> Iterator[CareRow]:
        if columns.task_text is not None:
            if columns.are_empty(row):
                return
            tasks: tuple[str, ...] = (columns.task_text,)
            whole = columns.task_text
        else:
            column = self.gathered.head.of(Meaning.TASK)
            whole = unguarded(text_of(row, column)) or self.task_for_all
            # a longer text is refused as a whole
            tasks = tasks_in(whole) if len(whole) <= CELL_AT_MOST else (whole,)
            if whole and not tasks:
                tasks = (whole,)
        if not tasks:
            return
        facts, notes, problem = self.facts.of(row, columns=columns)
        problem = named.problem or problem
        for place, task in enumerate(tasks, start=1):
            own = notes
            if len(tasks) > 1:
                own = (
                    _("“%(text)s” names %(count)d tasks; this is number %(place)d.")
                    % {"text": " ".join(whole.split()), "count": len(tasks), "place": place},
                    *notes,
                )
            of_task = problem
            if len(task) > TASK_AT_MOST:
                of_task = of_task or refused(_("The task's name is too long a text."))
            yield CareRow(
                row=row.number,
                column=columns.letter,
                number=named.number,
                mold=None if named.mold is None else named.mold.key,
                task=task[:TASK_AT_MOST],
                family=family_of(task[:TASK_AT_MOST]),
                notes=own,
                problem=of_task,
                **facts,
            )

    def _once(self, rule: CareRow) -> CareRow:
        """Say of a mold and task that was there before that it is not taken twice."""
        key = rule.number, words_of(rule.task)
        first = self.seen.setdefault(key, rule)
        if first is rule or rule.problem is not None:
            return rule
        if _terms(first) == _terms(rule):
            reason = _("Row %(row)d says the same.") % {"row": first.row}
            return replace(rule, problem=Problem(verdict=Verdict.DUPLICATE, reason=reason))
        return replace(
            rule,
            problem=refused(
                _("Row %(row)d has the same task of this mold with other values.")
                % {"row": first.row}
            ),
        )


def _terms(rule: CareRow) -> tuple[object, ...]:
    return (
        *(rule.count_interval, rule.count_basis, rule.period_n, rule.period_unit),
        *(rule.hours_limit, rule.event),
        *(rule.last_done, rule.last_count),
    )
