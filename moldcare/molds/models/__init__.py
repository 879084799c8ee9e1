"""Molds and what they are made of; where they are, what they sit in, what sits in them."""

from moldcare.molds.models.beside import Auxiliary, Supply
from moldcare.molds.models.mold import (
    Configuration,
    CycleTime,
    Filler,
    MarkingPhoto,
    Mold,
    MoldClass,
    Owner,
    ResinGroup,
)
from moldcare.molds.models.names import name_key, sort_key
from moldcare.molds.models.parts import (
    Block,
    Cavity,
    Circuit,
    CircuitHalf,
    CircuitItem,
    CircuitItemKind,
    Component,
    Fitting,
    Position,
)
from moldcare.molds.models.places import (
    ConditionNote,
    ConditionNoteCondition,
    ConditionNoteNext,
    Move,
    MoveTakenBack,
    Run,
    RunEvent,
    RunEventAct,
)

__all__ = [
    "Auxiliary",
    "Block",
    "Cavity",
    "Circuit",
    "CircuitHalf",
    "CircuitItem",
    "CircuitItemKind",
    "Component",
    "ConditionNote",
    "ConditionNoteCondition",
    "ConditionNoteNext",
    "Configuration",
    "CycleTime",
    "Filler",
    "Fitting",
    "MarkingPhoto",
    "Mold",
    "MoldClass",
    "Move",
    "MoveTakenBack",
    "Owner",
    "Position",
    "ResinGroup",
    "Run",
    "RunEvent",
    "RunEventAct",
    "Supply",
    "name_key",
    "sort_key",
]
