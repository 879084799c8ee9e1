"""Rows of a register and of a maintenance sheet as the acts take them, and what they come to."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import Any, NamedTuple, Protocol

#: What a person chooses for a row that differs from what is here.
LEAVE, TAKE, NEW = "", "take", "new"


class Became(StrEnum):
    """What becomes of a row."""

    NEW = "new"
    CHANGED = "changed"
    SAME = "same"
    DIFFERS = "differs"
    ASKED = "asked"
    REFUSED = "refused"


@dataclass(frozen=True, kw_only=True, slots=True)
class FileCircuit:
    """A circuit as a file brings it; see `Circuit` for the fields."""

    ident: str
    half: str = ""
    bore_mm: Decimal | None = None
    length_mm: Decimal | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class FileMold:
    """A mold as a file brings it; see `Mold` for the fields.

    `mold` is the key of ours where it is there already; `choice` is TAKE where somebody wants what
    differs.
    """

    row: int
    number: str
    mold: int | None = None
    name: str = ""
    mold_class: str = ""
    cavity_count: int | None = None
    mass_a_kg: Decimal | None = None
    mass_b_kg: Decimal | None = None
    owner: str = ""
    resin: str = ""
    resin_group: str = ""
    filler: str = ""
    finish: str = ""
    cycle_time_s: Decimal | None = None
    storage_place: str = ""
    circuits: tuple[FileCircuit, ...] = ()
    opening_count: int | None = None
    opening_at: date | None = None
    drawing_revision: str = ""
    choice: str = LEAVE


@dataclass(frozen=True, kw_only=True, slots=True)
class FileRule:
    """A task of a mold as a maintenance sheet brings it: its interval, and when last done.

    `choice` is TAKE where somebody wants the interval of the file, NEW where the task is one of
    its own beside the rule that it seems to be.
    """

    row: int
    mold: int
    task: str
    family: str = ""
    count_interval: int | None = None
    count_basis: str = "cycles"
    period_n: int | None = None
    period_unit: str = ""
    hours_limit: int | None = None
    event: str = ""
    last_done: date | None = None
    last_count: int | None = None
    choice: str = LEAVE


@dataclass(frozen=True, kw_only=True, slots=True)
class Difference:
    """Where a file says something else than what is here."""

    field: str
    label: str
    here: str
    in_file: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Judged:
    """What becomes of a row, and why.

    Parameters
    ----------
    reason : str
        In a sentence; may be empty where the row is new.
    differences : tuple of Difference
        What the file says otherwise, taken or not.
    changes : mapping
        What would be written, by field.
    rule : int or None
        The key of the rule that the row is about, where it is there.
    takes_last_done : bool
        Whether it is written down when the rule was last done.
    done_count : int or None
        At which count it was then, where the rule counts.
    may_be_new : bool
        Whether it may be a rule of its own beside the one that it seems to be.
    """

    became: Became
    reason: str = ""
    differences: tuple[Difference, ...] = ()
    changes: Mapping[str, Any] = field(default_factory=dict)
    rule: int | None = None
    takes_last_done: bool = False
    done_count: int | None = None
    may_be_new: bool = False

    @property
    def is_written(self) -> bool:
        """Whether anything is written for the row."""
        return self.became in {Became.NEW, Became.CHANGED} or self.takes_last_done


class Brought(NamedTuple):
    """What one row brought: what an import is taken back by.

    `mold`, `rule`, `completion`, `owner` and `spot` are keys; `before` and `after` hold what a
    change put on a record, as JSON keeps it.
    """

    row: int
    act: str
    mold: int | None
    rule: int | None
    completion: int | None
    before: Mapping[str, Any]
    after: Mapping[str, Any]
    entry: int
    owner: int | None = None
    spot: int | None = None


class Keeper(Protocol):
    """Keeps the batch: what was judged, what it brought."""

    def judged(self, judged: Sequence[Judged]) -> tuple[int, dict[str, int]]:
        """Write the batch; return its number, and how many rows had which verdict."""

    def end(self, brought: Sequence[Brought]) -> None:
        """Keep what every row brought."""


class MovedIn(NamedTuple):
    """What an import came to: the batch, its entry, and how many rows by verdict."""

    batch_id: int
    entry_id: int
    counts: dict[str, int]


MOLD_ADDED, MOLD_CHANGED, RULE_ADDED, RULE_CHANGED, LAST_DONE = (
    "mold_added",
    "mold_changed",
    "rule_added",
    "rule_changed",
    "last_done",
)
OWNER_ADDED, RACK_ADDED = "owner_added", "rack_added"
