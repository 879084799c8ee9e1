"""Rule sets that a plant begins with: starting values, to be checked by the plant.

Every figure is from memory of what is common in the trade; no source gives one interval for all
molds, because none fits all. Each rule says so in its reason until somebody writes a better one.
Steps are in the order of the work; what can hurt somebody is left to the cautions of the family,
the maker's manuals and the site's own rules, and no step gives a dose, a load or an electrical
value.
"""

from moldcare.care.starting_rules.every_mold import EVERY_MOLD
from moldcare.care.starting_rules.special import A_FINISH, BUBBLERS, HOT_RUNNER, SLIDES
from moldcare.care.starting_rules.values import (
    FILLER_FACTORS,
    RESIN_FACTORS,
    STARTING_REASON,
    RuleStart,
    SetStart,
    StepStart,
    starting_factors,
)

STARTING_SETS: tuple[SetStart, ...] = (EVERY_MOLD, SLIDES, A_FINISH, BUBBLERS, HOT_RUNNER)

__all__ = [
    "FILLER_FACTORS",
    "RESIN_FACTORS",
    "STARTING_REASON",
    "STARTING_SETS",
    "RuleStart",
    "SetStart",
    "StepStart",
    "starting_factors",
]
