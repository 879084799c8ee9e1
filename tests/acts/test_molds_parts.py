"""Cavities, positions, circuits and configurations: named, listed, taken off, and copied."""

import json
from datetime import timedelta
from io import BytesIO
from typing import Any
from uuid import UUID

import pytest
from PIL import Image

from moldcare.acts.doing import Doing
from moldcare.acts.errors import DoesNotFit, Incomplete, NotAllowed
from moldcare.acts.files import add_file
from moldcare.acts.floor import Change, fit_component, note_change
from moldcare.acts.molds import (
    CavityNamed,
    NewItem,
    add_circuit,
    add_component,
    add_configuration,
    add_position,
    attach_marking,
    copy_mold,
    edit_circuit,
    edit_configuration,
    edit_mold,
    items_of,
    name_cavities,
    set_circuit_items,
    take_off,
)
from moldcare.acts.rules import add_cover, change_rule
from moldcare.care.models import CareRule, Cover
from moldcare.counters.models import Life
from moldcare.files.models import File
from moldcare.logbook.models import Entry
from moldcare.molds.models import (
    Circuit,
    CircuitItem,
    Component,
    Configuration,
    Mold,
    Position,
    Supply,
)
from moldcare.molds.queries import marking_of, modifications_of, place_of, water_map_of
from moldcare.plant.models import Person
from tests import factories

pytestmark = pytest.mark.django_db


def picture(color: str) -> bytes:
    out = BytesIO()
    Image.new("RGB", (6, 4), color).save(out, "PNG")
    return out.getvalue()


def newest(mold: Mold) -> Entry:
    return Entry.objects.filter(chain=mold.chain_id).latest("number")


def facts_of(entry: Entry) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(entry.facts)
    return found


def circuit(doing: Doing, mold: Mold, ident: str = "A1", **fields: object) -> Circuit:
    added = add_circuit(doing, mold=mold, ident=ident, half="A", **fields)
    return Circuit.objects.get(pk=added.row_id)


def position(doing: Doing, mold: Mold, ident: str = "C1") -> Position:
    return Position.objects.get(pk=add_position(doing, mold=mold, ident=ident).row_id)


def test_cavities_are_named_exchanged_and_added(doing: Doing) -> None:
    mold = factories.mold(cavity_count=2)
    first, second = mold.cavities.order_by("id")
    named = {
        first.pk: CavityNamed(ident="2", part="lid"),
        second.pk: CavityNamed(ident="1", part="cup"),
    }
    name_cavities(doing, mold=mold, named=named, cavity_count=3)
    assert list(mold.cavities.order_by("id").values_list("ident", "part")) == [
        ("2", "lid"),
        ("1", "cup"),
        ("3", ""),
    ]
    mold.refresh_from_db()
    assert mold.cavity_count == 3
    entry = newest(mold)
    assert facts_of(entry)["before"] == {"1": "", "2": ""}
    assert facts_of(entry)["after"] == {"2": "lid", "1": "cup", "3": ""}


def test_cavities_keep_names_of_their_own_and_are_never_taken_away(doing: Doing) -> None:
    mold = factories.mold(cavity_count=2)
    first, second = mold.cavities.order_by("id")
    for named, count, said in (
        ({first.pk: CavityNamed(ident="2")}, 2, "Two cavities are called 2"),
        ({first.pk: CavityNamed(ident=" ")}, 2, "Give every cavity a name"),
        ({}, 1, "keeps its cavities"),
        ({second.pk: CavityNamed(ident="2")}, 2, "Nothing is different"),
        ({first.pk: CavityNamed(ident="1", part="p" * 121)}, 2, "Part: "),
    ):
        with pytest.raises((DoesNotFit, Incomplete), match=said):
            name_cavities(doing, mold=mold, named=named, cavity_count=count)
    foreign = factories.mold().cavities.first()
    assert foreign is not None
    with pytest.raises(DoesNotFit, match="another mold"):
        name_cavities(doing, mold=mold, named={foreign.pk: CavityNamed(ident="9")}, cavity_count=2)
    assert list(mold.cavities.values_list("ident", flat=True)) == ["1", "2"]


def test_what_sits_in_a_circuit_is_listed_from_in_to_out(doing: Doing) -> None:
    mold = factories.mold()
    held, row = position(doing, mold, "C1"), circuit(doing, mold)
    items = [
        NewItem(kind="bubbler", number="1", at="c1"),
        NewItem(kind="spiral_baffle", number="1", at="gate side"),
        NewItem(kind="bubbler", number="2"),
    ]
    set_circuit_items(doing, circuit=row, items=items)
    rows = list(CircuitItem.objects.filter(circuit=row))
    assert [(each.place, each.number) for each in rows] == [(1, "1"), (2, "1"), (3, "2")]
    assert rows[0].position == held
    assert rows[1].at == "gate side"
    row.refresh_from_db()
    assert (row.bubblers, row.straight_baffles, row.spiral_baffles) == (2, 0, 1)
    set_circuit_items(doing, circuit=row, items=list(reversed(items_of(row))))
    facts = facts_of(newest(mold))
    assert [each["number"] for each in facts["before"]] == ["1", "1", "2"]
    assert [each["number"] for each in facts["after"]] == ["2", "1", "1"]
    with pytest.raises(DoesNotFit, match="listed one by one"):
        edit_circuit(doing, circuit=row, changes={"bubblers": 7})
    (half,) = water_map_of(mold).halves
    assert [each.at for each in half.circuits[0].path.items] == ["", "gate side", "C1"]


def test_a_list_that_cannot_stand_is_refused_and_the_old_one_stays(doing: Doing) -> None:
    row = circuit(doing, factories.mold())
    good = [NewItem(kind="bubbler", number="1")]
    set_circuit_items(doing, circuit=row, items=good)
    for items, said in (
        ([NewItem(kind="bubbler", number="")], "its number"),
        ([*good, *good], "listed twice"),
        ([NewItem(kind="fountain", number="1")], "Kind: "),
        ([NewItem(kind="bubbler", number=str(n)) for n in range(61)], "At most 60"),
        (good, "Nothing is different"),
    ):
        with pytest.raises((DoesNotFit, Incomplete), match=said):
            set_circuit_items(doing, circuit=row, items=items)
    assert items_of(row) == good


def test_a_list_that_comes_twice_is_written_once(doing: Doing) -> None:
    row = circuit(doing, factories.mold())
    again = Doing(person=doing.person, now=doing.now, hand_in=UUID(int=7))
    items = [NewItem(kind="bubbler", number="1")]
    first = set_circuit_items(again, circuit=row, items=items)
    assert set_circuit_items(again, circuit=row, items=items) == first


def test_what_nothing_rests_on_is_taken_off_with_a_reason(doing: Doing) -> None:
    mold = factories.mold()
    added = add_configuration(doing, mold=mold, name="left hand")
    configuration = Configuration.objects.get(pk=added.row_id)
    edit_configuration(doing, configuration=configuration, changes={"name": "left"})
    assert facts_of(newest(mold))["before"] == {"name": "left hand"}
    row, seat = circuit(doing, mold, bends=3), position(doing, mold)
    with pytest.raises(Incomplete, match="reason"):
        take_off(doing, part=row, reason=" ")
    for part in (configuration, row, seat):
        take_off(doing, part=part, reason="entered by mistake")
    for left in (mold.circuits, mold.positions, mold.configurations):
        assert not left.exists()
    said = {entry.kind: facts_of(entry) for entry in Entry.objects.filter(chain=mold.chain_id)}
    assert said["circuit_taken_off"]["was"]["bends"] == 3
    assert said["position_taken_off"]["reason"] == "entered by mistake"


def test_what_something_rests_on_stays_and_the_sentence_says_what(doing: Doing) -> None:
    mold = factories.mold()
    sat, listed, ruled = (position(doing, mold, ident) for ident in ("C1", "C2", "C3"))
    added = add_component(doing, serial="S-1", name="core pin")
    component = Component.objects.get(pk=added.row_id)
    fit_component(doing, component=component, position=sat, at=doing.now)
    first, second = circuit(doing, mold, "A1", looped_with="a2"), circuit(doing, mold, "A2")
    set_circuit_items(doing, circuit=first, items=[NewItem(kind="bubbler", number="1", at="C2")])
    factories.care_rule(mold=mold, name="Measure", target="position", position=ruled)
    for part, said in (
        (sat, "core pin S-1 sat in C1"),
        (listed, "Circuit A1 lists what sits in C2"),
        (ruled, "Care rule “Measure” looks after C3"),
        (second, "Circuit A1 is looped with A2"),
    ):
        with pytest.raises(DoesNotFit, match=said):
            take_off(doing, part=part, reason="gone")


def test_a_copy_has_all_but_pieces_and_the_past(doing: Doing) -> None:
    source = factories.mold(number="0417", cavity_count=2, mold_class="102", finish="SPI A-2")
    factories.cycle_time(source, author=doing.person)
    first, second = source.cavities.order_by("id")
    named = {first.pk: CavityNamed(ident="L", part="left"), second.pk: CavityNamed(ident="R")}
    name_cavities(doing, mold=source, named=named, cavity_count=2)
    seat = Position.objects.get(
        pk=add_position(doing, mold=source, ident="C1", is_forming=True, cavity=first).row_id
    )
    row = circuit(doing, source, bore_mm=10)
    set_circuit_items(doing, circuit=row, items=[NewItem(kind="bubbler", number="1", at="C1")])
    add_configuration(doing, mold=source, name="left hand")
    Supply.objects.create(number="G-1", name="grease").molds.add(source)
    covered = factories.care_rule(mold=source, name="Wipe", count_base=3_000)
    factories.step(covered)
    rule = factories.care_rule(
        mold=source, name="Clean seat", target="position", position=seat, count_base=20_000
    )
    factories.care_rule(mold=source, name="Flush", target="circuit", circuit=row, count_base=50_000)
    add_cover(doing, covering=rule, covered=covered)
    change_rule(doing, rule=covered, changes={"count_base": 2_500}, reason="gassy lot")
    rack = factories.spot(kind="rack")

    answer = copy_mold(
        doing, source=source, number="0418", name="twin", place=rack, opening_count=500
    )

    mold = Mold.objects.get(pk=answer.row_id)
    assert (mold.mold_class, mold.finish, mold.cavity_count) == ("102", "SPI A-2", 2)
    assert list(mold.cavities.order_by("id").values_list("ident", "part")) == [
        ("L", "left"),
        ("R", ""),
    ]
    held = mold.positions.get()
    assert held.cavity == mold.cavities.get(ident="L")
    item = mold.circuits.get().items.get()
    assert (item.number, item.position) == ("1", held)
    assert mold.configurations.get().name == "left hand"
    assert [each.number for each in mold.supplies.all()] == ["G-1"]
    rules = {each.name: each for each in CareRule.objects.filter(mold=mold)}
    assert rules["Wipe"].count_base == 2_500
    assert rules["Wipe"].is_adjusted
    assert rules["Wipe"].steps.count() == 1
    assert rules["Clean seat"].position == held
    assert rules["Flush"].circuit == mold.circuits.get()
    assert Cover.objects.get(covering=rules["Clean seat"]).covered == rules["Wipe"]
    place = place_of(mold)
    assert place is not None
    assert place.spot == rack
    assert Life.objects.get(pk=mold.pk).cycles == 500
    assert mold.cycle_times.get().standard_s == source.cycle_times.get().standard_s
    entry = Entry.objects.get(chain=mold.chain_id, kind="mold_copied")
    assert entry.sentence.startswith("Built like mold 0417, with 1 positions, 1 circuits")
    assert facts_of(entry)["source"] == "0417"


def test_a_copy_needs_a_number_of_its_own_and_leaves_nothing_when_refused(doing: Doing) -> None:
    source = factories.mold(number="0417")
    factories.mold(number="0418")
    for number, said in (("0417", "number of its own"), ("0418", "with this number already")):
        with pytest.raises(Incomplete, match=said):
            copy_mold(doing, source=source, number=number, name="twin")
    assert Mold.objects.count() == 2
    assert not Entry.objects.filter(kind="mold_copied").exists()


def test_the_photo_of_the_plate_is_kept_and_the_newest_one_shown(
    doing: Doing, technician: Person
) -> None:
    mold = factories.mold()
    by_technician = Doing(person=technician, now=doing.now)
    first, second = (
        File.objects.get(pk=add_file(doing, content=picture(color)).pk)
        for color in ("gray", "white")
    )
    before = doing.now - timedelta(days=1)
    attach_marking(by_technician, mold=mold, photo=first, at=before)
    attach_marking(doing, mold=mold, photo=second, at=doing.now, shows="property of Aquaforma")
    found = marking_of(mold)
    assert found is not None
    assert found.file == second
    assert facts_of(newest(mold))["sha256"] == second.sha256
    with pytest.raises(DoesNotFit, match="marking already"):
        attach_marking(doing, mold=mold, photo=second, at=doing.now, shows="property of Aquaforma")
    with pytest.raises(Incomplete):
        attach_marking(doing, mold=mold, photo=first, at=doing.now, shows="w" * 201)


def test_a_modification_is_told_apart_from_other_changes(doing: Doing) -> None:
    mold = factories.mold()
    note_change(doing, mold=mold, at=doing.now, change=Change.MOLD, text="gate 0.2 mm wider")
    note_change(doing, mold=mold, at=doing.now, change=Change.RESIN, text="other lot")
    edit_mold(doing, mold=mold, changes={"finish": "SPI A-2"})
    (entry,) = modifications_of(mold)
    assert "gate 0.2 mm wider" in entry.sentence


def test_who_only_looks_changes_none_of_it(doing: Doing, reader: Person) -> None:
    mold = factories.mold()
    row, by_reader = circuit(doing, mold), Doing(person=reader, now=doing.now)
    for act in (
        lambda: name_cavities(by_reader, mold=mold, named={}, cavity_count=9),
        lambda: set_circuit_items(by_reader, circuit=row, items=[]),
        lambda: take_off(by_reader, part=row, reason="x"),
        lambda: copy_mold(by_reader, source=mold, number="1", name="x"),
    ):
        with pytest.raises(NotAllowed):
            act()
