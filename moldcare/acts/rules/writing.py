"""Writing a care rule, changing it, and withdrawing it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.db import models
from django.utils.translation import gettext as _

from moldcare.acts.answers import Written, answer_of
from moldcare.acts.doing import Doing, checked, once
from moldcare.acts.errors import DoesNotFit, Incomplete
from moldcare.acts.records import change_words, fact_value, fill
from moldcare.acts.rights import Right, require
from moldcare.acts.rules.covering import put_covers
from moldcare.acts.rules.kept import all_terms, written_facts, written_sentence
from moldcare.acts.rules.steps import NewStep, step_facts, steps_of, tidied, write_steps
from moldcare.acts.rules.subjects import chain_of, lock_rule, lock_subject, named, refresh
from moldcare.acts.rules.words import terms_words
from moldcare.acts.words import reason_given, sentence_end
from moldcare.care.convert import TERM_FIELDS, rule_terms
from moldcare.care.models import CareRule, Cover, RuleVersion
from moldcare.core.due import check_terms
from moldcare.logbook.append import append_entry
from moldcare.logbook.models import Entry
from moldcare.molds.models import Auxiliary, Circuit, Mold, Position, name_key
from moldcare.work.models import OrderTask
from moldcare.work.numbers import plain_decimal

RULE_FIELDS = (*TERM_FIELDS, "changes_component")
# terms whose forms name them by what stands beside them
CALLED = {
    "count_base": "count",
    "period_n": "number of periods",
    "hours_limit": "running hours",
    "measured_limit": "limit of what is measured",
    "measured_unit": "unit of what is measured",
    "reason": "why this interval",
}


@dataclass(frozen=True, kw_only=True, slots=True)
class RuleWritten(Written):
    """A rule was written or changed; `row_id` is the rule's, `version_id` what it says now."""

    version_id: int


def write_rule(
    doing: Doing,
    *,
    of: Mold | Auxiliary,
    terms: Mapping[str, Any],
    reason: str,
    target: str = CareRule.Target.MOLD,
    position: Position | None = None,
    circuit: Circuit | None = None,
    steps: Sequence[NewStep] = (),
    covers: Iterable[int] = (),
) -> RuleWritten:
    """Write a care rule of a mold or an auxiliary; `terms` are fields of RULE_FIELDS.

    `covers` are the keys of the rules of the same mold that it restarts when it is done.

    Raises
    ------
    CoversInCircle
        If it would restart itself.
    DoesNotFit
        If there is a rule with this name for the same target already.
    Incomplete
        If a field cannot stand, or there is no reason.
    TermsContradict
        If its limits contradict each other or can never be reached.
    """
    require(doing.person, Right.EDIT_RULES)
    wanted = sorted(set(covers))

    def do() -> dict[str, Any]:
        subject = lock_subject(of)
        rule = new_rule(subject, at=doing.now, target=target, position=position, circuit=circuit)
        fill(rule, values=terms, allowed=RULE_FIELDS)
        rule.reason = reason_given(reason)
        found = tidied(steps)
        version = save_new(doing, rule, subject=subject, steps=found, covers=wanted)
        refresh(subject)
        return answer_of(rule, entry=version.entry, version_id=version.pk)

    body = {
        "of": of,
        "kind": type(of).__name__,
        "terms": terms,
        "reason": reason,
        "target": target,
        "position": position,
        "circuit": circuit,
        "steps": step_facts(steps),
        "covers": wanted,
    }
    return RuleWritten.read(once(doing, "write_rule", body, do))


def new_rule(
    subject: Mold | Auxiliary,
    *,
    at: Any,
    target: str = CareRule.Target.MOLD,
    position: Position | None = None,
    circuit: Circuit | None = None,
) -> CareRule:
    """Return a rule of a subject with nothing in it, not saved."""
    is_mold = isinstance(subject, Mold)
    return CareRule(
        mold=subject if isinstance(subject, Mold) else None,
        auxiliary=subject if isinstance(subject, Auxiliary) else None,
        target=target if is_mold else CareRule.Target.AUXILIARY,
        position=position,
        circuit=circuit,
        entered_at=at,
    )


def save_new(
    doing: Doing,
    rule: CareRule,
    *,
    subject: Mold | Auxiliary,
    steps: Sequence[NewStep],
    covers: Iterable[int],
) -> RuleVersion:
    """Check and save a new rule with steps and covers; return its first version with the entry."""
    check_rule(rule, subject=subject)
    rule.save()
    write_steps(rule, steps)
    _before, covered = put_covers(rule, covers)
    entry = append_entry(
        chain_of(subject),
        kind="rule_written",
        happened_at=doing.now,
        written_at=doing.now,
        author=doing.person,
        sentence=written_sentence(rule, asks=terms_words(rule)),
        facts=written_facts(rule, subject=subject, steps=step_facts(steps), covers=covered),
    )
    return _version(doing, rule, steps=steps, covers=covered, reason=rule.reason, entry=entry)


def change_rule(
    doing: Doing,
    *,
    rule: CareRule,
    changes: Mapping[str, Any],
    reason: str,
    steps: Sequence[NewStep] | None = None,
    covers: Iterable[int] | None = None,
) -> RuleWritten:
    """Change a rule; what it said before stays as a version, with the reason for the new one.

    `steps` and `covers`, where given, are all of them. A rule that came from a rule set is the
    mold's own from then on: copying the set again leaves it alone.

    Raises
    ------
    CoversInCircle, Incomplete, TermsContradict
        As `write_rule` does.
    DoesNotFit
        If nothing is different, or an order was begun with the steps that would change.
    NotFound
        If it was withdrawn.
    """
    require(doing.person, Right.EDIT_RULES)
    wanted = None if covers is None else sorted(set(covers))

    def do() -> dict[str, Any]:
        held, subject = lock_rule(rule)
        words = reason_given(reason)
        version = save_changed(
            doing,
            held,
            subject=subject,
            changes=changes,
            reason=words,
            steps=None if steps is None else tidied(steps),
            covers=wanted,
            is_adjusted=True,
        )
        if version is None:
            raise DoesNotFit(_("Nothing is different from what is there; nothing was written."))
        refresh(subject)
        return answer_of(held, entry=version.entry, version_id=version.pk)

    body = {
        "rule": rule,
        "changes": changes,
        "reason": reason,
        "steps": None if steps is None else step_facts(steps),
        "covers": wanted,
    }
    return RuleWritten.read(once(doing, "change_rule", body, do))


def set_steps(
    doing: Doing, *, rule: CareRule, steps: Sequence[NewStep], reason: str
) -> RuleWritten:
    """Put steps in the place of a rule's steps; a change of the rule like any other."""
    return change_rule(doing, rule=rule, changes={}, steps=steps, reason=reason)


def save_changed(
    doing: Doing,
    rule: CareRule,
    *,
    subject: Mold | Auxiliary,
    changes: Mapping[str, Any],
    reason: str,
    steps: Sequence[NewStep] | None,
    covers: Iterable[int] | None,
    is_adjusted: bool,
) -> RuleVersion | None:
    """Change a locked rule and return its new version, None where nothing is different."""
    old = {name: getattr(rule, name) for name in changes if name in RULE_FIELDS}
    fill(rule, values=changes, allowed=RULE_FIELDS)
    rule.reason = reason
    check_rule(rule, subject=subject)
    new = {name: getattr(rule, name) for name in changes}
    before = {name: plain(value) for name, value in old.items() if new[name] != value}
    after = {name: plain(new[name]) for name in before}
    old_steps = steps_of(rule)
    now_steps = old_steps if steps is None else list(steps)
    if step_facts(now_steps) != step_facts(old_steps):
        write_steps(rule, now_steps)
        before["steps"], after["steps"] = len(old_steps), len(now_steps)
    covered = _covered_names(rule)
    if covers is not None:
        was, covered = put_covers(rule, covers)
        if was != covered:
            before["covers"], after["covers"] = ", ".join(was), ", ".join(covered)
    if not after:
        return None
    rule.is_adjusted = rule.is_adjusted or is_adjusted
    rule.save()
    entry = append_entry(
        chain_of(subject),
        kind="rule_changed",
        happened_at=doing.now,
        written_at=doing.now,
        author=doing.person,
        sentence=(
            f"Care rule “{rule.name}” changed: "
            f"{change_words(before, after=after, of=rule, called=CALLED)}. "
            f"It now asks {terms_words(rule)}. Reason: {sentence_end(reason)}"
        ),
        facts={
            **named(subject),
            "rule": rule.pk,
            "name": rule.name,
            "before": before,
            "after": after,
            "steps": step_facts(now_steps) if "steps" in after else None,
            "reason": reason,
        },
    )
    return _version(doing, rule, steps=now_steps, covers=covered, reason=reason, entry=entry)


def withdraw_rule(doing: Doing, *, rule: CareRule, reason: str) -> Written:
    """Withdraw a rule: it falls due no more; what was done under it stays.

    Raises
    ------
    DoesNotFit
        If an order that is not signed asks for it.
    Incomplete
        If there is no reason.
    """
    require(doing.person, Right.EDIT_RULES)

    def do() -> dict[str, Any]:
        held, subject = lock_rule(rule)
        words = reason_given(reason)
        task = (
            OrderTask.objects.filter(
                rule=held, order__signed_at__isnull=True, order__struck_out_at__isnull=True
            )
            .select_related("order")
            .first()
        )
        if task is not None:
            raise DoesNotFit(
                _("Order %(number)s asks for this rule. Sign it, or take the task out first.")
                % {"number": task.order.number}
            )
        held.withdrawn_at = doing.now
        held.save(update_fields=["withdrawn_at"])
        entry = append_entry(
            chain_of(subject),
            kind="rule_withdrawn",
            happened_at=doing.now,
            written_at=doing.now,
            author=doing.person,
            sentence=f"Care rule “{held.name}” withdrawn. Reason: {sentence_end(words)}",
            facts={**named(subject), "rule": held.pk, "name": held.name, "reason": words},
        )
        refresh(subject)
        return answer_of(held, entry=entry)

    return Written.read(once(doing, "withdraw_rule", {"rule": rule, "reason": reason}, do))


def check_rule(rule: CareRule, *, subject: Mold | Auxiliary) -> None:
    """Raise unless a rule can stand: its fields, its limits, its target, its name."""
    check_fields(rule)
    _check_target(rule)
    for part in (rule.position, rule.circuit):
        if part is not None and part.mold_id != subject.pk:
            raise DoesNotFit(_("%(part)s belongs to another mold.") % {"part": part})
    same = CareRule.objects.filter(
        mold=rule.mold_id,
        auxiliary=rule.auxiliary_id,
        target=rule.target,
        position=rule.position_id,
        circuit=rule.circuit_id,
        withdrawn_at__isnull=True,
    ).exclude(pk=rule.pk)
    if name_key(rule.name) in {name_key(name) for name in same.values_list("name", flat=True)}:
        raise DoesNotFit(
            _("There is a rule “%(name)s” for the same target already. Change that one.")
            % {"name": rule.name}
        )


def check_fields(rule: CareRule) -> None:
    """Raise unless a rule can stand by itself: its fields and its limits."""
    checked(
        rule,
        exclude=tuple(field.name for field in rule._meta.fields if field.is_relation),
    )
    check_terms(rule_terms(rule))


def _check_target(rule: CareRule) -> None:
    """Raise Incomplete unless a rule names exactly what its target asks for."""
    wants = {CareRule.Target.POSITION: "position", CareRule.Target.CIRCUIT: "circuit"}.get(
        CareRule.Target(rule.target), ""
    )
    for name, part in (("position", rule.position), ("circuit", rule.circuit)):
        if (name == wants) != (part is not None):
            raise Incomplete(
                _("Choose which position or circuit the rule looks after.")
                if name == wants
                else _("A rule looks after one thing: take the position or circuit away.")
            )


def plain(value: Any) -> Any:
    """Return a field's value as a fact."""
    if isinstance(value, models.Model):
        return str(value)
    if isinstance(value, Decimal):
        return plain_decimal(value)
    if isinstance(value, date):
        return str(value)
    return fact_value(value)


def _covered_names(rule: CareRule) -> list[str]:
    covers = Cover.objects.filter(covering=rule, covered__withdrawn_at__isnull=True)
    return sorted(covers.values_list("covered__name", flat=True))


def _version(
    doing: Doing,
    rule: CareRule,
    *,
    steps: Sequence[NewStep],
    covers: list[str],
    reason: str,
    entry: Entry,
) -> RuleVersion:
    return RuleVersion.objects.create(
        rule=rule,
        terms=all_terms(rule, steps=steps, covers=covers),
        reason=reason,
        person=doing.person,
        entry=entry,
        written_at=doing.now,
    )
