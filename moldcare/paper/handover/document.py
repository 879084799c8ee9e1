"""What a handover prints, as plain data: every line is said already."""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True, slots=True)
class HandoverPart:
    """One subject: lines with the mold or place in bold; empty where there is nothing."""

    title: str
    lines: Sequence[tuple[str, str]]


@dataclass(frozen=True, kw_only=True, slots=True)
class HandoverSignature:
    """Who signed what and when; without a name a line to sign on by hand."""

    label: str
    name: str
    at: str
    note: str


@dataclass(frozen=True, kw_only=True, slots=True)
class HandoverDocument:
    """All that a handover prints; the drawing asks nobody else."""

    language: str
    shift: str
    at: str
    plant_name: str
    entry_number: int
    parts: Sequence[HandoverPart]
    note: str
    remark: str
    signatures: Sequence[HandoverSignature]
    printed_at: str
