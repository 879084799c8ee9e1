"""What the record of a mold prints, as plain data: every line is said already."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from moldcare.paper.ledger import Edge
from moldcare.paper.work_order.document import EDGES, DueState

__all__ = ["EDGES", "DueState", "Edge", "Fact", "MarkingLine", "MoldRecord", "RuleLine", "Section"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Fact:
    """One cell at the head of the record: a label and what holds, the first line in bold."""

    label: str
    lines: Sequence[str]


@dataclass(frozen=True, kw_only=True, slots=True)
class MarkingLine:
    """How the mold is marked, and the photo of its plate as the bytes of a picture.

    `photo` is None where there is none, or where it is not in the store any more.
    """

    said: str
    photo: bytes | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class RuleLine:
    """A care rule: how it stands, in words, and when it was done last."""

    name: str
    state: DueState
    state_text: str
    said: str
    last_done: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Section:
    """A subject of the record: lines with a few leading words in bold.

    `more` is said at the end where not everything is listed, and where the rest stands.
    """

    title: str
    lines: Sequence[tuple[str, str]]
    more: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class MoldRecord:
    """All that the record of a mold prints; the drawing asks nobody else."""

    language: str
    number: str
    name: str
    facts: Sequence[Fact]
    marking: MarkingLine
    life: Section
    rules: Sequence[RuleLine] = ()
    rules_said: str = ""
    rules_more: str = ""
    sections: Sequence[Section] = field(default_factory=tuple)
    code_text: str = ""
    printed_at: str = ""
    printed_by: str = ""
    plant_name: str = ""
