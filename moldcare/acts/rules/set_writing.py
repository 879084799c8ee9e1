"""Rule sets: adding one, copying one, saying for which molds it is, withdrawing it.

Every change of a set or of a rule in it is an entry of the plant's logbook, with the reason. A
change of a rule gives the set a new revision: molds that took it before are not touched, the change
is offered to them.
"""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.answers import Written, answer_of
from moldcare.acts.doing import Doing, checked, once
from moldcare.acts.entries import plant_entry
from moldcare.acts.errors import DoesNotFit, Incomplete, NotFound
from moldcare.acts.locks import lock_chain, save_once
from moldcare.acts.records import change_words
from moldcare.acts.rights import Right, require
from moldcare.acts.words import reason_given, sentence_end, tidy
from moldcare.care.meant_for import MeantFor, unknown_grades
from moldcare.care.models import RuleSet, SetRule
from moldcare.logbook.append import plant_chain
from moldcare.logbook.models import Chain, Entry
from moldcare.molds.models import Filler, MoldClass, ResinGroup, name_key

SET_ENTRIES = (
    "rule_set_added",
    "rule_set_changed",
    "rule_set_withdrawn",
    "set_rule_added",
    "set_rule_changed",
    "set_rule_withdrawn",
)
#: Where changes of one set are looked for: among so many newest changes of all sets.
LOOKED_THROUGH = 400
_CALLED_OF_SET = {"note": "note", "equipment": "molds that have"}
_KNOWN = {"mold_classes": MoldClass, "resin_groups": ResinGroup, "fillers": Filler}


@dataclass(frozen=True, kw_only=True, slots=True)
class SetWritten(Written):
    """A rule set, or a rule of one, was written; `revision` is the set's from now on."""

    revision: int


def add_rule_set(
    doing: Doing,
    *,
    name: str,
    note: str = "",
    meant_for: MeantFor | None = None,
    copied_from: RuleSet | None = None,
    reason: str,
) -> SetWritten:
    """Add a rule set of the plant's own, empty or with the rules of another one.

    Raises
    ------
    DoesNotFit
        If there is a set with this name already.
    Incomplete
        If there is no name or no reason, or a grade is none.
    """
    require(doing.person, Right.EDIT_RULES)
    meant = meant_for or MeantFor()

    def do() -> dict[str, Any]:
        lock_chain(plant_chain())
        words = reason_given(reason)
        row = RuleSet(name=tidy(name), note=tidy(note), **_lists(meant))
        _check_set(row)
        save_once(row)
        copied = [] if copied_from is None else _copy_rules(copied_from, to=row)
        source = f", a copy of “{copied_from.name}”," if copied_from is not None else ""
        entry = plant_entry(
            doing,
            kind="rule_set_added",
            sentence=(
                f"Rule set “{row.name}”{source} added with {_number(len(copied))}. "
                f"Reason: {sentence_end(words)}"
            ),
            facts={
                "rule_set": row.pk,
                "name": row.name,
                "meant_for": _lists(meant),
                "copied_from": copied_from.name if copied_from is not None else None,
                "rules": copied,
                "reason": words,
            },
        )
        return answer_of(row, entry=entry, revision=row.revision)

    body = {
        "name": name,
        "note": note,
        "meant_for": _lists(meant),
        "copied_from": copied_from,
        "reason": reason,
    }
    return SetWritten.read(once(doing, "add_rule_set", body, do))


def _number(rules: int) -> str:
    return "no rule yet" if not rules else "1 rule" if rules == 1 else f"{rules} rules"


def _lists(meant: MeantFor) -> dict[str, Any]:
    return {
        name: list(value) if isinstance(value, tuple) else value
        for name, value in asdict(meant).items()
    }


def _copy_rules(source: RuleSet, *, to: RuleSet) -> list[str]:
    rows = SetRule.objects.filter(rule_set=source, withdrawn_at__isnull=True).order_by("id")
    names = []
    for row in rows:
        row.pk, row.rule_set, row.changed_in = None, to, to.revision
        row._state.adding = True
        row.save()
        names.append(row.name)
    return names


def change_rule_set(
    doing: Doing,
    *,
    rule_set: RuleSet,
    name: str,
    note: str,
    meant_for: MeantFor,
    reason: str,
) -> SetWritten:
    """Change a set's name, its note, or for which molds it is meant; its rules stay.

    Raises
    ------
    DoesNotFit
        If nothing is different, or another set has the name.
    Incomplete
        If there is no name or no reason, or a grade is none.
    NotFound
        If the set is not there.
    """
    require(doing.person, Right.EDIT_RULES)

    def do() -> dict[str, Any]:
        lock_chain(plant_chain())
        row, words = set_now(rule_set), reason_given(reason)
        wanted = {"name": tidy(name), "note": tidy(note), **_lists(meant_for)}
        before = {key: getattr(row, key) for key in wanted if getattr(row, key) != wanted[key]}
        if not before:
            raise DoesNotFit(_("Nothing is different from what is there; nothing was written."))
        for key in before:
            setattr(row, key, wanted[key])
        _check_set(row)
        save_once(row)
        after = {key: wanted[key] for key in before}
        said = change_words(_said(before), after=_said(after), of=row, called=_CALLED_OF_SET)
        entry = plant_entry(
            doing,
            kind="rule_set_changed",
            sentence=f"Rule set “{row.name}” changed: {said}. Reason: {sentence_end(words)}",
            facts={
                "rule_set": row.pk,
                "name": row.name,
                "before": before,
                "after": after,
                "reason": words,
            },
        )
        return answer_of(row, entry=entry, revision=row.revision)

    body = {
        "rule_set": rule_set,
        "name": name,
        "note": note,
        "meant_for": _lists(meant_for),
        "reason": reason,
    }
    return SetWritten.read(once(doing, "change_rule_set", body, do))


def withdraw_rule_set(doing: Doing, *, rule_set: RuleSet, reason: str) -> SetWritten:
    """Withdraw a set: it is proposed to no mold any more; molds keep the rules they took from it.

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
        row, words = set_now(rule_set), reason_given(reason)
        row.withdrawn_at = doing.now
        row.save(update_fields=["withdrawn_at"])
        entry = plant_entry(
            doing,
            kind="rule_set_withdrawn",
            sentence=(
                f"Rule set “{row.name}” withdrawn; molds keep the rules that they took from it. "
                f"Reason: {sentence_end(words)}"
            ),
            facts={"rule_set": row.pk, "name": row.name, "reason": words},
        )
        return answer_of(row, entry=entry, revision=row.revision)

    body = {"rule_set": rule_set, "reason": reason}
    return SetWritten.read(once(doing, "withdraw_rule_set", body, do))


def _said(values: Mapping[str, Any]) -> dict[str, Any]:
    return {
        key: ", ".join(value) if isinstance(value, list) else value for key, value in values.items()
    }


def _check_set(row: RuleSet) -> None:
    checked(row, exclude=("mold_classes", "resin_groups", "fillers", "finishes"))
    others = RuleSet.objects.filter(withdrawn_at__isnull=True).exclude(pk=row.pk)
    if name_key(row.name) in {name_key(name) for name in others.values_list("name", flat=True)}:
        raise DoesNotFit(
            _("There is a rule set “%(name)s” already. Give another name.") % {"name": row.name}
        )
    for field, choices in _KNOWN.items():
        strange = [value for value in getattr(row, field) if value not in choices.values]
        if strange:
            raise Incomplete(_("“%(what)s” cannot be chosen here.") % {"what": strange[0]})
    grades = unknown_grades(row.finishes)
    if grades:
        raise Incomplete(
            _("“%(grade)s” is no finish grade. Grades go from A-1 to D-3.") % {"grade": grades[0]}
        )


def set_now(rule_set: RuleSet) -> RuleSet:
    """Return the set as it is now; raise NotFound when it is not there, or was withdrawn."""
    found = RuleSet.objects.filter(pk=rule_set.pk).first()
    if found is None:
        raise NotFound(_("This rule set is not there any more; nothing was written."))
    if found.withdrawn_at is not None:
        raise NotFound(
            _("Rule set “%(name)s” was withdrawn; nothing was written.") % {"name": found.name}
        )
    return found


def changes_of(rule_set: RuleSet, *, most: int) -> list[Entry]:
    """Return the newest entries of the plant's logbook about a set."""
    entries = Entry.objects.filter(chain__kind=Chain.Kind.PLANT, kind__in=SET_ENTRIES)
    newest = entries.select_related("author").order_by("-number")[:LOOKED_THROUGH]
    about = [entry for entry in newest if json.loads(entry.facts).get("rule_set") == rule_set.pk]
    return about[:most]
