"""What sits in a circuit from IN to OUT: bubblers and baffles, each with number and place."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.answers import Written, answer_of
from moldcare.acts.doing import Doing, checked, once
from moldcare.acts.errors import DoesNotFit, Incomplete, NotFound
from moldcare.acts.locks import lock_mold
from moldcare.acts.refresh import refresh_care
from moldcare.acts.rights import Right, require
from moldcare.acts.words import tidy
from moldcare.logbook.append import append_entry
from moldcare.molds.models import Circuit, CircuitItem, Position, name_key

MOST_ITEMS = 60


@dataclass(frozen=True, kw_only=True, slots=True)
class NewItem:
    """A bubbler or baffle as somebody writes it; `at` names a position of the mold, or says where.

    Parameters
    ----------
    kind : str
        A value of `CircuitItem.Kind`.
    number : str
        As stamped or counted; once a kind and circuit.
    at : str
        A position's name, or a text where there is no such position.
    """

    kind: str
    number: str
    at: str = ""


def set_circuit_items(doing: Doing, *, circuit: Circuit, items: Sequence[NewItem]) -> Written:
    """Say what sits in a circuit, in the order from IN to OUT; it takes the place of what was said.

    The circuit's numbers of bubblers and baffles follow the list, as long as there is one.

    Raises
    ------
    DoesNotFit
        If nothing is different.
    Incomplete
        If one has no number, or a number comes twice.
    """
    require(doing.person, Right.EDIT_MOLDS)

    def do() -> dict[str, Any]:
        mold = lock_mold(circuit.mold)
        held = Circuit.objects.select_for_update(no_key=True).filter(pk=circuit.pk).first()
        if held is None:
            raise NotFound(_("This circuit was taken off the mold; nothing was written."))
        positions = {name_key(row.ident): row for row in Position.objects.filter(mold=mold)}
        rows = [
            _row(held, each, place=place, positions=positions)
            for place, each in enumerate(items, start=1)
        ]
        _check(rows)
        before, after = _facts(held.items.select_related("position")), _facts(rows)
        if before == after:
            raise DoesNotFit(_("Nothing is different from what is there; nothing was written."))
        CircuitItem.objects.filter(circuit=held).delete()
        for row in rows:
            checked(row)
        CircuitItem.objects.bulk_create(rows)
        _count(held, rows)
        entry = append_entry(
            mold.chain,
            kind="circuit_items",
            happened_at=doing.now,
            written_at=doing.now,
            author=doing.person,
            sentence=f"In circuit {held.ident}, from IN to OUT: {_words(after)}. "
            f"Before: {_words(before)}.",
            facts={"circuit": held.ident, "before": before, "after": after},
        )
        refresh_care(molds=[mold.pk])
        return answer_of(held, entry=entry)

    body = {"circuit": circuit, "items": [asdict(each) for each in items]}
    return Written.read(once(doing, "set_circuit_items", body, do))


def items_of(circuit: Circuit) -> list[NewItem]:
    """Return what sits in a circuit, as somebody would write it."""
    rows = circuit.items.select_related("position").order_by("place")
    return [
        NewItem(kind=row.kind, number=row.number, at=row.position.ident if row.position else row.at)
        for row in rows
    ]


def _row(
    circuit: Circuit, new: NewItem, *, place: int, positions: dict[str, Position]
) -> CircuitItem:
    at = tidy(new.at)
    position = positions.get(name_key(at)) if at else None
    return CircuitItem(
        circuit=circuit,
        place=place,
        kind=new.kind,
        number=tidy(new.number),
        position=position,
        at="" if position else at,
    )


def _check(rows: Sequence[CircuitItem]) -> None:
    if len(rows) > MOST_ITEMS:
        raise Incomplete(_("At most %(most)d can be listed in one circuit.") % {"most": MOST_ITEMS})
    seen = set()
    for row in rows:
        if not row.number:
            raise Incomplete(_("Give each its number."))
        key = (row.kind, row.number)
        if key in seen:
            raise Incomplete(
                _("%(what)s %(number)s is listed twice. Give each a number of its own.")
                % {"what": row.get_kind_display().capitalize(), "number": row.number}
            )
        seen.add(key)


def _count(circuit: Circuit, rows: Sequence[CircuitItem]) -> None:
    """Let the numbers on the circuit say what the list says."""
    kinds = [row.kind for row in rows]
    circuit.bubblers = kinds.count(CircuitItem.Kind.BUBBLER)
    circuit.straight_baffles = kinds.count(CircuitItem.Kind.STRAIGHT_BAFFLE)
    circuit.spiral_baffles = kinds.count(CircuitItem.Kind.SPIRAL_BAFFLE)
    circuit.save(update_fields=["bubblers", "straight_baffles", "spiral_baffles"])


def _facts(rows: Any) -> list[dict[str, str]]:
    return [
        {
            "kind": row.kind,
            "number": row.number,
            "position": row.position.ident if row.position else "",
            "at": row.at,
        }
        for row in rows
    ]


def _words(facts: Sequence[dict[str, str]]) -> str:
    if not facts:
        return "nothing listed"
    said = []
    for fact in facts:
        where = fact["position"] or fact["at"]
        said.append(
            f"{fact['kind'].replace('_', ' ')} {fact['number']}" + (f" at {where}" if where else "")
        )
    return ", ".join(said)
