"""What a signature is given, and what it answers."""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from moldcare.acts.sign_in import UNKNOWN_DEVICE
from moldcare.plant.models import Person


class SignedFrom(StrEnum):
    """What the signature stands on."""

    SHEET = "sheet"
    PAPER = "paper"


@dataclass(frozen=True, kw_only=True, slots=True)
class TaskResult:
    """What became of a task, where the signature says it and the sheet does not.

    Parameters
    ----------
    outcome : str
        `done`, `left`, `not_needed`; empty leaves what the sheet says.
    reason : str
        Why it was left.
    grade : str
        As found; empty leaves what the sheet says.
    is_brought_forward, is_ticked : bool or None
        None leaves what the sheet says. Ticks are those of covered lines.
    """

    outcome: str = ""
    reason: str = ""
    grade: str = ""
    is_brought_forward: bool | None = None
    is_ticked: bool | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Override:
    """A lead lets work be signed without a qualification, and says why."""

    person: Person
    reason: str
    pin: str = ""
    device: str = UNKNOWN_DEVICE


@dataclass(frozen=True, kw_only=True, slots=True)
class SupplySpent:
    """A supply that the work used up.

    Parameters
    ----------
    name : str
        As the rule or the shelf calls it.
    amount : Decimal or None
        How much; None where nobody said.
    supply : int or None
        Its number on the shelf's list; None for what is not on it.
    """

    name: str
    amount: Decimal | None = None
    unit: str = ""
    supply: int | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class SignedOrder:
    """A signed order: its entry, its completions, and the signatures that it still wants."""

    number: int
    entry_pk: int
    entry_number: int
    completions: tuple[int, ...]
    wanted: tuple[str, ...]
