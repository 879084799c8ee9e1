"""Acts about care rules: writing them, changing, withdrawing, copying, deferring."""

from moldcare.acts.rules.covering import add_cover, remove_cover
from moldcare.acts.rules.last_done import declare_last_done
from moldcare.acts.rules.letting_run import RuleDeferred, defer_rule
from moldcare.acts.rules.set_plan import Becomes, RuleOnMold, SetOnMold, plan_set, values_on
from moldcare.acts.rules.set_rules import (
    SET_RULE_FIELDS,
    add_set_rule,
    change_set_rule,
    withdraw_set_rule,
)
from moldcare.acts.rules.set_writing import (
    SetWritten,
    add_rule_set,
    change_rule_set,
    changes_of,
    withdraw_rule_set,
)
from moldcare.acts.rules.sets import (
    MOST_MOLDS,
    ChangeLeft,
    RulesCopied,
    SetApplied,
    apply_rule_set,
    copy_rule_set,
    leave_set_change,
)
from moldcare.acts.rules.steps import NewStep
from moldcare.acts.rules.words import terms_words
from moldcare.acts.rules.writing import (
    RULE_FIELDS,
    RuleWritten,
    change_rule,
    set_steps,
    withdraw_rule,
    write_rule,
)

__all__ = [
    "MOST_MOLDS",
    "RULE_FIELDS",
    "SET_RULE_FIELDS",
    "Becomes",
    "ChangeLeft",
    "NewStep",
    "RuleDeferred",
    "RuleOnMold",
    "RuleWritten",
    "RulesCopied",
    "SetApplied",
    "SetOnMold",
    "SetWritten",
    "add_cover",
    "add_rule_set",
    "add_set_rule",
    "apply_rule_set",
    "change_rule",
    "change_rule_set",
    "change_set_rule",
    "changes_of",
    "copy_rule_set",
    "declare_last_done",
    "defer_rule",
    "leave_set_change",
    "plan_set",
    "remove_cover",
    "set_steps",
    "terms_words",
    "values_on",
    "withdraw_rule",
    "withdraw_rule_set",
    "withdraw_set_rule",
    "write_rule",
]
