"""Care rules, what was done under them, and where every rule stands."""

from moldcare.care.models.done import Completion, Deferral, TakenBack
from moldcare.care.models.families import LEAST_FACTOR, Family, Grade, Reach, WhereDone
from moldcare.care.models.rules import (
    CareRule,
    CareRuleTarget,
    Cover,
    RuleVersion,
    Step,
    StepKind,
)
from moldcare.care.models.sets import Equipment, RuleSet, SetRule, TakenSet
from moldcare.care.models.standing import Board, Standing
from moldcare.care.models.terms import (
    RuleTermsBasis,
    RuleTermsCalendarCounts,
    RuleTermsEvent,
    RuleTermsModel,
    RuleTermsPeriodUnit,
    terms_constraints,
)

__all__ = [
    "LEAST_FACTOR",
    "Board",
    "CareRule",
    "CareRuleTarget",
    "Completion",
    "Cover",
    "Deferral",
    "Equipment",
    "Family",
    "Grade",
    "Reach",
    "RuleSet",
    "RuleTermsBasis",
    "RuleTermsCalendarCounts",
    "RuleTermsEvent",
    "RuleTermsModel",
    "RuleTermsPeriodUnit",
    "RuleVersion",
    "SetRule",
    "Standing",
    "Step",
    "StepKind",
    "TakenBack",
    "TakenSet",
    "WhereDone",
    "terms_constraints",
]
