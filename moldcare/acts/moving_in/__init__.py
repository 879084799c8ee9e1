"""A plant moves in: its register and maintenance sheet are brought in, and taken back."""

from moldcare.acts.moving_in.mold_judge import MoldJudge
from moldcare.acts.moving_in.molds import import_molds
from moldcare.acts.moving_in.rule_judge import RuleJudge
from moldcare.acts.moving_in.rules import import_rules
from moldcare.acts.moving_in.undo import BroughtRow, Undone, take_back_import
from moldcare.acts.moving_in.values import (
    LEAVE,
    NEW,
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
    "LEAVE",
    "NEW",
    "TAKE",
    "Became",
    "Brought",
    "BroughtRow",
    "Difference",
    "FileCircuit",
    "FileMold",
    "FileRule",
    "Judged",
    "Keeper",
    "MoldJudge",
    "MovedIn",
    "RuleJudge",
    "Undone",
    "import_molds",
    "import_rules",
    "take_back_import",
]
