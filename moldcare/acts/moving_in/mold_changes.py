"""Putting on molds that are there what was chosen of a register, with what was before."""

from collections.abc import Mapping, Sequence
from typing import Any

from moldcare.acts.doing import Doing
from moldcare.acts.locks import counters_that_count, known_so_far
from moldcare.acts.molds.identity import MOLD_FIELDS
from moldcare.acts.moving_in.mold_judge import MoldJudge, circuit_words, made_circuits
from moldcare.acts.moving_in.values import MOLD_CHANGED, Brought, FileMold, Judged
from moldcare.acts.records import change_record, change_words, fact_value
from moldcare.acts.words import sentence_end
from moldcare.bulk import insert
from moldcare.logbook.append import EntryDraft, append_entries
from moldcare.molds.models import Cavity, CycleTime, Mold, Move
from moldcare.plant.models import Spot

#: Fields of a mold that a register can change.
CHANGED_FIELDS = tuple(each for each in MOLD_FIELDS if each not in {"number", "reading_age_shifts"})
_OPENING = frozenset({"opening_count", "opening_at", "opening_source"})
# names of what is no field of a mold, or reads better beside another word
_CALLED = {
    "cycle_time_s": "standard cycle in s",
    "circuits": "circuits",
    "storage_place": "place",
    "opening_count": "cycles before our records",
}


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
    before, after = _put(mold, row=row, judge=judge, changes=changes)
    insert(
        [
            Cavity(mold=mold, ident=str(ident))
            for ident in range(cavities + 1, mold.cavity_count + 1)
        ]
    )
    said = sentence_end(change_words(before, after=after, of=mold, called=_CALLED))
    (entry,) = append_entries(
        [
            EntryDraft(
                chain=mold.chain_id,
                kind="opening_corrected" if _OPENING & after.keys() else "mold_edited",
                sentence=f"Changed by the file {about['file']}, row {row.row}: {said}",
                facts={
                    "mold": mold.number,
                    "before": before,
                    "after": after,
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
    _add(doing, mold=mold, judge=judge, changes=changes, about=about, entry=entry, known=known)
    kept = _kept(before), _kept(after)
    return Brought(row.row, MOLD_CHANGED, mold.pk, None, None, *kept, entry)


def _put(
    mold: Mold, *, row: FileMold, judge: MoldJudge, changes: Mapping[str, Any]
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Change the fields of a mold; return what differs in all, before and after."""
    fields = {name: value for name, value in changes.items() if name in CHANGED_FIELDS}
    if "owner" in fields:
        fields["owner"] = judge.owner(fields["owner"])
    if "opening_count" in fields:
        fields |= {"opening_at": judge.opening_at(row), "opening_source": judge.file}
    before: dict[str, Any] = {}
    after: dict[str, Any] = {}
    if fields:
        before, after = change_record(mold, changes=fields, allowed=CHANGED_FIELDS)
    if "cycle_time_s" in changes:
        before["cycle_time_s"] = fact_value(judge.cycle_times.get(mold.pk))
        after["cycle_time_s"] = changes["cycle_time_s"]
    if "circuits" in changes:
        before["circuits"], after["circuits"] = (
            "",
            ", ".join(map(circuit_words, changes["circuits"])),
        )
    if "storage_place" in changes:
        before["storage_place"], after["storage_place"] = "", changes["storage_place"]
    return before, after


def _add(
    doing: Doing,
    *,
    mold: Mold,
    judge: MoldJudge,
    changes: Mapping[str, Any],
    about: Mapping[str, Any],
    entry: int,
    known: int,
) -> None:
    """Add what a mold gets beside its fields: circuits, a cycle time, its first place."""
    insert(made_circuits(mold, circuits=changes.get("circuits", ())))
    if "cycle_time_s" in changes:
        CycleTime.objects.create(
            mold=mold,
            standard_s=changes["cycle_time_s"],
            valid_from=doing.now,
            reason=reason_of(about),
            entry_id=entry,
            after_reading=known,
            written_at=doing.now,
        )
    place = judge.spot(changes.get("storage_place", ""))
    if place is not None:
        first_move(doing, mold=mold, place=place, entry=entry).save()


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


def _kept(facts: Mapping[str, Any]) -> dict[str, Any]:
    """Return values as JSON keeps them."""
    return {
        name: value if value is None or isinstance(value, (bool, int, str)) else str(value)
        for name, value in facts.items()
    }
