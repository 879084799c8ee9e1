"""Rules of rule sets: adding one, changing it, taking it out; the set gets a new revision."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.answers import answer_of
from moldcare.acts.doing import Doing, checked, once
from moldcare.acts.entries import plant_entry
from moldcare.acts.errors import DoesNotFit, NotFound
from moldcare.acts.locks import lock_chain
from moldcare.acts.records import change_words, fill
from moldcare.acts.rights import Right, require
from moldcare.acts.rules.set_writing import SetWritten, set_now
from moldcare.acts.rules.steps import NewStep, check_steps, step_facts, tidied
from moldcare.acts.rules.words import terms_words
from moldcare.acts.rules.writing import CALLED, plain
from moldcare.acts.words import reason_given, sentence_end
from moldcare.care.convert import TERM_FIELDS, rule_terms, terms_snapshot
from moldcare.care.models import RuleSet, SetRule
from moldcare.core.due import check_covers, check_terms
from moldcare.logbook.append import plant_chain
from moldcare.molds.models import name_key

SET_RULE_FIELDS = (*TERM_FIELDS, "by_resin", "by_filler")


def add_set_rule(
    doing: Doing,
    *,
    rule_set: RuleSet,
    terms: Mapping[str, Any],
    reason: str,
    steps: Sequence[NewStep] = (),
    covers: Iterable[str] = (),
) -> SetWritten:
    """Add a rule to a set; `terms` are fields of SET_RULE_FIELDS, `covers` names of its rules.

    Molds that took the set do not get the rule by that: it is offered to them.

    Raises
    ------
    CoversInCircle, Incomplete, TermsContradict
        As `write_rule` does.
    DoesNotFit
        If the set has a rule with this name already.
    NotFound
        If the set is not there.
    """
    require(doing.person, Right.EDIT_RULES)
    wanted = sorted(set(covers))

    def do() -> dict[str, Any]:
        lock_chain(plant_chain())
        of = _next_revision(rule_set)
        row = SetRule(rule_set=of, changed_in=of.revision)
        fill(row, values=terms, allowed=SET_RULE_FIELDS)
        row.reason = reason_given(reason)
        found = tidied(steps)
        check_steps(found)
        row.steps, row.covers = step_facts(found), wanted
        _check_rule(row)
        row.save()
        of.save(update_fields=["revision"])
        entry = plant_entry(
            doing,
            kind="set_rule_added",
            sentence=(
                f"“{row.name}” added to rule set “{of.name}”: {terms_words(row)}. "
                f"Reason: {sentence_end(row.reason)}"
            ),
            facts={**_named(row), **_snapshot(row), "reason": row.reason},
        )
        return answer_of(row, entry=entry, revision=of.revision)

    body = {
        "rule_set": rule_set,
        "terms": terms,
        "reason": reason,
        "steps": step_facts(steps),
        "covers": wanted,
    }
    return SetWritten.read(once(doing, "add_set_rule", body, do))


def change_set_rule(
    doing: Doing,
    *,
    row: SetRule,
    changes: Mapping[str, Any],
    reason: str,
    steps: Sequence[NewStep] | None = None,
    covers: Iterable[str] | None = None,
) -> SetWritten:
    """Change a rule of a set, with the reason; molds that took the set are only offered it.

    Where only the reason is another one, somebody checked the rule and it stays: its reason is
    kept, and nothing is offered.

    Raises
    ------
    CoversInCircle, Incomplete, TermsContradict
        As `write_rule` does.
    DoesNotFit
        If nothing is different, or the set has a rule with the new name already.
    NotFound
        If it was withdrawn from the set.
    """
    require(doing.person, Right.EDIT_RULES)
    wanted = None if covers is None else sorted(set(covers))

    def do() -> dict[str, Any]:
        lock_chain(plant_chain())
        held, words = _rule_now(row), reason_given(reason)
        old_name = held.name
        before, after = _changed(held, changes=changes, steps=steps, covers=wanted)
        if not after:
            return _confirm(doing, held, reason=words)
        of = _next_revision(held.rule_set)
        held.reason, held.changed_in = words, of.revision
        _check_rule(held)
        held.save()
        if held.name != old_name:
            _rename_in_covers(held, old=old_name)
        of.save(update_fields=["revision"])
        said = change_words(before, after=after, of=held, called=CALLED)
        entry = plant_entry(
            doing,
            kind="set_rule_changed",
            sentence=(
                f"“{held.name}” of rule set “{of.name}” changed: {said}. "
                f"It now asks {terms_words(held)}. Reason: {sentence_end(words)}"
            ),
            facts={
                **_named(held),
                "before": before,
                "after": after,
                "steps": held.steps if "steps" in after else None,
                "reason": words,
            },
        )
        return answer_of(held, entry=entry, revision=of.revision)

    body = {
        "row": row,
        "changes": changes,
        "reason": reason,
        "steps": None if steps is None else step_facts(steps),
        "covers": wanted,
    }
    return SetWritten.read(once(doing, "change_set_rule", body, do))


def _confirm(doing: Doing, row: SetRule, *, reason: str) -> dict[str, Any]:
    """Keep why a rule of a set stays as it is."""
    if reason == row.reason:
        raise DoesNotFit(_("Nothing is different from what is there; nothing was written."))
    row.reason = reason
    checked(row, exclude=("rule_set", "family", "steps", "covers"))
    row.save(update_fields=["reason"])
    entry = plant_entry(
        doing,
        kind="set_rule_changed",
        sentence=(
            f"“{row.name}” of rule set “{row.rule_set.name}” stays as it is: {terms_words(row)}. "
            f"Reason: {sentence_end(reason)}"
        ),
        facts={**_named(row), "before": {}, "after": {}, "reason": reason},
    )
    return answer_of(row, entry=entry, revision=row.rule_set.revision)


def withdraw_set_rule(doing: Doing, *, row: SetRule, reason: str) -> SetWritten:
    """Take a rule out of a set; molds that have it keep it until somebody withdraws it there.

    Raises
    ------
    Incomplete
        If there is no reason.
    NotFound
        If it was withdrawn already.
    """
    require(doing.person, Right.EDIT_RULES)

    def do() -> dict[str, Any]:
        lock_chain(plant_chain())
        held, words = _rule_now(row), reason_given(reason)
        of = _next_revision(held.rule_set)
        held.withdrawn_at, held.changed_in = doing.now, of.revision
        held.save(update_fields=["withdrawn_at", "changed_in"])
        of.save(update_fields=["revision"])
        entry = plant_entry(
            doing,
            kind="set_rule_withdrawn",
            sentence=(
                f"“{held.name}” taken out of rule set “{of.name}”. Reason: {sentence_end(words)}"
            ),
            facts={**_named(held), "reason": words},
        )
        return answer_of(held, entry=entry, revision=of.revision)

    return SetWritten.read(once(doing, "withdraw_set_rule", {"row": row, "reason": reason}, do))


def _next_revision(rule_set: RuleSet) -> RuleSet:
    """Return the set as it is now with its next revision, not saved."""
    found = set_now(rule_set)
    found.revision += 1
    return found


def _rule_now(row: SetRule) -> SetRule:
    found = SetRule.objects.select_related("family", "rule_set").filter(pk=row.pk).first()
    if found is None or found.withdrawn_at is not None:
        raise NotFound(_("This rule was taken out of the set meanwhile; nothing was written."))
    set_now(found.rule_set)
    return found


def _changed(
    row: SetRule,
    *,
    changes: Mapping[str, Any],
    steps: Sequence[NewStep] | None,
    covers: list[str] | None,
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Put changes on a rule of a set; return what differed, before and after."""
    old = {name: getattr(row, name) for name in changes if name in SET_RULE_FIELDS}
    fill(row, values=changes, allowed=SET_RULE_FIELDS)
    new = {name: getattr(row, name) for name in changes}
    before = {name: plain(value) for name, value in old.items() if new[name] != value}
    after = {name: plain(new[name]) for name in before}
    if steps is not None:
        found = tidied(steps)
        check_steps(found)
        was = step_facts([NewStep.kept(step) for step in row.steps])
        if step_facts(found) != was:
            before["steps"], after["steps"] = len(was), len(found)
            row.steps = step_facts(found)
    if covers is not None and sorted(row.covers) != covers:
        before["covers"], after["covers"] = ", ".join(sorted(row.covers)), ", ".join(covers)
        row.covers = covers
    return before, after


def _check_rule(row: SetRule) -> None:
    """Raise unless a rule of a set can stand: its fields, its limits, its name, its covers."""
    checked(row, exclude=("rule_set", "family", "steps", "covers"))
    check_terms(rule_terms(row))
    others = list(
        SetRule.objects.filter(rule_set=row.rule_set, withdrawn_at__isnull=True).exclude(pk=row.pk)
    )
    if name_key(row.name) in {name_key(other.name) for other in others}:
        raise DoesNotFit(
            _("The set has a rule “%(name)s” already. Change that one.") % {"name": row.name}
        )
    strange = set(row.covers) - {other.name for other in others}
    if strange:
        raise DoesNotFit(_("A rule restarts rules of the same set only. Open the page again."))
    check_covers({each.name: list(each.covers) for each in [*others, row]})


def _rename_in_covers(row: SetRule, *, old: str) -> None:
    for other in SetRule.objects.filter(rule_set=row.rule_set, withdrawn_at__isnull=True):
        if old in other.covers:
            other.covers = [row.name if name == old else name for name in other.covers]
            other.save(update_fields=["covers"])


def _named(row: SetRule) -> dict[str, Any]:
    return {
        "rule_set": row.rule_set_id,
        "set_name": row.rule_set.name,
        "rule": row.pk,
        "name": row.name,
    }


def _snapshot(row: SetRule) -> dict[str, Any]:
    return {
        "terms": terms_snapshot(row),
        "steps": row.steps,
        "covers": row.covers,
        "by_resin": row.by_resin,
        "by_filler": row.by_filler,
    }
