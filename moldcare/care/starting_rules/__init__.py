"""Rule sets that a plant begins with: starting values, to be checked by the plant.

Every figure is from memory of what is common in the trade; no source gives one interval for all
molds, because none fits all. Each rule says so in its reason until somebody writes a better one.

The order itself begins with looking and photographing, before anything is cleaned; every rule then
begins with what to look at. Steps are in the order of the work. What can hurt somebody is left to
the cautions of the family, the maker's manuals and the site's own rules; no step gives a dose, a
load or an electrical value.
"""

from moldcare.care.starting_rules.every_mold import EVERY_MOLD
from moldcare.care.starting_rules.special import (
    A_FINISH,
    ACID_RESINS,
    BUBBLERS,
    HOT_RUNNER,
    SHORT_LIVED,
    SLIDES,
)
from moldcare.care.starting_rules.values import (
    FILLER_FACTORS,
    RESIN_FACTORS,
    STARTING_REASON,
    MeasuredStart,
    RuleStart,
    SetStart,
    StepStart,
    factors_of,
)

STARTING_SETS: tuple[SetStart, ...] = (
    EVERY_MOLD,
    SLIDES,
    A_FINISH,
    BUBBLERS,
    HOT_RUNNER,
    ACID_RESINS,
    SHORT_LIVED,
)

__all__ = [
    "FILLER_FACTORS",
    "RESIN_FACTORS",
    "STARTING_REASON",
    "STARTING_SETS",
    "MeasuredStart",
    "RuleStart",
    "SetStart",
    "StepStart",
    "factors_of",
]
