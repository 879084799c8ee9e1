"""Presses, benches, storage places and places away."""

from collections.abc import Mapping, Sequence
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from moldcare.acts.answers import Written, answer_of
from moldcare.acts.doing import Doing, once
from moldcare.acts.entries import plant_entry
from moldcare.acts.errors import DoesNotFit, Incomplete
from moldcare.acts.records import add_record, change_record, change_words, fill, record_facts
from moldcare.acts.rights import Right, require
from moldcare.acts.words import tidy
from moldcare.molds.models import Mold
from moldcare.molds.queries import places_of
from moldcare.plant.models import Spot

SPOT_FIELDS = ("kind", "number", "name", "clamp_kn", "is_in_use")
MOST_AT_ONCE = 500
# so many numbers are named in a sentence; all of them stand in the entry's facts
_NAMED = 6


def add_spot(doing: Doing, *, kind: str, number: str, **fields: Any) -> Written:
    """Add a press, a bench, a rack or a place away; `fields` are of SPOT_FIELDS."""
    require(doing.person, Right.EDIT_SHIFTS)
    values = {"kind": kind, "number": number, **fields}

    def do() -> dict[str, Any]:
        row = Spot()
        fill(row, values=values, allowed=SPOT_FIELDS)
        add_record(row)
        entry = plant_entry(
            doing,
            kind="spot_added",
            sentence=f"{row.kind.capitalize()} {row.number} added.",
            facts=record_facts(row, fields=SPOT_FIELDS),
        )
        return answer_of(row, entry=entry)

    return Written.read(once(doing, "add_spot", values, do))


def add_spots(doing: Doing, *, kind: str, numbers: Sequence[str]) -> Written:
    """Add many spots of one kind, all of them or none.

    Raises
    ------
    DoesNotFit
        If some are there already, or one is named twice.
    Incomplete
        If there is none, or there are more than MOST_AT_ONCE.
    """
    require(doing.person, Right.EDIT_SHIFTS)
    wanted = [tidy(number) for number in numbers]

    def do() -> dict[str, Any]:
        if not wanted or len(wanted) > MOST_AT_ONCE:
            raise Incomplete(
                _("Give at least one number and at most %(most)s.") % {"most": MOST_AT_ONCE}
            )
        _refuse_twice(kind, numbers=wanted)
        rows = [Spot(kind=kind, number=number) for number in wanted]
        for row in rows:
            add_record(row)
        entry = plant_entry(
            doing,
            kind="spots_added",
            sentence=f"{len(rows)} spots ({kind}) added: {_some(wanted)}.",
            facts={"kind": kind, "numbers": wanted},
        )
        return answer_of(rows[0], entry=entry)

    return Written.read(once(doing, "add_spots", {"kind": kind, "numbers": wanted}, do))


def edit_spot(doing: Doing, *, spot: Spot, changes: Mapping[str, Any]) -> Written:
    """Change a spot, or put it out of use. Its kind stays: what was done there was done so.

    Raises
    ------
    DoesNotFit
        If it would go out of use while a mold is there.
    """
    require(doing.person, Right.EDIT_SHIFTS)

    def do() -> dict[str, Any]:
        held = Spot.objects.select_for_update(no_key=True).get(pk=spot.pk)
        before, after = change_record(
            held, changes=changes, allowed=tuple(set(SPOT_FIELDS) - {"kind"})
        )
        if not held.is_in_use and "is_in_use" in after:
            there = [move.mold_id for move in places_of().values() if move.spot_id == held.pk]
            mold = Mold.objects.filter(pk__in=there, withdrawn_at__isnull=True).first()
            if mold is not None:
                raise DoesNotFit(
                    _("Mold %(mold)s is there. Move it first.") % {"mold": mold.number}
                )
        entry = plant_entry(
            doing,
            kind="spot_edited",
            sentence=(
                f"{held.kind.capitalize()} {held.number} changed: "
                f"{change_words(before, after=after, of=held)}."
            ),
            facts={"spot": held.pk, "before": before, "after": after},
        )
        return answer_of(held, entry=entry)

    return Written.read(once(doing, "edit_spot", {"spot": spot, "changes": changes}, do))


def _refuse_twice(kind: str, *, numbers: Sequence[str]) -> None:
    """Name what was given twice, and what is there already."""
    twice = sorted({number for number in numbers if numbers.count(number) > 1})
    if twice:
        raise DoesNotFit(_("Given twice: %(numbers)s.") % {"numbers": _some(twice)})
    there = Spot.objects.filter(kind=kind, number__in=numbers).order_by("number")
    held = list(there.values_list("number", flat=True))
    if held:
        raise DoesNotFit(
            ngettext(
                "%(numbers)s is there already. Nothing was added.",
                "%(numbers)s are there already. Nothing was added.",
                len(held),
            )
            % {"numbers": _some(held)}
        )


def _some(numbers: Sequence[str]) -> str:
    """Return numbers as a sentence names them: the first few and the last."""
    if len(numbers) <= _NAMED:
        return ", ".join(numbers)
    return f"{', '.join(numbers[: _NAMED - 1])} … {numbers[-1]}"
