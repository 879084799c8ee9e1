"""Taking rule sets: what a mold has adjusted is never overwritten, a change only offered."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing, once
from moldcare.acts.errors import DoesNotFit, Incomplete
from moldcare.acts.locks import lock_mold
from moldcare.acts.refresh import refresh_care
from moldcare.acts.rights import Right, require
from moldcare.acts.rules.covering import put_covers
from moldcare.acts.rules.many import save_new_copies
from moldcare.acts.rules.set_plan import OPEN, WRITES, Becomes, SetOnMold, plan_set
from moldcare.acts.rules.set_writing import set_now
from moldcare.acts.rules.subjects import chain_of, lock_molds
from moldcare.acts.rules.writing import save_changed
from moldcare.acts.words import reason_given, sentence_end, tidy
from moldcare.care.convert import TERM_FIELDS
from moldcare.care.models import CareRule, RuleSet, TakenSet
from moldcare.logbook.append import append_entry
from moldcare.molds.models import Mold

#: So many molds take a set at once: more would keep others waiting.
MOST_MOLDS = 200
#: What somebody may take over or leave aside.
_OFFERED = (*WRITES, *OPEN)


@dataclass(frozen=True, kw_only=True, slots=True)
class RulesCopied:
    """Names of the rules that were written, brought up to date, left alone, and left out.

    Left alone are those that the mold has adjusted or has written itself under the same name, those
    that an open order was begun with, and those whose change was not wanted; left out those that it
    withdrew, or that were not wanted. Refused are those whose limits contradict each other there,
    with what does.
    """

    written: list[str] = field(default_factory=list)
    updated: list[str] = field(default_factory=list)
    left_alone: list[str] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)


@dataclass(frozen=True, kw_only=True, slots=True)
class SetApplied:
    """A set was taken for molds: how many molds, and rules written, changed and left alone."""

    molds: int
    written: int
    updated: int
    left_alone: int
    refused: list[str]


@dataclass(frozen=True, kw_only=True, slots=True)
class ChangeLeft:
    """A change of a set was left aside on so many molds."""

    molds: int


def copy_rule_set(
    doing: Doing,
    *,
    mold: Mold,
    rule_set: RuleSet,
    without: Collection[int] | None = None,
    reason: str = "",
) -> RulesCopied:
    """Give a mold the rules of a set, with the factors of its resin and filler.

    `without` are keys of set rules that it is not to have; where it is None, what the mold left
    out when it took the set stays out. To copy twice copies once: a rule that is there and as the
    set has it stays as it is; one that the set has changed since is brought up to date unless
    somebody has adjusted it on this mold, or it is named in `without`. `reason` is why that is
    taken over.

    Raises
    ------
    DoesNotFit
        If the set has no rules.
    NotFound
        If the set was withdrawn.
    Incomplete
        If a rule that is there changes and there is no reason.
    """
    require(doing.person, Right.EDIT_RULES)
    unwanted = None if without is None else sorted(set(without))

    def do() -> dict[str, Any]:
        held = lock_mold(mold)
        current = _current(rule_set)
        (plan,) = plan_set(current, molds=[held], at=doing.now, without=unwanted)
        (copied,) = _carry_out(doing, [plan], reason=_why([plan], reason=reason))
        _remember(doing, [plan], rule_set=current)
        refresh_care(molds=[held.pk])
        return {name: getattr(copied, name) for name in RulesCopied.__dataclass_fields__}

    body = {"mold": mold, "rule_set": rule_set, "without": unwanted, "reason": reason}
    return RulesCopied(**once(doing, "copy_rule_set", body, do))


def apply_rule_set(
    doing: Doing,
    *,
    rule_set: RuleSet,
    molds: Iterable[int],
    unwanted: Collection[int] = (),
    reason: str = "",
) -> SetApplied:
    """Take a set for many molds in one go, each as `copy_rule_set` would.

    What a mold left out when it took the set stays out; `unwanted` are left out besides.

    Raises
    ------
    DoesNotFit
        If the set has no rules.
    Incomplete
        If no mold or too many are named, or rules change and there is no reason.
    NotFound
        If one of the molds, or the set, was withdrawn.
    """
    require(doing.person, Right.EDIT_RULES)
    keys, left_out = sorted(set(molds)), sorted(set(unwanted))

    def do() -> dict[str, Any]:
        _check_number(keys)
        held = lock_molds(keys)
        current = _current(rule_set)
        plans = plan_set(current, molds=held, at=doing.now, unwanted=left_out)
        copied = _carry_out(doing, plans, reason=_why(plans, reason=reason))
        _remember(doing, plans, rule_set=current)
        refresh_care(molds=keys)
        return {
            "molds": len(keys),
            "written": sum(len(each.written) for each in copied),
            "updated": sum(len(each.updated) for each in copied),
            "left_alone": sum(len(each.left_alone) for each in copied),
            "refused": [
                f"{plan.mold.number}: {line}"
                for plan, each in zip(plans, copied, strict=True)
                for line in each.refused
            ],
        }

    body = {"rule_set": rule_set, "molds": keys, "unwanted": left_out, "reason": reason}
    return SetApplied(**once(doing, "apply_rule_set", body, do))


def leave_set_change(
    doing: Doing, *, rule_set: RuleSet, molds: Iterable[int], reason: str
) -> ChangeLeft:
    """Leave what changed in a set aside on molds, and out what is new in it.

    A rule that changes once more is offered again.

    Raises
    ------
    Incomplete
        If no mold is named, or there is no reason.
    NotFound
        If one of the molds, or the set, was withdrawn.
    """
    require(doing.person, Right.EDIT_RULES)
    keys = sorted(set(molds))

    def do() -> dict[str, Any]:
        _check_number(keys)
        words = reason_given(reason)
        held, current = lock_molds(keys), set_now(rule_set)
        left = [
            plan
            for plan in plan_set(current, molds=held, at=doing.now)
            if plan.taken is not None and plan.taken.revision < current.revision
        ]
        for plan in left:
            names = [each.row.name for each in plan.of(*_OFFERED)]
            append_entry(
                chain_of(plan.mold),
                kind="set_change_left",
                happened_at=doing.now,
                written_at=doing.now,
                author=doing.person,
                sentence=(
                    f"What changed in rule set “{current.name}” is left aside"
                    f"{_named(names)}; the rules of the mold stay as they are. "
                    f"Reason: {sentence_end(words)}"
                ),
                facts={
                    "mold": plan.mold.number,
                    "rule_set": current.name,
                    "revision": current.revision,
                    "rules": names,
                    "reason": words,
                },
            )
            _leave(plan, revision=current.revision)
        return {"molds": len(left)}

    body = {"rule_set": rule_set, "molds": keys, "reason": reason}
    return ChangeLeft(**once(doing, "leave_set_change", body, do))


def _named(names: list[str]) -> str:
    return f": {', '.join(f'“{name}”' for name in names)}" if names else ""


def _leave(plan: SetOnMold, *, revision: int) -> None:
    """Keep that nothing of what a set offers a mold is wanted there."""
    taken = plan.taken
    if taken is None:
        return
    taken.revision = revision
    taken.without = [*taken.without, *(each.row.pk for each in plan.of(*_OFFERED) if not each.rule)]
    taken.left_aside = _aside(plan, kinds=(Becomes.LEFT_ASIDE, *_OFFERED))
    taken.save(update_fields=["revision", "without", "left_aside"])


def _aside(plan: SetOnMold, *, kinds: Iterable[Becomes]) -> dict[str, int]:
    """Return the rules of a mold whose last change in the set is not wanted there."""
    return {str(each.row.pk): each.row.changed_in for each in plan.of(*kinds) if each.rule}


def _check_number(keys: list[int]) -> None:
    if not keys:
        raise Incomplete(_("Tick the molds that it is for."))
    if len(keys) > MOST_MOLDS:
        raise Incomplete(
            _("At most %(most)s molds take a set at once; these are %(n)s. Narrow the list.")
            % {"most": MOST_MOLDS, "n": len(keys)}
        )


def _current(rule_set: RuleSet) -> RuleSet:
    """Return the set as it is now; its revision is read before its rules, never after."""
    current = set_now(rule_set)
    if not current.rules.filter(withdrawn_at__isnull=True).exists():
        raise DoesNotFit(
            _("Rule set “%(name)s” has no rules. Choose another.") % {"name": current.name}
        )
    return current


def _why(plans: list[SetOnMold], *, reason: str) -> str:
    """Return the reason; raise Incomplete where rules change and there is none."""
    if any(plan.of(Becomes.CHANGED) for plan in plans):
        return reason_given(reason)
    return tidy(reason)


def _carry_out(doing: Doing, plans: list[SetOnMold], *, reason: str) -> list[RulesCopied]:
    """Write what was planned for locked molds; return what became of the rules of each."""
    save_new_copies(doing, [(plan, each) for plan in plans for each in plan.of(Becomes.NEW)])
    for plan in plans:
        for each in plan.of(Becomes.CHANGED):
            if each.rule is not None:
                save_changed(
                    doing,
                    each.rule,
                    subject=plan.mold,
                    changes={name: getattr(each.wanted, name) for name in TERM_FIELDS},
                    reason=reason,
                    steps=each.steps,
                    covers=None,
                    is_adjusted=False,
                )
        _cover(plan.mold, made=[(each.wanted, each.row.covers) for each in plan.of(Becomes.NEW)])
    return [_copied(plan) for plan in plans]


def _copied(plan: SetOnMold) -> RulesCopied:
    def names(*kinds: Becomes) -> list[str]:
        return [each.row.name for each in plan.of(*kinds)]

    return RulesCopied(
        written=names(Becomes.NEW),
        updated=names(Becomes.CHANGED),
        left_alone=names(Becomes.ADJUSTED, Becomes.OWN, Becomes.BEGUN, Becomes.LEFT_ASIDE),
        left_out=names(Becomes.WITHDRAWN, Becomes.UNWANTED),
        refused=[f"{each.row.name}: {each.why}" for each in plan.of(Becomes.REFUSED)],
    )


def _remember(doing: Doing, plans: Iterable[SetOnMold], *, rule_set: RuleSet) -> None:
    """Keep what each mold took, and what it did not want; what stays open is offered again."""
    TakenSet.objects.bulk_create(
        [
            TakenSet(
                mold=plan.mold,
                rule_set=rule_set,
                revision=(plan.taken.revision if plan.taken else 0)
                if plan.of(*OPEN)
                else rule_set.revision,
                without=[each.row.pk for each in plan.of(Becomes.UNWANTED)],
                left_aside=_aside(plan, kinds=[Becomes.LEFT_ASIDE]),
                taken_at=doing.now,
            )
            for plan in plans
        ],
        update_conflicts=True,
        unique_fields=["mold", "rule_set"],
        update_fields=["revision", "without", "left_aside", "taken_at"],
    )


def _cover(mold: Mold, *, made: list[tuple[CareRule, list[str]]]) -> None:
    """Give the new copies the covers that the set names, among the rules that the mold has."""
    covering = [(rule, covers) for rule, covers in made if covers]
    if not covering:
        return
    there = {
        rule.name: rule.pk for rule in CareRule.objects.filter(mold=mold, withdrawn_at__isnull=True)
    }
    for rule, covers in covering:
        wanted = {there[name] for name in covers if name in there}
        if wanted:
            put_covers(rule, wanted)
