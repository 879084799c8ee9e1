"""Bringing in a mold register: what is good of it, in one transaction."""

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing, checked, once
from moldcare.acts.errors import DoesNotFit
from moldcare.acts.locks import counters_that_count, known_so_far, lock_numbers
from moldcare.acts.moving_in.mold_judge import MoldJudge, half_of
from moldcare.acts.moving_in.values import (
    MOLD_ADDED,
    MOLD_CHANGED,
    Became,
    Brought,
    FileMold,
    Judged,
    Keeper,
    MovedIn,
)
from moldcare.acts.records import change_record, change_words, fact_value, record_facts
from moldcare.acts.refresh import refresh_counts
from moldcare.acts.rights import Right, require
from moldcare.acts.words import place_fact, sentence_end, tidy
from moldcare.bulk import insert
from moldcare.logbook.append import EntryDraft, append_entries, new_chains, plant_chain
from moldcare.logbook.models import Chain
from moldcare.molds.models import (
    Cavity,
    Circuit,
    CycleTime,
    Mold,
    Move,
    Owner,
    name_key,
    sort_key,
)
from moldcare.plant.models import Spot
from moldcare.plant.queries import the_plant

CHANGED_FIELDS = (
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
)
_OPENING = frozenset({"opening_count", "opening_at", "opening_source"})


class _Taken(NamedTuple):
    """A row that is written, with its verdict."""

    row: FileMold
    judged: Judged


class _Made(NamedTuple):
    """What a batch made on the way, by key: owners and racks that were not there."""

    owners: list[str]
    racks: list[str]


def import_molds(
    doing: Doing,
    *,
    name: str,
    sha256: str,
    body: Mapping[str, Any],
    rows: Sequence[FileMold],
    keeper: Keeper,
) -> MovedIn:
    """Bring in the molds of a register: new ones are added, differences only where chosen.

    Owners and racks that are not there are made. Each mold that is written to has an entry in its
    chain, and the plant's chain one for the batch.

    Parameters
    ----------
    doing : Doing
        Who does it; needs the right to import.
    name, sha256 : str
        The file's name, which opening counts stand on, and the hash of its bytes.
    body : mapping
        What else the answer depends on, for a hand-in that comes twice.
    rows : sequence of FileMold
        All rows that can be read.
    keeper : Keeper
        Keeps the batch.
    """
    require(doing.person, Right.IMPORT)

    def do() -> dict[str, Any]:
        _lock_molds(row.mold for row in rows if row.mold is not None)
        lock_numbers()
        judge = MoldJudge(now=doing.now, plant=the_plant(), file=name)
        judged = [judge.judge(row) for row in rows]
        batch, counts = keeper.judged(judged)
        taken = [_Taken(*pair) for pair in zip(rows, judged, strict=True)]
        new = [each for each in taken if each.judged.became is Became.NEW]
        changed = [each for each in taken if each.judged.became is Became.CHANGED]
        made = _make_owners(new + changed, judge=judge), _make_racks(new + changed, judge=judge)
        about = {"file": tidy(name), "batch": batch}
        brought = _add(doing, new, judge=judge, about=about) if new else []
        counters: set[int] = set()
        if changed:
            brought += _change(doing, changed, judge=judge, about=about, counters=counters)
        entry = _entry(doing, about=about, sha256=sha256, counts=counts, made=_Made(*made))
        refresh_counts(counters=counters, molds={each.mold for each in brought})
        keeper.end(brought)
        return {"batch_id": batch, "entry_id": entry, "counts": counts}

    return MovedIn(**once(doing, "import_molds", {"sha256": sha256, **body}, do))


def _lock_molds(keys: Any) -> None:
    wanted = sorted(set(keys))
    if wanted:
        rows = Mold.objects.select_for_update(of=("self",), no_key=True)
        list(rows.filter(pk__in=wanted).order_by("pk").values_list("pk"))


def _make_owners(taken: Sequence[_Taken], *, judge: MoldJudge) -> list[str]:
    made = []
    for each in taken:
        name = tidy(each.row.owner)
        if each.judged.became is Became.CHANGED and "owner" not in each.judged.changes:
            continue
        if name and name_key(name) not in judge.owners:
            row = Owner(name=name)
            checked(row)
            row.save()
            judge.owners[name_key(name)] = row
            made.append(name)
    return made


def _make_racks(taken: Sequence[_Taken], *, judge: MoldJudge) -> list[str]:
    made = []
    for each in taken:
        number = tidy(each.row.storage_place)
        if each.judged.became is Became.CHANGED and "storage_place" not in each.judged.changes:
            continue
        if number and judge.spot(number) is None:
            kind = Spot.Kind.RACK
            row = Spot.objects.filter(kind=kind, number=number).first() or Spot(
                kind=kind, number=number
            )
            if not row.is_in_use:
                raise DoesNotFit(
                    _("Rack %(rack)s is out of use. Put it in use, or name another place.")
                    % {"rack": number}
                )
            checked(row)
            row.save()
            judge.spots[name_key(number)] = row
            made.append(number)
    return made


def _add(
    doing: Doing, taken: Sequence[_Taken], *, judge: MoldJudge, about: Mapping[str, Any]
) -> list[Brought]:
    molds = [judge.filled(each.row) for each in taken]
    chains = new_chains(Chain.Kind.MOLD, [mold.number for mold in molds])
    places: list[Spot | None] = []
    for mold, chain, each in zip(molds, chains, taken, strict=True):
        mold.chain = chain
        mold.owner = judge.owners.get(name_key(tidy(each.row.owner))) if each.row.owner else None
        mold.number_key, mold.sort_key = name_key(mold.number), sort_key(mold.number)
        place = judge.spot(each.row.storage_place) if each.row.storage_place else None
        places.append(None if place is not None and place.kind == Spot.Kind.PRESS else place)
    Mold.objects.bulk_create(molds)
    insert(
        [
            Cavity(mold=mold, ident=str(ident))
            for mold in molds
            for ident in range(1, mold.cavity_count + 1)
        ]
    )
    circuits = [
        [
            Circuit(mold=mold, ident=tidy(ident), half=half_of(ident) or Circuit.Half.A)
            for ident in each.row.circuits
        ]
        for mold, each in zip(molds, taken, strict=True)
    ]
    insert([row for rows in circuits for row in rows])
    entries = append_entries(
        [
            EntryDraft(
                chain=mold.chain_id,
                kind="mold_added",
                sentence=_added_sentence(mold, file=about["file"], row=each.row.row),
                facts={
                    **record_facts(mold, fields=("number", *CHANGED_FIELDS)),
                    "standard_cycle_s": each.row.cycle_time_s,
                    "circuits": [{"ident": row.ident, "half": str(row.half)} for row in rows],
                    "place": place_fact(place) if place else None,
                    **about,
                    "row": each.row.row,
                },
            )
            for mold, each, rows, place in zip(molds, taken, circuits, places, strict=True)
        ],
        happened_at=doing.now,
        written_at=doing.now,
        author=doing.person,
    )
    known = known_so_far(())
    insert(
        [
            CycleTime(
                mold=mold,
                standard_s=each.row.cycle_time_s,
                valid_from=mold.opening_at,
                reason=_reason(about),
                entry_id=entry,
                after_reading=known,
                written_at=doing.now,
            )
            for mold, each, entry in zip(molds, taken, entries, strict=True)
            if each.row.cycle_time_s is not None
        ]
    )
    insert(
        [
            _move(doing, mold=mold, place=place, entry=entry)
            for mold, place, entry in zip(molds, places, entries, strict=True)
            if place is not None
        ]
    )
    return [
        Brought(each.row.row, MOLD_ADDED, mold.pk, None, None, {}, {}, entry)
        for mold, each, entry in zip(molds, taken, entries, strict=True)
    ]


def _change(
    doing: Doing,
    taken: Sequence[_Taken],
    *,
    judge: MoldJudge,
    about: Mapping[str, Any],
    counters: set[int],
) -> list[Brought]:
    """Put what was chosen on molds that are there; `counters` gets those to be judged again."""
    pairs = [(each, judge.here(each.row)) for each in taken]
    for each, mold in pairs:
        if mold is not None and "cycle_time_s" in each.judged.changes:
            counters |= counters_that_count(mold)
    known = known_so_far(counters)
    brought = []
    for each, mold in pairs:
        if mold is None:
            continue
        changes = dict(each.judged.changes)
        seconds = changes.pop("cycle_time_s", None)
        circuits = changes.pop("circuits", [])
        place = changes.pop("storage_place", "")
        if "owner" in changes:
            changes["owner"] = judge.owners[name_key(changes["owner"])]
        if "opening_count" in changes:
            changes |= {"opening_at": judge.opening_at(each.row), "opening_source": judge.file}
        before: dict[str, Any] = {}
        after: dict[str, Any] = {}
        cavities = mold.cavity_count
        if changes:
            before, after = change_record(mold, changes=changes, allowed=CHANGED_FIELDS)
        insert(
            [
                Cavity(mold=mold, ident=str(ident))
                for ident in range(cavities + 1, mold.cavity_count + 1)
            ]
        )
        if seconds is not None:
            before["cycle_time_s"] = fact_value(judge.cycle_times.get(mold.pk))
            after["cycle_time_s"] = seconds
        if circuits:
            before["circuits"], after["circuits"] = "", ", ".join(circuits)
        if place:
            before["storage_place"], after["storage_place"] = "", place
        said = change_words(before, after=after, of=mold, called=_CALLED)
        (entry,) = append_entries(
            [
                EntryDraft(
                    chain=mold.chain_id,
                    kind="opening_corrected" if _OPENING & after.keys() else "mold_edited",
                    sentence=(
                        f"Changed by the file {about['file']}, row {each.row.row}: "
                        f"{sentence_end(said)}"
                    ),
                    facts={
                        "mold": mold.number,
                        "before": before,
                        "after": after,
                        "reason": _reason(about),
                        **about,
                        "row": each.row.row,
                    },
                )
            ],
            happened_at=doing.now,
            written_at=doing.now,
            author=doing.person,
        )
        insert(
            [
                Circuit(mold=mold, ident=ident, half=half_of(ident) or Circuit.Half.A)
                for ident in circuits
            ]
        )
        if seconds is not None:
            CycleTime.objects.create(
                mold=mold,
                standard_s=seconds,
                valid_from=doing.now,
                reason=_reason(about),
                entry_id=entry,
                after_reading=known,
                written_at=doing.now,
            )
        spot = judge.spot(place) if place else None
        if spot is not None:
            _move(doing, mold=mold, place=spot, entry=entry).save()
        brought.append(
            Brought(
                each.row.row,
                MOLD_CHANGED,
                mold.pk,
                None,
                None,
                _kept(before),
                _kept(after),
                entry,
            )
        )
    return brought


_CALLED = {
    "cycle_time_s": "standard cycle in s",
    "circuits": "circuits",
    "storage_place": "place",
    "opening_count": "cycles before our records",
}


def _move(doing: Doing, *, mold: Mold, place: Spot, entry: int) -> Move:
    return Move(
        mold=mold,
        spot=place,
        at=doing.now,
        person=doing.person,
        entry_id=entry,
        written_at=doing.now,
    )


def _kept(facts: Mapping[str, Any]) -> dict[str, Any]:
    """Return values as JSON keeps them."""
    return {
        name: value if value is None or isinstance(value, (bool, int, str)) else str(value)
        for name, value in facts.items()
    }


def _reason(about: Mapping[str, Any]) -> str:
    return f"register {about['file']}"[:200]


def _added_sentence(mold: Mold, *, file: str, row: int) -> str:
    count = "cavity" if mold.cavity_count == 1 else "cavities"
    return (
        f"Mold {mold.number}, {mold.name}, brought in from the file {file}, row {row}: "
        f"{mold.cavity_count} {count}, life count before our records {mold.opening_count:,}."
    )


def _entry(
    doing: Doing,
    *,
    about: Mapping[str, Any],
    sha256: str,
    counts: Mapping[str, int],
    made: _Made,
) -> int:
    said = ", ".join(f"{number} {word.replace('_', ' ')}" for word, number in counts.items())
    sentence = f"Molds brought in from the file {about['file']}: {said or 'nothing in it'}."
    for what, names in (("Owners", made.owners), ("Racks", made.racks)):
        if names:
            sentence += f" {what} made: {', '.join(names)}."
    (entry,) = append_entries(
        [
            EntryDraft(
                chain=plant_chain().pk,
                kind="molds imported",
                sentence=sentence,
                facts={
                    **about,
                    "sha256": sha256,
                    "counts": dict(counts),
                    "owners": made.owners,
                    "racks": made.racks,
                },
            )
        ],
        happened_at=doing.now,
        written_at=doing.now,
        author=doing.person,
    )
    return entry
