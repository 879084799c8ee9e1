"""Adding, editing and withdrawing molds, and their cycle times."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.answers import Written, answer_of
from moldcare.acts.doing import Doing, check_happened, checked, once
from moldcare.acts.errors import DoesNotFit, Incomplete
from moldcare.acts.locks import counters_that_count, known_so_far, lock_mold, lock_numbers
from moldcare.acts.records import (
    add_record,
    change_record,
    change_words,
    checked_fact,
    fill,
    record_facts,
)
from moldcare.acts.refresh import refresh_counts
from moldcare.acts.rights import Right, require
from moldcare.acts.words import local_words, place_fact, reason_given, sentence_end, tidy
from moldcare.logbook.append import append_entry, new_chain
from moldcare.logbook.models import Chain, Entry
from moldcare.molds.models import Cavity, Circuit, CycleTime, Mold, Move, Run, name_key, sort_key
from moldcare.molds.queries import place_of
from moldcare.plant.models import Spot
from moldcare.plant.queries import the_plant
from moldcare.work.models import Order

MOLD_FIELDS = (
    "number",
    "name",
    "mold_class",
    "cavity_count",
    "mass_a_kg",
    "mass_b_kg",
    "owner",
    "resin",
    "resin_group",
    "filler",
    "finish",
    "opening_count",
    "opening_at",
    "opening_source",
    "drawing_revision",
    "reading_age_shifts",
)
# what the life count begins with: to change it is a correction of the count
_OPENING = frozenset({"opening_count", "opening_at", "opening_source"})
_COUNTED = _OPENING | {"reading_age_shifts"}


@dataclass(frozen=True, kw_only=True, slots=True)
class MoldAdded(Written):
    """A mold was added; `row_id` is the mold's."""

    number: str


@dataclass(frozen=True, kw_only=True, slots=True)
class NewCircuit:
    """A circuit that a new mold comes with; see `Circuit` for the fields."""

    ident: str
    half: str
    bore_mm: Decimal | None = None
    length_mm: Decimal | None = None
    bends: int = 0
    bubblers: int = 0
    straight_baffles: int = 0
    spiral_baffles: int = 0
    couplings: str = ""
    looped_with: str = ""
    medium: str = "water"
    design_flow_l_min: Decimal | None = None
    rise_limit_k: Decimal | None = None


def add_mold(
    doing: Doing,
    *,
    number: str,
    name: str,
    standard_cycle_s: Decimal | None = None,
    shortest_cycle_s: Decimal | None = None,
    circuits: Sequence[NewCircuit] = (),
    place: Spot | None = None,
    **fields: Any,
) -> MoldAdded:
    """Add a mold with its chain, cavities, cycle time, circuits and first place.

    `fields` are further fields of MOLD_FIELDS; the opening count is true as of now unless
    `opening_at` says otherwise. Cavities are numbered from 1.

    Raises
    ------
    Incomplete
        If a field cannot stand: the number is taken, a text too long, a choice unknown.
    """
    require(doing.person, Right.EDIT_MOLDS)

    def do() -> dict[str, Any]:
        lock_numbers()
        mold = Mold(entered_at=doing.now, opening_at=doing.now)
        fill(mold, values={"number": number, "name": name, **fields}, allowed=MOLD_FIELDS)
        check_happened(mold.opening_at, doing=doing, plant=the_plant())
        _keys(mold)
        checked(mold, exclude=("chain", "owner", "number_key", "sort_key"))
        mold.chain = new_chain(Chain.Kind.MOLD, mold.number)
        add_record(mold)
        Cavity.objects.bulk_create(
            Cavity(mold=mold, ident=str(each)) for each in range(1, mold.cavity_count + 1)
        )
        entry = append_entry(
            mold.chain,
            kind="mold_added",
            happened_at=doing.now,
            written_at=doing.now,
            author=doing.person,
            sentence=_added_sentence(mold),
            facts={
                **record_facts(mold, fields=MOLD_FIELDS),
                "standard_cycle_s": standard_cycle_s,
                "shortest_cycle_s": shortest_cycle_s,
                "circuits": [_filled(asdict(each)) for each in circuits],
                "place": place_fact(place) if place else None,
            },
        )
        if standard_cycle_s is not None or shortest_cycle_s is not None:
            _cycle_time(
                doing,
                mold=mold,
                standard_s=standard_cycle_s,
                shortest_s=shortest_cycle_s,
                valid_from=mold.opening_at,
                reason="as entered",
                entry=entry,
                known=known_so_far(()),
            )
        for each in circuits:
            add_record(Circuit(mold=mold, **asdict(each)))
        if place is not None:
            _first_place(doing, mold=mold, place=place, entry=entry)
        refresh_counts(molds=[mold.pk])
        return answer_of(mold, entry=entry, number=mold.number)

    body = {
        "number": number,
        "name": name,
        "standard_cycle_s": standard_cycle_s,
        "shortest_cycle_s": shortest_cycle_s,
        "circuits": [asdict(each) for each in circuits],
        "place": place,
        **fields,
    }
    return MoldAdded.read(once(doing, "add_mold", body, do))


def edit_mold(doing: Doing, *, mold: Mold, changes: Mapping[str, Any], reason: str = "") -> Written:
    """Change fields of a mold; the entry keeps what they were.

    To change what the life count began with is a correction of the count and needs a reason.

    Raises
    ------
    DoesNotFit
        If nothing is different, or cavities would be taken away.
    Incomplete
        If a field cannot stand, or a corrected count has no reason.
    """
    require(doing.person, Right.EDIT_MOLDS)

    def do() -> dict[str, Any]:
        held = lock_mold(mold)
        cavities = held.cavity_count
        if "number" in changes:
            _keys(held, number=str(changes["number"]))
        before, after = change_record(held, changes=changes, allowed=MOLD_FIELDS)
        is_opening = bool(_OPENING & set(after))
        words = reason_given(reason) if is_opening else tidy(reason)
        check_happened(held.opening_at, doing=doing, plant=the_plant())
        if held.cavity_count < cavities:
            raise DoesNotFit(
                _("A mold keeps its cavities: block those that do not run. Nothing was changed.")
            )
        Cavity.objects.bulk_create(
            Cavity(mold=held, ident=str(each))
            for each in range(cavities + 1, held.cavity_count + 1)
        )
        what = "Life count before our records corrected" if is_opening else "Changed"
        sentence = f"{what}: {change_words(before, after=after, of=held)}."
        entry = append_entry(
            held.chain,
            kind="opening_corrected" if is_opening else "mold_edited",
            happened_at=doing.now,
            written_at=doing.now,
            author=doing.person,
            sentence=f"{sentence} Reason: {sentence_end(words)}" if words else sentence,
            facts={"mold": held.number, "before": before, "after": after, "reason": words},
        )
        if _COUNTED & set(after):
            refresh_counts(molds=[held.pk])
        return answer_of(held, entry=entry)

    body = {"mold": mold, "changes": changes, "reason": reason}
    return Written.read(once(doing, "edit_mold", body, do))


def withdraw_mold(doing: Doing, *, mold: Mold, reason: str) -> Written:
    """Take a mold out of our care: scrapped, given back, sold. Its logbook stays.

    Planned runs that have not begun are called off; its number may be used again.

    Raises
    ------
    DoesNotFit
        If it is in a press, or has an order that is not signed.
    """
    require(doing.person, Right.EDIT_MOLDS)

    def do() -> dict[str, Any]:
        held = lock_mold(mold)
        words = reason_given(reason)
        place = place_of(held)
        if place is not None and place.spot.kind == Spot.Kind.PRESS:
            raise DoesNotFit(_("It is in %(spot)s. Pull it first.") % {"spot": place.spot})
        order = Order.objects.filter(
            mold=held, signed_at__isnull=True, struck_out_at__isnull=True
        ).first()
        if order is not None:
            raise DoesNotFit(
                _("Order %(number)s is not signed. Sign it or strike it out first.")
                % {"number": order.number}
            )
        Run.objects.filter(mold=held, is_called_off=False, events__isnull=True).update(
            is_called_off=True
        )
        held.withdrawn_at = doing.now
        held.save(update_fields=["withdrawn_at"])
        entry = append_entry(
            held.chain,
            kind="mold_withdrawn",
            happened_at=doing.now,
            written_at=doing.now,
            author=doing.person,
            sentence=f"Withdrawn. {sentence_end(words)}",
            facts={"mold": held.number, "reason": words},
        )
        refresh_counts(molds=[held.pk])
        return answer_of(held, entry=entry)

    return Written.read(once(doing, "withdraw_mold", {"mold": mold, "reason": reason}, do))


def change_cycle_time(
    doing: Doing,
    *,
    mold: Mold,
    standard_s: Decimal | None,
    shortest_s: Decimal | None = None,
    valid_from: datetime,
    reason: str,
) -> Written:
    """Write down another cycle time from an instant on; held readings are judged again.

    Accepted readings stay accepted.

    Raises
    ------
    Incomplete
        If a time is not above 0, or there is no reason.
    """
    require(doing.person, Right.EDIT_MOLDS)

    def do() -> dict[str, Any]:
        plant = the_plant()
        check_happened(valid_from, doing=doing, plant=plant)
        held = lock_mold(mold)
        words = reason_given(reason)
        counters = counters_that_count(held)
        known = known_so_far(counters)
        shortest = f", shortest {shortest_s} s" if shortest_s is not None else ""
        standard = f"{standard_s} s" if standard_s is not None else "not known"
        entry = append_entry(
            held.chain,
            kind="cycle_time",
            happened_at=doing.now,
            written_at=doing.now,
            author=doing.person,
            sentence=(
                f"Standard cycle time {standard}{shortest} from "
                f"{local_words(valid_from, plant=plant)} on. {sentence_end(words)}"
            ),
            facts={
                "mold": held.number,
                "standard_s": standard_s,
                "shortest_s": shortest_s,
                "valid_from": valid_from,
                "reason": words,
            },
        )
        row = _cycle_time(
            doing,
            mold=held,
            standard_s=standard_s,
            shortest_s=shortest_s,
            valid_from=valid_from,
            reason=words,
            entry=entry,
            known=known,
        )
        refresh_counts(counters=counters, molds=[held.pk])
        return answer_of(row, entry=entry)

    body = {
        "mold": mold,
        "standard_s": standard_s,
        "shortest_s": shortest_s,
        "valid_from": valid_from,
        "reason": reason,
    }
    return Written.read(once(doing, "change_cycle_time", body, do))


def _keys(mold: Mold, *, number: str | None = None) -> None:
    """Set the keys before the check: whether a number is taken is judged by its key."""
    text = tidy(mold.number if number is None else number)
    mold.number_key, mold.sort_key = name_key(text), sort_key(text)


def _cycle_time(
    doing: Doing,
    *,
    mold: Mold,
    standard_s: Decimal | None,
    shortest_s: Decimal | None,
    valid_from: datetime,
    reason: str,
    entry: Entry,
    known: int,
) -> CycleTime:
    for seconds in (standard_s, shortest_s):
        if seconds is not None and seconds <= 0:
            raise Incomplete(_("A cycle takes more than 0 seconds. Check the cycle time."))
    if standard_s is not None and shortest_s is not None and shortest_s > standard_s:
        raise Incomplete(_("The shortest cycle is longer than the standard cycle. Check the two."))
    row = CycleTime(
        mold=mold,
        standard_s=standard_s,
        shortest_s=shortest_s,
        valid_from=valid_from,
        reason=reason,
        entry=entry,
        after_reading=known,
        written_at=doing.now,
    )
    checked_fact(row)
    row.save()
    return row


def _first_place(doing: Doing, *, mold: Mold, place: Spot, entry: Entry) -> None:
    if place.kind == Spot.Kind.PRESS:
        raise DoesNotFit(_("Add the mold at a bench, a rack or away, then set it in the press."))
    Move.objects.create(
        mold=mold,
        spot=place,
        at=doing.now,
        person=doing.person,
        entry=entry,
        written_at=doing.now,
    )


def _added_sentence(mold: Mold) -> str:
    count = "cavity" if mold.cavity_count == 1 else "cavities"
    opening = f"life count before our records {mold.opening_count:,}"
    if mold.opening_source:
        opening += f" ({mold.opening_source})"
    return f"Mold {mold.number}, {mold.name}, added: {mold.cavity_count} {count}, {opening}."


def _filled(fields: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in fields.items() if value not in (None, "", 0)}
