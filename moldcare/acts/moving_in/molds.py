"""Bringing in a mold register: what is good of it, in one transaction."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from moldcare.acts.doing import Doing, checked, once
from moldcare.acts.locks import known_so_far, lock_numbers
from moldcare.acts.moving_in.mold_changes import change_molds, first_move, reason_of
from moldcare.acts.moving_in.mold_fields import CHANGED_FIELDS
from moldcare.acts.moving_in.mold_judge import MoldJudge, made_circuits
from moldcare.acts.moving_in.values import (
    MOLD_ADDED,
    OWNER_ADDED,
    RACK_ADDED,
    Became,
    Brought,
    FileMold,
    Judged,
    Keeper,
    MovedIn,
)
from moldcare.acts.records import record_facts
from moldcare.acts.refresh import refresh_counts
from moldcare.acts.rights import Right, require
from moldcare.acts.words import place_fact, tidy
from moldcare.bulk import insert
from moldcare.logbook.append import EntryDraft, append_entries, new_chains, plant_chain
from moldcare.logbook.models import Chain
from moldcare.molds.models import (
    Cavity,
    CycleTime,
    Mold,
    Owner,
    name_key,
    sort_key,
)
from moldcare.plant.models import Spot
from moldcare.plant.queries import the_plant


class _Taken(NamedTuple):
    """A row that is written, with its verdict."""

    row: FileMold
    judged: Judged


@dataclass(frozen=True, kw_only=True, slots=True)
class _Made:
    """What a batch made on the way, by the first row that names it: owners, racks."""

    owners: dict[int, Owner]
    racks: dict[int, Spot]
    racks_in_use_again: dict[int, Spot]

    def brought(self, *, entry: int) -> list[Brought]:
        """Return them as what the batch brought."""
        made = {"is_in_use": True}
        return [
            *(
                Brought(row, OWNER_ADDED, None, None, None, {}, {}, entry, owner=owner.pk)
                for row, owner in self.owners.items()
            ),
            *(
                Brought(row, RACK_ADDED, None, None, None, before, made, entry, spot=spot.pk)
                for racks, before in (
                    (self.racks, {}),
                    (self.racks_in_use_again, {"is_in_use": False}),
                )
                for row, spot in racks.items()
            ),
        ]


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
        made = _make(new + changed, judge=judge)
        about = {"file": tidy(name), "batch": batch}
        brought = _add(doing, new, judge=judge, about=about) if new else []
        counters: set[int] = set()
        if changed:
            of_changed, counters = change_molds(doing, changed, judge=judge, about=about)
            brought += of_changed
        entry = _entry(doing, about=about, sha256=sha256, counts=counts, made=made)
        refresh_counts(
            counters=counters, molds={each.mold for each in brought if each.mold is not None}
        )
        keeper.end([*brought, *made.brought(entry=entry)])
        return {"batch_id": batch, "entry_id": entry, "counts": counts}

    return MovedIn(**once(doing, "import_molds", {"sha256": sha256, **body}, do))


def _lock_molds(keys: Any) -> None:
    wanted = sorted(set(keys))
    if wanted:
        rows = Mold.objects.select_for_update(of=("self",), no_key=True)
        list(rows.filter(pk__in=wanted).order_by("pk").values_list("pk"))


def _make(taken: Sequence[_Taken], *, judge: MoldJudge) -> _Made:
    """Make the owners and racks that rows name and that are not there."""
    made = _Made(owners={}, racks={}, racks_in_use_again={})
    for each in taken:
        row, changes = each.row, each.judged.changes
        is_new = each.judged.became is Became.NEW
        if row.owner and (is_new or "owner" in changes) and judge.owner(row.owner) is None:
            made.owners[row.row] = _new_owner(tidy(row.owner), judge=judge)
        if (
            row.storage_place
            and (is_new or "storage_place" in changes)
            and judge.spot(row.storage_place) is None
        ):
            _make_rack(row, judge=judge, made=made)
    return made


def _new_owner(name: str, *, judge: MoldJudge) -> Owner:
    owner = Owner(name=name)
    checked(owner)
    owner.save()
    judge.owners[name_key(name)] = owner
    return owner


def _make_rack(row: FileMold, *, judge: MoldJudge, made: _Made) -> None:
    number = tidy(row.storage_place)
    rack = judge.rack_out_of_use(number)
    if rack is None:
        rack = Spot(kind=Spot.Kind.RACK, number=number)
        checked(rack)
        made.racks[row.row] = rack
    else:
        rack.is_in_use = True
        made.racks_in_use_again[row.row] = rack
    rack.save()
    judge.spots[name_key(number)] = rack


def _add(
    doing: Doing, taken: Sequence[_Taken], *, judge: MoldJudge, about: Mapping[str, Any]
) -> list[Brought]:
    molds = [judge.filled(each.row) for each in taken]
    chains = new_chains(Chain.Kind.MOLD, [mold.number for mold in molds])
    places: list[Spot | None] = []
    for mold, chain, each in zip(molds, chains, taken, strict=True):
        mold.chain = chain
        mold.owner = judge.owner(each.row.owner) if each.row.owner else None
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
        made_circuits(mold, circuits=each.row.circuits)
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
                    "circuits": [
                        {
                            "ident": row.ident,
                            "half": str(row.half),
                            "bore_mm": row.bore_mm,
                            "length_mm": row.length_mm,
                        }
                        for row in rows
                    ],
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
                reason=reason_of(about),
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
            first_move(doing, mold=mold, place=place, entry=entry)
            for mold, place, entry in zip(molds, places, entries, strict=True)
            if place is not None
        ]
    )
    return [
        Brought(each.row.row, MOLD_ADDED, mold.pk, None, None, {}, {}, entry)
        for mold, each, entry in zip(molds, taken, entries, strict=True)
    ]


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
    owners = [owner.name for owner in made.owners.values()]
    racks = [rack.number for rack in made.racks.values()]
    again = [rack.number for rack in made.racks_in_use_again.values()]
    for what, names in (
        ("Owners made", owners),
        ("Racks made", racks),
        ("Racks put in use", again),
    ):
        if names:
            sentence += f" {what}: {', '.join(names)}."
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
                    "owners": owners,
                    "racks": racks,
                    "racks_in_use": again,
                },
            )
        ],
        happened_at=doing.now,
        written_at=doing.now,
        author=doing.person,
    )
    return entry
