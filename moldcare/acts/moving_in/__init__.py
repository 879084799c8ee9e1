"""A plant moves in: its register and maintenance sheet are brought in."""

from moldcare.acts.moving_in.mold_changes import circuit_kept
from moldcare.acts.moving_in.mold_fields import (
    CALLED,
    CHANGED_FIELDS,
    OPENING_FIELDS,
    field_label,
)
from moldcare.acts.moving_in.mold_judge import MoldJudge
from moldcare.acts.moving_in.molds import import_molds
from moldcare.acts.moving_in.rule_judge import RuleJudge
from moldcare.acts.moving_in.rules import import_rules
from moldcare.acts.moving_in.values import (
    LAST_DONE,
    LEAVE,
    MOLD_ADDED,
    MOLD_CHANGED,
    NEW,
    OWNER_ADDED,
    RACK_ADDED,
    RULE_ADDED,
    RULE_CHANGED,
    TAKE,
    Became,
    Brought,
    Difference,
    FileCircuit,
    FileMold,
    FileRule,
    Judged,
    Keeper,
    MovedIn,
)

__all__ = [
    "CALLED",
    "CHANGED_FIELDS",
    "LAST_DONE",
    "LEAVE",
    "MOLD_ADDED",
    "MOLD_CHANGED",
    "NEW",
    "OPENING_FIELDS",
    "OWNER_ADDED",
    "RACK_ADDED",
    "RULE_ADDED",
    "RULE_CHANGED",
    "TAKE",
    "Became",
    "Brought",
    "Difference",
    "FileCircuit",
    "FileMold",
    "FileRule",
    "Judged",
    "Keeper",
    "MoldJudge",
    "MovedIn",
    "RuleJudge",
    "circuit_kept",
    "field_label",
    "import_molds",
    "import_rules",
]
