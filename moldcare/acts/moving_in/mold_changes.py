"""Putting on molds that are there what was chosen of a register, with what was before."""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any, NamedTuple

from moldcare.acts.doing import Doing
from moldcare.acts.locks import counters_that_count, known_so_far
from moldcare.acts.molds.parts import CIRCUIT_FIELDS
from moldcare.acts.moving_in.mold_fields import CALLED, CHANGED_FIELDS, OPENING_FIELDS
from moldcare.acts.moving_in.mold_judge import MoldJudge, circuit_words, made_circuits
from moldcare.acts.moving_in.values import MOLD_CHANGED, Brought, FileMold, Judged
from moldcare.acts.records import change_record, change_words, record_facts
from moldcare.acts.words import sentence_end
from moldcare.bulk import insert
from moldcare.logbook.append import EntryDraft, append_entries
from moldcare.molds.models import Cavity, Circuit, CycleTime, Mold, Move
from moldcare.plant.models import Spot


class _Sides(NamedTuple):
    """What was, and what is, by field."""

    before: dict[str, Any]
    after: dict[str, Any]


def change_molds(
    doing: Doing,
    taken: Sequence[tuple[FileMold, Judged]],
    *,
    judge: MoldJudge,
    about: Mapping[str, Any],
) -> tuple[list[Brought], set[int]]:
    """Put what was chosen on molds; return what was brought, and the counters to judge again."""
    pairs = [(row, judged, mold) for row, judged in taken if (mold := judge.here(row)) is not None]
    counters: set[int] = set()
    for _row, judged, mold in pairs:
        if "cycle_time_s" in judged.changes:
            counters |= counters_that_count(mold)
    known = known_so_far(counters)
    brought = [
        _change(doing, row, judged=judged, mold=mold, judge=judge, about=about, known=known)
        for row, judged, mold in pairs
    ]
    return brought, counters


def _change(
    doing: Doing,
    row: FileMold,
    *,
    judged: Judged,
    mold: Mold,
    judge: MoldJudge,
    about: Mapping[str, Any],
    known: int,
) -> Brought:
    """Change one mold, and write down what was and what is."""
    changes = judged.changes
    cavities = mold.cavity_count
    facts, kept = _put(mold, row=row, judge=judge, changes=changes)
    insert(
        [
            Cavity(mold=mold, ident=str(ident))
            for ident in range(cavities + 1, mold.cavity_count + 1)
        ]
    )
    said = sentence_end(change_words(facts.before, after=facts.after, of=mold, called=CALLED))
    (entry,) = append_entries(
        [
            EntryDraft(
                chain=mold.chain_id,
                kind="opening_corrected" if OPENING_FIELDS & facts.after.keys() else "mold_edited",
                sentence=f"Changed by the file {about['file']}, row {row.row}: {said}",
                facts={
                    "mold": mold.number,
                    "before": facts.before,
                    "after": facts.after,
                    "reason": reason_of(about),
                    **about,
                    "row": row.row,
                },
            )
        ],
        happened_at=doing.now,
        written_at=doing.now,
        author=doing.person,
    )
    added = _add(
        doing, mold=mold, judge=judge, changes=changes, about=about, entry=entry, known=known
    )
    after = {**kept.after, **added}
    return Brought(row.row, MOLD_CHANGED, mold.pk, None, None, kept.before, after, entry)


def _put(
    mold: Mold, *, row: FileMold, judge: MoldJudge, changes: Mapping[str, Any]
) -> tuple[_Sides, _Sides]:
    """Change the fields of a mold; return what differs as entries say it, and as it is kept."""
    fields = {name: value for name, value in changes.items() if name in CHANGED_FIELDS}
    if "owner" in fields:
        fields["owner"] = judge.owner(fields["owner"])
    if "opening_count" in fields:
        fields |= {"opening_at": judge.opening_at(row), "opening_source": judge.file}
    facts, kept = _Sides({}, {}), _Sides({}, {})
    if fields:
        were = {name: _kept_value(mold, name) for name in fields}
        facts = _Sides(*change_record(mold, changes=fields, allowed=CHANGED_FIELDS))
        kept.before.update({name: were[name] for name in facts.after})
        kept.after.update({name: _kept_value(mold, name) for name in facts.after})
    if "cycle_time_s" in changes:
        facts.before["cycle_time_s"] = judge.cycle_time(mold).standard_s
        facts.after["cycle_time_s"] = changes["cycle_time_s"]
    if "circuits" in changes:
        facts.before["circuits"] = ""
        facts.after["circuits"] = ", ".join(map(circuit_words, changes["circuits"]))
    if "storage_place" in changes:
        facts.before["storage_place"] = ""
        facts.after["storage_place"] = changes["storage_place"]
    return facts, kept


def _add(
    doing: Doing,
    *,
    mold: Mold,
    judge: MoldJudge,
    changes: Mapping[str, Any],
    about: Mapping[str, Any],
    entry: int,
    known: int,
) -> dict[str, Any]:
    """Add what a mold gets beside its fields; return the keys of the rows.

    Those are circuits, a cycle time, its first place.
    """
    added: dict[str, Any] = {}
    if "circuits" in changes:
        circuits = Circuit.objects.bulk_create(made_circuits(mold, circuits=changes["circuits"]))
        added["circuits"] = [[row.pk, *circuit_kept(row)] for row in circuits]
    if "cycle_time_s" in changes:
        seconds = judge.cycle_time(mold).with_standard(changes["cycle_time_s"])
        row = CycleTime.objects.create(
            mold=mold,
            standard_s=seconds.standard_s,
            shortest_s=seconds.shortest_s,
            valid_from=doing.now,
            reason=reason_of(about),
            entry_id=entry,
            after_reading=known,
            written_at=doing.now,
        )
        added["cycle_time_s"] = row.pk
    place = judge.spot(changes.get("storage_place", ""))
    if place is not None:
        move = first_move(doing, mold=mold, place=place, entry=entry)
        move.save()
        added["storage_place"] = move.pk
    return added


def first_move(doing: Doing, *, mold: Mold, place: Spot, entry: int) -> Move:
    """Return the move that brings a mold to its place, not saved."""
    return Move(
        mold=mold,
        spot=place,
        at=doing.now,
        person=doing.person,
        entry_id=entry,
        written_at=doing.now,
    )


def reason_of(about: Mapping[str, Any]) -> str:
    """Return on whose word a mold is as it is."""
    return f"register {about['file']}"[:200]


def _kept_value(mold: Mold, name: str) -> Any:
    """Return a field of a mold's record as JSON keeps it: another record by its key."""
    field: Any = mold._meta.get_field(name)
    value = getattr(mold, field.attname)
    return value if value is None or isinstance(value, (bool, int, str)) else str(value)


def circuit_kept(circuit: Circuit) -> tuple[str, ...]:
    """Return what there is of a circuit, as JSON keeps it, to see whether it changed since."""
    facts = record_facts(circuit, fields=CIRCUIT_FIELDS)
    return tuple(f"{name}={_plain(value)}" for name, value in sorted(facts.items()))


def _plain(value: Any) -> str:
    """Return a value in one spelling, however many zeros a column keeps behind it."""
    return f"{value.normalize():f}" if isinstance(value, Decimal) else str(value)
