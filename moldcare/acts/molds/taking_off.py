"""Taking a position, a circuit or a configuration off a mold, as long as nothing rests on it."""

from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.answers import Written, answer_of
from moldcare.acts.doing import Doing, once
from moldcare.acts.errors import DoesNotFit, NotFound
from moldcare.acts.locks import lock_mold
from moldcare.acts.molds.circuits import items_of
from moldcare.acts.molds.parts import CIRCUIT_FIELDS, CONFIGURATION_FIELDS, POSITION_FIELDS
from moldcare.acts.records import record_facts
from moldcare.acts.refresh import refresh_care
from moldcare.acts.rights import Right, require
from moldcare.acts.words import reason_given, sentence_end
from moldcare.care.models import CareRule
from moldcare.logbook.append import append_entry
from moldcare.molds.models import Circuit, CircuitItem, Configuration, Fitting, Position, name_key

_FIELDS = {
    Position: ("position", POSITION_FIELDS),
    Circuit: ("circuit", CIRCUIT_FIELDS),
    Configuration: ("configuration", CONFIGURATION_FIELDS),
}


def take_off(doing: Doing, *, part: Position | Circuit | Configuration, reason: str) -> Written:
    """Take a position, circuit or configuration off a mold; the entry keeps what it was.

    The answer's `row_id` is the mold's.

    Raises
    ------
    DoesNotFit
        If something rests on it: a component that sat there, a care rule, a list, a loop.
    Incomplete
        If there is no reason.
    """
    require(doing.person, Right.EDIT_MOLDS)
    kind, fields = _FIELDS[type(part)]

    def do() -> dict[str, Any]:
        mold = lock_mold(part.mold)
        held = type(part)._default_manager.select_for_update(no_key=True).filter(pk=part.pk).first()
        if held is None:
            raise NotFound(_("It was taken off the mold meanwhile; nothing was written."))
        words, name = reason_given(reason), _name(held)
        resting = what_rests_on(held)
        if resting:
            raise DoesNotFit(resting)
        facts = {kind: name, "was": record_facts(held, fields=fields), "reason": words}
        if isinstance(held, Circuit):
            facts["items"] = [f"{item.kind} {item.number} {item.at}" for item in items_of(held)]
        held.delete()
        entry = append_entry(
            mold.chain,
            kind=f"{kind}_taken_off",
            happened_at=doing.now,
            written_at=doing.now,
            author=doing.person,
            sentence=f"{kind.capitalize()} {name} taken off. Reason: {sentence_end(words)}",
            facts=facts,
        )
        refresh_care(molds=[mold.pk])
        return answer_of(mold, entry=entry)

    body = {"kind": kind, "part": part.pk, "reason": reason}
    return Written.read(once(doing, f"take_off_{kind}", body, do))


def what_rests_on(part: Position | Circuit | Configuration) -> str:
    """Return what keeps a part on its mold, as a sentence; nothing where it may be taken off."""
    rule = _rule_of(part)
    if rule is not None:
        said = (
            _("Care rule “%(rule)s” was written for %(part)s and is kept with what was done.")
            if rule.withdrawn_at
            else _("Care rule “%(rule)s” looks after %(part)s, so it stays.")
        )
        return said % {"rule": rule.name, "part": _name(part)}
    if isinstance(part, Position):
        return _on_position(part)
    if isinstance(part, Circuit):
        others = (
            Circuit.objects.filter(mold=part.mold_id).exclude(pk=part.pk).exclude(looped_with="")
        )
        for other in others:
            if name_key(other.looped_with) == name_key(part.ident):
                return _("Circuit %(other)s is looped with %(part)s. Change that first.") % {
                    "other": other.ident,
                    "part": part.ident,
                }
    return ""


def _rule_of(part: Position | Circuit | Configuration) -> CareRule | None:
    if isinstance(part, Configuration):
        return None
    rules = CareRule.objects.order_by("withdrawn_at", "id")
    found = (
        rules.filter(position=part) if isinstance(part, Position) else rules.filter(circuit=part)
    )
    in_force = found.filter(withdrawn_at__isnull=True).first()
    return in_force or found.first()


def _on_position(position: Position) -> str:
    fitting = Fitting.objects.filter(position=position).select_related("component").first()
    if fitting is not None:
        return _("%(component)s sat in %(part)s: its count rests on that, so it stays.") % {
            "component": fitting.component,
            "part": position.ident,
        }
    item = CircuitItem.objects.filter(position=position).select_related("circuit").first()
    if item is not None:
        return _("Circuit %(circuit)s lists what sits in %(part)s. Change its list first.") % {
            "circuit": item.circuit.ident,
            "part": position.ident,
        }
    return ""


def _name(part: Position | Circuit | Configuration) -> str:
    return part.name if isinstance(part, Configuration) else part.ident
