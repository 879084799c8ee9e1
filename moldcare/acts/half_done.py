"""Half-done work: passing it on, with what is out of the mold and where that lies."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing, checked, once
from moldcare.acts.errors import DoesNotFit, Incomplete, NotFound
from moldcare.acts.orders import open_order
from moldcare.acts.rights import Right, require
from moldcare.acts.words import tidy
from moldcare.molds.models import Position
from moldcare.molds.queries import components_in
from moldcare.work.models import Order, PartIn, PartOut, PassedOn
from moldcare.work.queries import parts_out


@dataclass(frozen=True, kw_only=True, slots=True)
class PartLying:
    """A part that is out of the mold.

    Parameters
    ----------
    lies : str
        Where it lies.
    position : int or None
        The number of the position it came out of; its words are made from that then.
    what : str
        What it is, where it sits in no position that is known.
    """

    lies: str
    position: int | None = None
    what: str = ""


def pass_on(
    doing: Doing, *, order: Order, note: str = "", parts: Sequence[PartLying] = ()
) -> tuple[PartOut, ...]:
    """Leave half-done work to whoever goes on: what there is to know, and what is out of it.

    Raises
    ------
    Incomplete
        If nothing is said, or not where a part lies.
    DoesNotFit
        If a position's part is out already.
    """
    require(doing.person, Right.LOG_WORK)
    words = tidy(note)
    lying = [
        PartLying(position=part.position, what=tidy(part.what), lies=tidy(part.lies))
        for part in parts
    ]
    if not words and not lying:
        raise Incomplete(_("Say what whoever goes on must know, or what is out of the mold."))
    if any(not part.lies for part in lying):
        raise Incomplete(_("Say where the parts lie that are out."))
    body = {
        "order": order.pk,
        "note": words,
        "parts": [[part.position, part.what, part.lies] for part in lying],
    }

    def do() -> dict[str, Any]:
        row = open_order(order)
        said = {"order": row, "at": doing.at, "person": doing.person, "written_at": doing.now}
        if words:
            word = PassedOn(note=words, **said)
            checked(word, exclude=("order", "person"))
            word.save()
        named = _named(row, lying=lying)
        made = []
        for part in lying:
            out = PartOut(
                position_id=part.position,
                what=named[part.position] if part.position else part.what,
                lies=part.lies,
                **said,
            )
            checked(out, exclude=("order", "position", "person"))
            out.save()
            made.append(out.pk)
        return {"parts": made}

    made = once(doing, "pass_on", body, do)["parts"]
    return tuple(PartOut.objects.filter(pk__in=made).order_by("id"))


def _named(order: Order, *, lying: Sequence[PartLying]) -> dict[int, str]:
    """Return what each position's part is called; refuse one that cannot come out."""
    asked = [part.position for part in lying if part.position is not None]
    if len(set(asked)) < len(asked):
        raise DoesNotFit(_("A part is named twice."))
    out = {part.position_id: part for part in parts_out(order=order) if part.position_id}
    rows = {row.pk: row for row in Position.objects.filter(pk__in=asked, mold=order.mold_id)}
    sitting = components_in(asked) if asked else {}
    named = {}
    for pk in asked:
        if pk not in rows:
            raise NotFound(
                _("A position that was named is not in this mold. Load the sheet again.")
            )
        if pk in out:
            raise DoesNotFit(
                _("%(part)s is out already: %(lies)s.")
                % {"part": out[pk].what, "lies": out[pk].lies}
            )
        part = sitting.get(pk)
        place = rows[pk].ident
        named[pk] = f"{place}: {part.name} {part.serial}" if part else (rows[pk].name or place)
    return {pk: name[:200] for pk, name in named.items()}


def take_in(doing: Doing, *, part: PartOut) -> None:
    """Say that a part that was out is in the mold again, also after its order was signed."""
    require(doing.person, Right.LOG_WORK)

    def do() -> dict[str, Any]:
        # the order's row stands for its parts: two who take the same part in come one by one
        Order.objects.select_for_update(no_key=True).get(pk=part.order_id)
        if not PartIn.objects.filter(part_out=part).exists():
            PartIn.objects.create(
                part_out=part, at=doing.at, person=doing.person, written_at=doing.now
            )
        return {}

    once(doing, "take_in", {"part": part.pk}, do)
