"""Adding and editing what a mold is made of."""

from collections.abc import Mapping
from typing import Any

from django.db import models
from django.utils.translation import gettext as _

from moldcare.acts.answers import Written, answer_of
from moldcare.acts.doing import Doing, once
from moldcare.acts.errors import DoesNotFit, NotFound
from moldcare.acts.locks import lock_mold
from moldcare.acts.records import add_record, change_record, change_words, fill, record_facts
from moldcare.acts.refresh import refresh_care
from moldcare.acts.rights import Right, require
from moldcare.logbook.append import append_entry, plant_chain
from moldcare.logbook.models import Chain
from moldcare.molds.models import Circuit, Component, Configuration, Mold, Position

POSITION_FIELDS = ("ident", "name", "is_forming", "cavity")
COMPONENT_FIELDS = ("serial", "name", "opening_cycles", "opening_shots")
CIRCUIT_FIELDS = (
    "ident",
    "half",
    "bore_mm",
    "length_mm",
    "bends",
    "bubblers",
    "straight_baffles",
    "spiral_baffles",
    "couplings",
    "looped_with",
    "medium",
    "design_flow_l_min",
    "rise_limit_k",
)
CONFIGURATION_FIELDS = ("name",)


def add_position(doing: Doing, *, mold: Mold, **fields: Any) -> Written:
    """Add a position to a mold; `fields` are of POSITION_FIELDS."""
    return _add(doing, mold=mold, kind="position", row=Position(mold=mold), fields=fields)


def add_circuit(doing: Doing, *, mold: Mold, **fields: Any) -> Written:
    """Add a circuit to a mold; `fields` are of CIRCUIT_FIELDS."""
    return _add(doing, mold=mold, kind="circuit", row=Circuit(mold=mold), fields=fields)


def add_configuration(doing: Doing, *, mold: Mold, name: str) -> Written:
    """Add a named version that a mold can run as."""
    row = Configuration(mold=mold)
    return _add(doing, mold=mold, kind="configuration", row=row, fields={"name": name})


def add_component(doing: Doing, *, serial: str, name: str, **fields: Any) -> Written:
    """Add a component with the counts it brings along; it lies on the shelf until it is fitted.

    Whoever fits components may add one: it is needed at the bench.
    """
    require(doing.person, Right.MOVE_MOLDS)
    values = {"serial": serial, "name": name, **fields}

    def do() -> dict[str, Any]:
        row = Component()
        fill(row, values=values, allowed=COMPONENT_FIELDS)
        add_record(row)
        return _added(doing, chain=plant_chain(), kind="component", row=row)

    return Written.read(once(doing, "add_component", values, do))


def edit_position(doing: Doing, *, position: Position, changes: Mapping[str, Any]) -> Written:
    """Change a position; what was fitted there stays."""
    return _edit(doing, kind="position", row=position, changes=changes)


def edit_circuit(doing: Doing, *, circuit: Circuit, changes: Mapping[str, Any]) -> Written:
    """Change a circuit's measures."""
    return _edit(doing, kind="circuit", row=circuit, changes=changes)


def edit_component(doing: Doing, *, component: Component, changes: Mapping[str, Any]) -> Written:
    """Change a component; other counts before our records correct its count."""
    return _edit(doing, kind="component", row=component, changes=changes)


def edit_configuration(
    doing: Doing, *, configuration: Configuration, changes: Mapping[str, Any]
) -> Written:
    """Give a configuration another name."""
    return _edit(doing, kind="configuration", row=configuration, changes=changes)


_FIELDS: dict[str, tuple[str, ...]] = {
    "position": POSITION_FIELDS,
    "circuit": CIRCUIT_FIELDS,
    "component": COMPONENT_FIELDS,
    "configuration": CONFIGURATION_FIELDS,
}


def _add(
    doing: Doing, *, mold: Mold, kind: str, row: models.Model, fields: Mapping[str, Any]
) -> Written:
    require(doing.person, Right.EDIT_MOLDS)

    def do() -> dict[str, Any]:
        held = lock_mold(mold)
        fill(row, values=fields, allowed=_FIELDS[kind])
        _refuse_foreign_cavity(row, mold=held)
        add_record(row)
        return _added(doing, chain=held.chain, kind=kind, row=row)

    return Written.read(once(doing, f"add_{kind}", {"mold": mold, **fields}, do))


def _added(doing: Doing, *, chain: Chain, kind: str, row: models.Model) -> dict[str, Any]:
    facts = record_facts(row, fields=_FIELDS[kind])
    entry = append_entry(
        chain,
        kind=f"{kind}_added",
        happened_at=doing.now,
        written_at=doing.now,
        author=doing.person,
        sentence=f"{kind.capitalize()} {_name(row)} added.",
        facts=facts,
    )
    return answer_of(row, entry=entry)


def _edit(
    doing: Doing,
    *,
    kind: str,
    row: Position | Circuit | Component | Configuration,
    changes: Mapping[str, Any],
) -> Written:
    require(doing.person, Right.EDIT_MOLDS)

    def do() -> dict[str, Any]:
        mold = None if isinstance(row, Component) else lock_mold(row.mold)
        found = type(row)._default_manager.select_for_update(no_key=True)
        held = found.filter(pk=row.pk).first()
        if held is None:
            raise NotFound(_("It was taken off the mold meanwhile; nothing was written."))
        name = _name(held)
        before, after = change_record(held, changes=changes, allowed=_FIELDS[kind])
        if mold is not None:
            _refuse_foreign_cavity(held, mold=mold)
            _refuse_other_counts(held, changes=after)
        entry = append_entry(
            mold.chain if mold else plant_chain(),
            kind=f"{kind}_edited",
            happened_at=doing.now,
            written_at=doing.now,
            author=doing.person,
            sentence=(
                f"{kind.capitalize()} {name} changed: {change_words(before, after=after, of=held)}."
            ),
            facts={kind: name, "before": before, "after": after},
        )
        refresh_care(molds=_molds_of(held))
        return answer_of(held, entry=entry)

    body = {"kind": kind, "row": row.pk, "changes": changes}
    return Written.read(once(doing, f"edit_{kind}", body, do))


def _molds_of(row: models.Model) -> set[int]:
    """Return the molds whose rules may read the record: for a component, where it ever sat."""
    if isinstance(row, Component):
        sat = row.fittings.exclude(position=None).values_list("position__mold", flat=True)
        return set(sat)
    return {row.mold_id} if isinstance(row, Position | Circuit) else set()


def _refuse_foreign_cavity(row: models.Model, *, mold: Mold) -> None:
    if isinstance(row, Position) and row.cavity is not None and row.cavity.mold_id != mold.pk:
        raise DoesNotFit(
            _("Cavity %(cavity)s belongs to another mold.") % {"cavity": row.cavity.ident}
        )


def _refuse_other_counts(row: models.Model, *, changes: Mapping[str, Any]) -> None:
    """Refuse numbers of bubblers and baffles beside a list that says them."""
    counted = {"bubblers", "straight_baffles", "spiral_baffles"} & set(changes)
    if isinstance(row, Circuit) and counted and row.items.exists():
        raise DoesNotFit(
            _("What sits in circuit %(circuit)s is listed one by one. Change the list.")
            % {"circuit": row.ident}
        )


def _name(row: models.Model) -> str:
    """Return a record's own name within its mold."""
    if isinstance(row, Position | Circuit):
        return row.ident
    if isinstance(row, Component):
        return f"{row.name} {row.serial}"
    return row.name if isinstance(row, Configuration) else str(row)
