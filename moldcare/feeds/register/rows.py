"""Rows of a mold register and of a maintenance sheet: read, and nothing written yet."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Generic, TypeVar

from moldcare.feeds.tables import Column, Problem, Question


@dataclass(frozen=True, kw_only=True, slots=True)
class CircuitRow:
    """One circuit of a mold: its name, and its half, bore and length where the file has them."""

    ident: str
    half: str = ""
    bore_mm: Decimal | None = None
    length_mm: Decimal | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class MoldRow:
    """One mold of a register.

    Parameters
    ----------
    row : int
        Its row, counted from 1 as a spreadsheet does; the first of the rows it stands in.
    number : str
        As the file has it, with every zero; what a second spelling of the same mold is led back to.
    mold : int or None
        The key of the mold of ours that it is, where it is there already.
    mass_a_kg, mass_b_kg : Decimal or None
        Masses of the halves in kg to a tenth, whatever unit the file has.
    mass_kg : Decimal or None
        Mass of both halves together, where the file gives that and not the halves.
    resin_group, filler : str
        Values of the mold's record; read from the resin's name where no column says them.
    cycle_time_s : Decimal or None
        The standard cycle time in seconds.
    storage_place : str
        The rack it is kept in, as the file has it.
    circuits : tuple of CircuitRow
        Its circuits, each once.
    opening_at : date or None
        The day on which `opening_count` was true.
    notes : tuple of str
        What was turned into our units or taken from elsewhere, a sentence each.
    problem : Problem or None
        Why it cannot be taken as it stands.
    """

    row: int
    number: str
    mold: int | None = None
    name: str = ""
    mold_class: str = ""
    cavity_count: int | None = None
    mass_a_kg: Decimal | None = None
    mass_b_kg: Decimal | None = None
    mass_kg: Decimal | None = None
    owner: str = ""
    resin: str = ""
    resin_group: str = ""
    filler: str = ""
    finish: str = ""
    cycle_time_s: Decimal | None = None
    storage_place: str = ""
    circuits: tuple[CircuitRow, ...] = ()
    opening_count: int | None = None
    opening_at: date | None = None
    drawing_revision: str = ""
    notes: tuple[str, ...] = ()
    problem: Problem | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class CareRow:
    """One rule of a mold on a maintenance sheet: a task with its interval, and when last done.

    Parameters
    ----------
    row : int
        Its row, counted from 1 as a spreadsheet does.
    column : str
        The letter of the column that names the task.
    number : str
        The mold's number as the file has it.
    mold : int or None
        The key of the mold of ours.
    task : str
        The name of one task; a cell that names two gives two rows.
    family : str
        The key of the care family that the name speaks of; empty where it cannot be told.
    count_interval : int or None
        The interval by count, on `count_basis` ("cycles" or "shots").
    period_n, period_unit : int or None, str
        The interval by calendar: "day", "week", "month" or "year".
    hours_limit : int or None
        The interval in running hours.
    event : str
        The event at which it falls due, as a rule names it.
    last_done, last_count : date or None, int or None
        When it was last done, by date and by the mold's count. A row may have these alone, without
        an interval: sheets of "last done" columns do.
    notes, problem
        As of `MoldRow`.
    """

    row: int
    column: str
    number: str
    task: str
    mold: int | None = None
    family: str = ""
    count_interval: int | None = None
    count_basis: str = "cycles"
    period_n: int | None = None
    period_unit: str = ""
    hours_limit: int | None = None
    event: str = ""
    last_done: date | None = None
    last_count: int | None = None
    notes: tuple[str, ...] = ()
    problem: Problem | None = None


R = TypeVar("R", MoldRow, CareRow)


@dataclass(frozen=True, kw_only=True, slots=True)
class RegisterPlan(Generic[R]):
    """What will be read from a register or sheet, shown before anything is stored.

    `questions` are what the file leaves open and what is taken meanwhile; `columns` what each
    column means and why; `rows` gives the rows from the first, each time it is called.
    """

    questions: tuple[Question, ...]
    columns: tuple[Column, ...]
    heading_row: int
    rows_count: int
    rows: Callable[[], Iterator[R]]

    @property
    def open_questions(self) -> tuple[Question, ...]:
        """The questions for which rows wait."""
        return tuple(question for question in self.questions if question.is_open)
