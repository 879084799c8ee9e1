"""What entries and versions keep of a rule."""

from collections.abc import Sequence
from typing import Any

from moldcare.acts.rules.steps import NewStep, step_facts
from moldcare.acts.rules.subjects import named
from moldcare.acts.words import sentence_end
from moldcare.care.convert import terms_snapshot
from moldcare.care.models import CareRule
from moldcare.molds.models import Auxiliary, Mold


def written_sentence(rule: CareRule, *, asks: str) -> str:
    """Return what the entry of a new rule says."""
    return f"Care rule “{rule.name}” written: {asks}. Reason: {sentence_end(rule.reason)}"


def written_facts(
    rule: CareRule, *, subject: Mold | Auxiliary, steps: list[dict[str, Any]], covers: list[str]
) -> dict[str, Any]:
    """Return the facts of the entry of a new rule."""
    return {
        **named(subject),
        "rule": rule.pk,
        "terms": terms_snapshot(rule),
        "target": _target_fact(rule),
        "steps": steps,
        "covers": covers,
        "reason": rule.reason,
    }


def all_terms(rule: CareRule, *, steps: Sequence[NewStep], covers: list[str]) -> dict[str, Any]:
    """Return all that a rule says, as a version keeps it."""
    return {
        **terms_snapshot(rule),
        "steps": step_facts(steps),
        "covers": covers,
        "changes_component": rule.changes_component,
    }


def _target_fact(rule: CareRule) -> dict[str, str]:
    fact = {"kind": str(rule.target)}
    if rule.position is not None:
        fact["position"] = rule.position.ident
    if rule.circuit is not None:
        fact["circuit"] = rule.circuit.ident
    return fact
