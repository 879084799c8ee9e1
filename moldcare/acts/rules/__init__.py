"""Acts about care rules: writing them, changing, withdrawing, copying, deferring."""

from moldcare.acts.rules.covering import add_cover, remove_cover
from moldcare.acts.rules.last_done import declare_last_done
from moldcare.acts.rules.letting_run import RuleDeferred, defer_rule
from moldcare.acts.rules.sets import RulesCopied, copy_rule_set
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
    "RULE_FIELDS",
    "NewStep",
    "RuleDeferred",
    "RuleWritten",
    "RulesCopied",
    "add_cover",
    "change_rule",
    "copy_rule_set",
    "declare_last_done",
    "defer_rule",
    "remove_cover",
    "set_steps",
    "terms_words",
    "withdraw_rule",
    "write_rule",
]
