"""What a register changed on molds that were there goes back, but for what was touched since."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from moldcare.acts.doing import Doing
from moldcare.acts.floor import block_cavity, move_mold
from moldcare.acts.molds import change_cycle_time, edit_circuit, edit_mold, edit_owner, take_off
from moldcare.acts.moving_in import MovedIn
from moldcare.acts.plant import edit_spot
from moldcare.acts.rebuild import first_difference
from moldcare.acts.taking_back import Undone
from moldcare.feeds.models import ImportBatch
from moldcare.feeds.register.rows import MoldRow
from moldcare.feeds.undo import undo_import
from moldcare.logbook.models import Entry
from moldcare.logbook.verify import verify_logbook
from moldcare.molds.models import Mold, MoveTakenBack, Owner
from moldcare.molds.queries import owners_in_use, place_of
from moldcare.plant.models import Spot
from tests import factories
from tests.acts.registers import brought_in
from tests.feeds.register.reading import circuits

EVERYTHING: dict[str, Any] = {
    "name": "lid, 38 mm",
    "mold_class": "103",
    "cavity_count": 4,
    "mass_a_kg": Decimal("412.5"),
    "mass_b_kg": Decimal("388"),
    "owner": "Norda Medical",
    "resin": "POM",
    "resin_group": "gassy",
    "filler": "glass",
    "finish": "A-2",
    "cycle_time_s": Decimal("18"),
    "storage_place": "R-07",
    "circuits": circuits("A1", "B1"),
    "opening_count": 12_000,
    "drawing_revision": "C",
}


@pytest.fixture(autouse=True)
def plant(db: None) -> None:
    """The plant, with nothing in it."""
    factories.plant()


@pytest.fixture
def mold(doing: Doing) -> Mold:
    """A mold of which little is known, a week old."""
    before = replace(doing, now=doing.now - timedelta(days=7))
    brought_in(before, [MoldRow(row=2, number="0418", name="cap", opening_count=9_000)])
    return Mold.objects.get()


def changed(doing: Doing, **fields: Any) -> MovedIn:
    """Bring in a register that says this of the mold, and take its word."""
    row = MoldRow(row=5, number="0418", **{"name": "cap", **fields})
    return brought_in(doing, [row], name="second.csv", changes="take")[0]


def undone(doing: Doing, done: MovedIn) -> Undone:
    """The answer to taking an import back, some minutes later."""
    later = replace(doing, now=doing.now + timedelta(minutes=5))
    batch = ImportBatch.objects.get(pk=done.batch_id)
    return undo_import(later, batch=batch, reason="wrong file")


def facts_of(mold: Mold) -> dict[str, Any]:
    """All that there is of a mold, as it can be compared."""
    row = Mold.objects.filter(pk=mold.pk).values().get()
    times = mold.cycle_times.order_by("valid_from", "id").last()
    place = place_of(mold)
    return {
        **row,
        "cavities": sorted(mold.cavities.values_list("ident", flat=True)),
        "circuits": sorted(mold.circuits.values_list("ident", flat=True)),
        "cycle": (times.standard_s, times.shortest_s) if times else (None, None),
        "place": place.spot.number if place else None,
    }


def test_every_thing_that_a_register_can_change_goes_back(doing: Doing, mold: Mold) -> None:
    before = facts_of(mold)
    done = changed(doing, **EVERYTHING)
    between = facts_of(mold)
    # the test holds for what registers learn to say later, too
    said = {key for key in between if between[key] != before[key]}
    assert {"cavities", "circuits", "cycle", "place", "owner_id"} <= said
    assert set(EVERYTHING) - {"owner", "storage_place", "circuits", "cycle_time_s"} <= said
    answer = undone(doing, done)
    assert answer.stayed == []
    assert answer.counts == {"molds_put_back": 1, "owners_withdrawn": 1, "racks_out_of_use": 1}
    assert facts_of(mold) == before
    assert first_difference() is None
    assert verify_logbook().is_whole


def test_the_logbook_says_what_went_back_beside_what_it_corrects(doing: Doing, mold: Mold) -> None:
    done = changed(doing, **EVERYTHING)
    undone(doing, done)
    wrong, entry = Entry.objects.filter(chain=mold.chain).order_by("number")[1:]
    assert entry.corrects == wrong
    for said in (
        "The import of the file second.csv was taken back: ",
        "cycles before our records: 12,000 → 9,000",
        "cavities: 4 → 1",
        "circuits: A1, B1 → -",
        "standard cycle in s: 18.00 → -",
        "place: rack R-07 → -",
        "Reason: wrong file.",
    ):
        assert said in entry.sentence


@pytest.mark.parametrize("name", sorted(set(EVERYTHING) - {"circuits", "storage_place"}))
def test_what_somebody_changed_since_stays_and_the_rest_goes_back(
    doing: Doing, mold: Mold, name: str
) -> None:
    done = changed(doing, **EVERYTHING)
    mold.refresh_from_db()
    since: dict[str, Any] = {
        "cavity_count": 8,
        "mold_class": "105",
        "resin_group": "corrosive",
        "filler": "none",
        "opening_count": 12_345,
        "owner": None,
    }
    if name == "cycle_time_s":
        seconds = {"standard_s": Decimal("17"), "valid_from": doing.now, "reason": "new gate"}
        change_cycle_time(doing, mold=mold, **seconds)
    else:
        value = since.get(name, 99 if name.startswith("mass") else "other")
        edit_mold(doing, mold=mold, changes={name: value}, reason="measured")
    kept = facts_of(mold)
    answer = undone(doing, done)
    assert "It was changed since." in {row["why"] for row in answer.stayed}
    assert {row["what"].partition(":")[0] for row in answer.stayed} == {"Mold 0418"}
    after = facts_of(mold)
    own = {"cycle_time_s": "cycle", "owner": "owner_id", "cavity_count": "cavities"}.get(name, name)
    assert after[own] == kept[own]
    assert (after["resin"] == "") is (name != "resin")
    assert answer.counts["molds_put_back"] == 1
    assert first_difference() is None


def test_a_cavity_that_is_used_by_now_keeps_all_cavities(doing: Doing, mold: Mold) -> None:
    done = changed(doing, cavity_count=4, resin="POM")
    block_cavity(doing, cavity=mold.cavities.get(ident="3"), at=doing.now, reason="burr")
    answer = undone(doing, done)
    assert answer.stayed == [{"row": 5, "what": "Mold 0418: cavities", "why": "Cavity 3 is used."}]
    mold.refresh_from_db()
    assert (mold.cavity_count, mold.cavities.count(), mold.resin) == (4, 4, "")


def test_circuits_that_rules_or_people_rely_on_stay(doing: Doing, mold: Mold) -> None:
    done = changed(doing, circuits=circuits("A1", "A2", "A3", "A4"))
    ruled, edited, gone, _free = mold.circuits.order_by("ident")
    factories.care_rule(mold=mold, target="circuit", circuit=ruled, name="Descale")
    edit_circuit(doing, circuit=edited, changes={"bends": 6})
    take_off(doing, part=gone, reason="welded shut")
    answer = undone(doing, done)
    assert [(row["what"], row["why"]) for row in answer.stayed] == [
        ("Mold 0418: circuit A1", "Care rule “Descale” looks after A1, so it stays."),
        ("Mold 0418: circuit A2", "It was changed since."),
    ]
    assert list(mold.circuits.order_by("ident").values_list("ident", flat=True)) == ["A1", "A2"]


def test_a_mold_that_was_moved_since_keeps_its_places(doing: Doing, mold: Mold) -> None:
    done = changed(doing, storage_place="R-07", resin="POM")
    bench = factories.spot(kind="bench")
    later = replace(doing, now=doing.now + timedelta(minutes=1))
    move_mold(later, mold=mold, to=bench, at=later.now)
    answer = undone(doing, done)
    assert [(row["what"], row["why"]) for row in answer.stayed] == [
        ("Mold 0418: storage place", "It was moved since."),
        ("Rack R-07", "Mold 0418 is or was there."),
    ]
    assert not MoveTakenBack.objects.exists()


def test_the_shortest_cycle_stays_with_another_standard_cycle(doing: Doing, mold: Mold) -> None:
    seconds = {"standard_s": Decimal("20"), "shortest_s": Decimal("16"), "reason": "measured"}
    change_cycle_time(doing, mold=mold, valid_from=doing.now, **seconds)  # type: ignore[arg-type]
    later = replace(doing, now=doing.now + timedelta(hours=1))
    done = changed(later, cycle_time_s=Decimal("18"))
    assert facts_of(mold)["cycle"] == (18, 16)
    undone(later, done)
    assert facts_of(mold)["cycle"] == (20, 16)
    # the wrong one never counted: the right one is true from the same instant on
    times = list(mold.cycle_times.order_by("id"))
    assert times[-1].valid_from == times[-2].valid_from


def test_owners_and_racks_that_something_uses_stay(doing: Doing, mold: Mold) -> None:
    done = changed(doing, owner="Norda Medical", storage_place="R-07")
    owner, rack = Owner.objects.get(), Spot.objects.get()
    factories.mold(number="9001", owner=owner)
    factories.move(factories.mold(number="9002"), to=rack, author=doing.person, at=doing.now)
    answer = undone(doing, done)
    assert [(row["what"], row["why"]) for row in answer.stayed] == [
        ("Owner Norda Medical", "Mold 9001 is theirs."),
        ("Rack R-07", "Mold 9002 is or was there."),
    ]
    assert owner in owners_in_use()
    rack.refresh_from_db()
    assert rack.is_in_use


def test_owners_and_racks_that_somebody_filled_in_stay(doing: Doing, mold: Mold) -> None:
    done = changed(doing, owner="Norda Medical", storage_place="R-07")
    edit_owner(doing, owner=Owner.objects.get(), changes={"retention_years": 10})
    edit_spot(doing, spot=Spot.objects.get(), changes={"name": "left of the door"})
    answer = undone(doing, done)
    assert [row["why"] for row in answer.stayed] == ["It was changed since."] * 2
    assert Owner.objects.get().withdrawn_at is None


def test_the_right_register_makes_owners_and_racks_again(doing: Doing, mold: Mold) -> None:
    undone(doing, changed(doing, owner="Norda Medical", storage_place="R-07"))
    later = replace(doing, now=doing.now + timedelta(hours=1))
    row = MoldRow(row=3, number="0420", name="lid", owner="norda medical", storage_place="r-07")
    done, told = brought_in(later, [row])
    assert "Rack r-07 was out of use and is put in use." in told[0].reason
    assert "Owner norda medical is made." in told[0].reason
    assert [owner.name for owner in owners_in_use()] == ["norda medical"]
    assert Spot.objects.get().is_in_use
    # and out of use again with that one
    assert undone(later, done).counts == {
        "molds_withdrawn": 1,
        "owners_withdrawn": 1,
        "racks_out_of_use": 1,
    }
    assert not Spot.objects.get().is_in_use


def test_a_change_that_was_put_back_is_no_later_fact_of_the_mold(doing: Doing, mold: Mold) -> None:
    second = changed(doing, resin="POM")
    undone(doing, second)
    first = ImportBatch.objects.order_by("id").first()
    assert first is not None
    answer = undo_import(doing, batch=first, reason="wrong, too")
    assert answer.counts == {"molds_withdrawn": 1}
    assert answer.stayed == []
