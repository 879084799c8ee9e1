"""What a rule asks, as entries say it: plain English that can be read in ten years."""

from moldcare.care.convert import rule_terms
from moldcare.care.models import RuleTermsModel
from moldcare.core import due
from moldcare.work.numbers import plain_decimal

_EVENTS = {
    RuleTermsModel.Event.END_OF_RUN: "at the end of a run",
    RuleTermsModel.Event.BEFORE_SET: "before the mold is set",
    RuleTermsModel.Event.INTO_STORAGE: "when it goes into storage",
    RuleTermsModel.Event.BACK_FROM_STORAGE: "when it comes back from storage",
    RuleTermsModel.Event.MOLD_OPENED: "whenever the mold was opened",
    RuleTermsModel.Event.EACH_SERVICE: "at each service",
    RuleTermsModel.Event.SET: "at each set",
}


def terms_words(rule: RuleTermsModel) -> str:
    """Return a rule's limits as an entry says them: every 10,000 shots or every 30 days."""
    terms = rule_terms(rule)
    limits = []
    if terms.count is not None:
        interval = due.interval_count(terms.count, factors=terms.factors)
        scaled = "" if interval == terms.count.n else f" ({terms.count.n:,} by its factors)"
        limits.append(f"every {interval:,} {terms.count.basis}{scaled}")
    if terms.calendar is not None:
        period = terms.calendar.period
        unit = f"{period.unit}" if period.n == 1 else f"{period.n} {period.unit}s"
        anchor = f" from {terms.calendar.anchor_on}" if terms.calendar.anchor_on else ""
        limits.append(f"every {unit}{anchor}")
    if terms.running is not None:
        hours = round(due.interval_h(terms.running, factors=terms.factors))
        limits.append(f"every {hours:,} running hours")
    if rule.event:
        limits.append(_EVENTS[RuleTermsModel.Event(rule.event)])
    if rule.measured_limit is not None:
        limit = plain_decimal(rule.measured_limit)
        limits += [
            f"{measured.quantity} at {limit} {rule.measured_unit}".strip()
            for measured in terms.measured
        ]
    return " or ".join(limits)
