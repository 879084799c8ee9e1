"""Kinds of entries in the reader's words."""

from django.utils.translation import gettext as _


def kind_words(kind: str) -> str:
    """Return a kind of entry as the head of its sentence; one that is not known, as it is."""
    known = {
        "order": _("Work done"),
        "order_checked": _("Work checked"),
        "order_accepted": _("Work accepted"),
        "order_struck_out": _("Order struck out"),
        "accepted_as_done": _("Accepted as done"),
        "correction": _("Correction"),
        "taken_back": _("Taken back"),
        "deferral": _("Deferred"),
        "set": _("Set"),
        "pulled": _("Pulled"),
        "moved": _("Moved"),
        "condition": _("Condition"),
        "interruption": _("Interruption"),
        "interruption_ended": _("Running again"),
        "last_done": _("Last done"),
        "cycle_time": _("Cycle time"),
        "mold_added": _("Mold added"),
        "mold_edited": _("Mold changed"),
        "opening_corrected": _("Opening count corrected"),
        "rule_written": _("Care rule written"),
        "rule_changed": _("Care rule changed"),
        "rule_withdrawn": _("Care rule withdrawn"),
        "component_fitted": _("Component fitted"),
        "component_taken_out": _("Component taken out"),
        "counter_exchanged": _("Counter exchanged"),
        "handover": _("Handover"),
        "handover_taken": _("Handover taken"),
    }
    if kind in known:
        return known[kind]
    plain = kind.replace("_", " ")
    return plain[:1].upper() + plain[1:]
