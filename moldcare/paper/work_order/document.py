"""What a work order prints, as plain data."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy

from moldcare.core.units import Units
from moldcare.paper.ledger import Edge
from moldcare.paper.marks import StripFigures
from moldcare.paper.photo import SmallPhoto


class StepKind(StrEnum):
    """What a step asks for."""

    TICK = "tick"
    VALUE = "value"
    CHOICE = "choice"
    PHOTO = "photo"
    TEXT = "text"


class DueState(StrEnum):
    """How a task stands, as its edge shows it."""

    NOT_DUE = "not_due"
    DUE_SOON = "due_soon"
    DUE = "due"
    OVERDUE = "overdue"
    PAST_LIMIT = "past_limit"
    WAITING = "waiting"
    DEFERRED = "deferred"
    UNSURE = "unsure"


EDGES = {
    DueState.NOT_DUE: Edge.PLAIN,
    DueState.DUE_SOON: Edge.DOTTED,
    DueState.DUE: Edge.SOLID,
    DueState.OVERDUE: Edge.SOLID,
    DueState.PAST_LIMIT: Edge.DOUBLE,
    DueState.WAITING: Edge.PLAIN,
    DueState.DEFERRED: Edge.PLAIN,
    DueState.UNSURE: Edge.DASHED,
}


class Meaning(StrEnum):
    """What a signature says."""

    DONE = "done"
    CHECKED = "checked"
    ACCEPTED = "accepted"


@dataclass(frozen=True, kw_only=True, slots=True)
class Grade:
    """One as-found grade and what it means."""

    name: str | Promise
    meaning: str | Promise


AS_FOUND_GRADES = (
    Grade(name=gettext_lazy("clean"), meaning=gettext_lazy("as after the last care")),
    Grade(name=gettext_lazy("light"), meaning=gettext_lazy("some residue or wear, no harm yet")),
    Grade(name=gettext_lazy("heavy"), meaning=gettext_lazy("would not have lasted much longer")),
    Grade(name=gettext_lazy("failed"), meaning=gettext_lazy("parts, run or mold had suffered")),
)


@dataclass(frozen=True, kw_only=True, slots=True)
class WorkOrderStep:
    """One step; a value has a unit and may have limits, a choice has its answers."""

    text: str
    kind: StepKind = StepKind.TICK
    unit: str = ""
    at_least: Decimal | None = None
    at_most: Decimal | None = None
    reference: str = ""
    choices: Sequence[str] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class PlannedSupply:
    """What is taken out for a task, as far as it is known before."""

    name: str
    planned: Decimal | int | None = None
    unit: str = ""
    storage_place: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class WorkOrderTask:
    """One task: why it is due, what it asks for, and what it also covers."""

    name: str
    reason: str
    state: DueState = DueState.DUE
    state_text: str = ""
    reach: str = ""
    standard_minutes: int | None = None
    strip: StripFigures | None = None
    steps: Sequence[WorkOrderStep] = ()
    supplies: Sequence[PlannedSupply] = ()
    covers: Sequence[str] = ()
    signs: Sequence[str] = ()
    has_grade: bool = True
    grades: Sequence[Grade] = AS_FOUND_GRADES


@dataclass(frozen=True, kw_only=True, slots=True)
class PicturePair:
    """The same thing before and after the work: two photos, and what stands beneath each."""

    about: str
    before: SmallPhoto
    after: SmallPhoto
    before_note: str = ""
    after_note: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class WorkOrderDocument:
    """All that a work order prints; the drawing asks nobody else.

    `language` is that of the plant: words and numbers follow it. `total_cycles` is None where no
    reading was ever taken. `families` choose the cautions; `more_cautions` name further ones,
    `own_cautions` are sentences of the plant. `units` are those in which masses are printed.
    """

    language: str
    order_number: str
    mold_number: str
    mold_name: str
    place: str
    total_cycles: int | None
    total_shots: int | None = None
    is_estimated: bool = False
    total_as_of: str = ""
    is_customer_property: bool = False
    owner: str = ""
    half_masses_kg: tuple[Decimal | int | None, Decimal | int | None] = (None, None)
    units: Units = Units.METRIC
    planned_shift: str = ""
    people: Sequence[str] = ()
    lockout_procedure: str = ""
    note: str = ""
    code_text: str = ""
    families: Sequence[str] = ()
    more_cautions: Sequence[str] = ()
    own_cautions: Sequence[str] = ()
    tasks: Sequence[WorkOrderTask] = ()
    passed_on: str = ""
    parts_out: Sequence[str] = ()
    pairs: Sequence[PicturePair] = ()
    signatures: Sequence[Meaning] = (Meaning.DONE,)
    printed_at: str = ""
    printed_by: str = ""
    plant_name: str = ""
