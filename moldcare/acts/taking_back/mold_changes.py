"""Putting back what a register changed on molds, field by field, unless it was touched since."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.locks import counters_touched, known_so_far
from moldcare.acts.molds.taking_off import what_rests_on
from moldcare.acts.moving_in import (
    CALLED,
    CHANGED_FIELDS,
    OPENING_FIELDS,
    Brought,
    circuit_kept,
    field_label,
)
from moldcare.acts.records import change_record, change_words
from moldcare.acts.taking_back.values import Work
from moldcare.acts.words import place_words, sentence_end
from moldcare.bulk import insert
from moldcare.care.models import CareRule
from moldcare.logbook.append import EntryDraft
from moldcare.logbook.models import Entry
from moldcare.logbook.queries import TAKEN_BACK_ENTRY
from moldcare.molds.models import (
    Block,
    Cavity,
    Circuit,
    CycleTime,
    Mold,
    Move,
    MoveTakenBack,
    Owner,
    Position,
    RunEvent,
)
from moldcare.molds.queries import places_of


@dataclass(kw_only=True, slots=True)
class _Back:
    """What goes back on one mold, and what was and is by then, as the entry says it."""

    each: Brought
    mold: Mold
    fields: dict[str, Any] = field(default_factory=dict)
    cavities: list[Cavity] = field(default_factory=list)
    circuits: list[Circuit] = field(default_factory=list)
    cycle_time: CycleTime | None = None
    move: Move | None = None
    was: dict[str, Any] = field(default_factory=dict)
    now: dict[str, Any] = field(default_factory=dict)


class _Here:
    """What there is now of what the changes brought; everything that is looked at is read once."""

    def __init__(self, changed: Sequence[Brought]) -> None:
        molds = {each.mold for each in changed if each.mold is not None}
        kept = [row for each in changed for row in each.after.get("circuits", ())]
        self.circuits = Circuit.objects.in_bulk([row[0] for row in kept])
        ruled = CareRule.objects.filter(circuit__in=list(self.circuits))
        looped = Circuit.objects.filter(mold__in=molds).exclude(looped_with="")
        with_loops = set(looped.values_list("mold_id", flat=True))
        # only of these something may rest on a circuit
        self.suspects = set(ruled.values_list("circuit_id", flat=True)) | {
            pk for pk, row in self.circuits.items() if row.mold_id in with_loops
        }
        self.moves = Move.objects.select_related("spot", "taken_back").in_bulk(
            [each.after["storage_place"] for each in changed if "storage_place" in each.after]
        )
        self.places = places_of(molds)
        timed = [each.mold for each in changed if "cycle_time_s" in each.after]
        self.cycle_times: dict[int, list[CycleTime]] = {}
        for row in CycleTime.objects.filter(mold__in=timed).order_by("id"):
            self.cycle_times.setdefault(row.mold_id, []).append(row)
        grown = [each.mold for each in changed if "cavity_count" in each.after]
        self.cavities: dict[int, dict[str, Cavity]] = {}
        for cavity in Cavity.objects.filter(mold__in=grown):
            self.cavities.setdefault(cavity.mold_id, {})[cavity.ident] = cavity
        self.built_on = set(
            Position.objects.filter(cavity__mold__in=grown).values_list("cavity_id", flat=True)
        ) | set(Block.objects.filter(cavity__mold__in=grown).values_list("cavity_id", flat=True))
        self.owners = Owner.objects.in_bulk()

    def why_cavities_stay(self, added: Iterable[Cavity]) -> str:
        """Return why cavities have to stay; empty where they need not."""
        for cavity in added:
            if cavity.pk in self.built_on or cavity.part:
                return _("Cavity %(cavity)s is used.") % {"cavity": cavity.ident}
        return ""


def put_molds_back(
    changed: Sequence[Brought], *, molds: Mapping[int, Mold], work: Work
) -> tuple[int, set[int]]:
    """Put back what was not touched since; return on how many molds, and the counters concerned.

    What was added goes as well: cavities and circuits that nothing rests on, a first place.
    """
    here = _Here(changed)
    looked_at = (
        _looked_at(each, mold=molds[each.mold], here=here, work=work)
        for each in changed
        if each.mold is not None
    )
    backs = [back for back in looked_at if back is not None]
    timed = [back for back in backs if back.cycle_time is not None]
    counters = _counters_of({back.mold.pk for back in timed})
    known = known_so_far(counters)
    for back in backs:
        _put(back, here=here)
    corrected = Entry.objects.in_bulk([back.each.entry for back in backs])
    entries = work.append(
        [_draft(back, corrects=corrected[back.each.entry], work=work) for back in backs]
    )
    _write_facts(dict(zip(entries, backs, strict=True)), known=known, work=work)
    return len(backs), counters


def _counters_of(molds: set[int]) -> set[int]:
    """Return the counters that ever counted for molds: their own, and those of their presses."""
    if not molds:
        return set()
    presses = RunEvent.objects.filter(mold__in=molds).values_list("press_id", flat=True)
    return counters_touched(molds=molds, presses=set(presses))


def _looked_at(each: Brought, *, mold: Mold, here: _Here, work: Work) -> _Back | None:
    """Return what goes back on a mold; write down what stays. None where nothing goes back."""
    what = _("Mold %(mold)s") % {"mold": mold.number}
    if mold.withdrawn_at is not None:
        work.stays(what, row=each.row, why=_("The mold was withdrawn since."))
        return None
    back = _Back(each=each, mold=mold)
    for look in (_fields_back, _circuits_back, _cycle_time_back, _place_back):
        for name, why in look(back, here=here):
            work.stays(f"{what}: {name}", row=each.row, why=why)
    goes_back = (back.fields, back.circuits, back.cycle_time, back.move)
    return back if any(goes_back) else None


def _fields_back(back: _Back, *, here: _Here) -> Iterable[tuple[str, str]]:
    """Take in the fields that go back; give the name of each that stays, with the reason."""
    before, after = back.each.before, back.each.after
    names = [name for name in after if name in CHANGED_FIELDS]
    touched = {name for name in names if not _is_as_brought(back.mold, name=name, kept=after[name])}
    if touched & OPENING_FIELDS:
        touched |= OPENING_FIELDS & set(names)
    for name in names:
        if name in touched:
            yield field_label(name), _("It was changed since.")
            continue
        if name == "cavity_count":
            added = here.cavities.get(back.mold.pk, {})
            new = [str(n) for n in range(int(before[name]) + 1, int(after[name]) + 1)]
            cavities = [added[ident] for ident in new if ident in added]
            why = here.why_cavities_stay(cavities)
            if why:
                yield field_label(name), why
                continue
            back.cavities = cavities
        value = _value(name, before[name], here=here)
        if isinstance(value, Owner) and value.withdrawn_at is not None:
            why = _("%(owner)s, whose it was, was withdrawn since.") % {"owner": value}
            yield field_label(name), why
            continue
        back.fields[name] = value


def _is_as_brought(mold: Mold, *, name: str, kept: Any) -> bool:
    """Tell whether a field holds what the file put there; a column adds zeros to a number."""
    model_field: Any = Mold._meta.get_field(name)
    return bool(getattr(mold, model_field.attname) == model_field.to_python(kept))


def _value(name: str, kept: Any, *, here: _Here) -> Any:
    """Return a kept value as the record's field takes it."""
    if name == "owner":
        return here.owners.get(kept)
    model_field: Any = Mold._meta.get_field(name)
    return model_field.to_python(kept)


def _circuits_back(back: _Back, *, here: _Here) -> Iterable[tuple[str, str]]:
    for pk, *kept in back.each.after.get("circuits", ()):
        circuit = here.circuits.get(pk)
        if circuit is None:
            continue
        why = ""
        if list(circuit_kept(circuit)) != kept:
            why = _("It was changed since.")
        elif pk in here.suspects:
            why = what_rests_on(circuit)
        if why:
            yield _("circuit %(circuit)s") % {"circuit": circuit.ident}, why
        else:
            back.circuits.append(circuit)


def _cycle_time_back(back: _Back, *, here: _Here) -> Iterable[tuple[str, str]]:
    if "cycle_time_s" not in back.each.after:
        return
    *earlier, ours = here.cycle_times[back.mold.pk]
    if ours.pk != back.each.after["cycle_time_s"]:
        yield field_label("cycle_time_s"), _("It was changed since.")
        return
    was = max(earlier, key=lambda row: (row.valid_from, row.pk), default=None)
    back.cycle_time = CycleTime(
        mold=back.mold,
        standard_s=was.standard_s if was else None,
        shortest_s=was.shortest_s if was else None,
        # from the same instant on: the wrong one never counted
        valid_from=ours.valid_from,
    )
    back.was["cycle_time_s"] = ours.standard_s
    back.now["cycle_time_s"] = back.cycle_time.standard_s


def _place_back(back: _Back, *, here: _Here) -> Iterable[tuple[str, str]]:
    if "storage_place" not in back.each.after:
        return
    move = here.moves[back.each.after["storage_place"]]
    if hasattr(move, "taken_back"):
        return
    now = here.places.get(back.mold.pk)
    if now is None or now.pk != move.pk:
        yield field_label("storage_place"), _("It was moved since.")
        return
    back.move = move
    back.was["storage_place"] = place_words(move.spot)
    back.now["storage_place"] = ""


def _put(back: _Back, *, here: _Here) -> None:
    """Change the record, and take off what was added."""
    if back.fields:
        was, now = change_record(back.mold, changes=back.fields, allowed=CHANGED_FIELDS)
        back.was, back.now = {**was, **back.was}, {**now, **back.now}
    if back.cavities:
        Cavity.objects.filter(pk__in=[cavity.pk for cavity in back.cavities]).delete()
    if back.circuits:
        Circuit.objects.filter(pk__in=[circuit.pk for circuit in back.circuits]).delete()
        back.was["circuits"] = ", ".join(circuit.ident for circuit in back.circuits)
        back.now["circuits"] = ""


def _draft(back: _Back, *, corrects: Entry, work: Work) -> EntryDraft:
    said = change_words(back.was, after=back.now, of=back.mold, called=CALLED)
    return EntryDraft(
        chain=back.mold.chain_id,
        kind=TAKEN_BACK_ENTRY,
        sentence=f"{work.said}: {said}. Reason: {sentence_end(work.reason)}",
        facts={
            "mold": back.mold.number,
            "corrects": corrects.number,
            "before": back.was,
            "after": back.now,
            **work.facts,
        },
        corrects=corrects,
    )


def _write_facts(backs: Mapping[int, _Back], *, known: int, work: Work) -> None:
    times, moves = [], []
    for entry, back in backs.items():
        if back.cycle_time is not None:
            back.cycle_time.reason = work.reason[:200]
            back.cycle_time.entry_id = entry
            back.cycle_time.after_reading = known
            back.cycle_time.written_at = work.doing.now
            times.append(back.cycle_time)
        if back.move is not None:
            moves.append(
                MoveTakenBack(
                    move=back.move,
                    reason=work.reason[:200],
                    person=work.doing.person,
                    entry_id=entry,
                    written_at=work.doing.now,
                )
            )
    insert(times)
    insert(moves)
