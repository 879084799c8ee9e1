import json
import unicodedata
from datetime import timedelta
from decimal import Decimal
from uuid import UUID

import pytest

from moldcare.acts.doing import Doing
from moldcare.acts.errors import DoesNotFit, HandedInDifferently, Incomplete, NotAllowed, NotFound
from moldcare.acts.floor import plan_run, set_mold
from moldcare.acts.molds import (
    NewCircuit,
    add_auxiliary,
    add_circuit,
    add_component,
    add_mold,
    add_owner,
    add_position,
    add_supply,
    change_cycle_time,
    edit_auxiliary,
    edit_circuit,
    edit_component,
    edit_mold,
    edit_owner,
    edit_position,
    edit_supply,
    withdraw_auxiliary,
    withdraw_mold,
)
from moldcare.counters.models import Life
from moldcare.logbook.models import Entry
from moldcare.molds.models import (
    Auxiliary,
    Cavity,
    Circuit,
    Component,
    CycleTime,
    Mold,
    Owner,
    Position,
    Run,
    Supply,
)
from moldcare.molds.queries import mold_numbered, molds_in_use, molds_matching, place_of
from moldcare.plant.models import Person
from tests import factories

pytestmark = pytest.mark.django_db


def numbers(molds: list[Mold]) -> list[str]:
    return [mold.number for mold in molds]


def test_a_new_mold_has_its_chain_cavities_cycle_time_circuits_and_place(doing: Doing) -> None:
    rack = factories.spot(kind="rack", number="B4")

    answer = add_mold(
        doing,
        number="M-2044",
        name="lid, 38 mm",
        cavity_count=4,
        opening_count=250_000,
        opening_source="owner's card",
        standard_cycle_s=Decimal("12.0"),
        circuits=[NewCircuit(ident="1", half="A", bore_mm=Decimal("8"), bubblers=4)],
        place=rack,
    )

    mold = Mold.objects.get(pk=answer.row_id)
    assert [cavity.ident for cavity in mold.cavities.all()] == ["1", "2", "3", "4"]
    assert mold.circuits.get().bubblers == 4
    assert mold.cycle_times.get().standard_s == Decimal("12.0")
    place = place_of(mold)
    assert place is not None
    assert place.spot == rack
    entry = Entry.objects.get(chain=mold.chain)
    assert entry.sentence == (
        "Mold M-2044, lid, 38 mm, added: 4 cavities, life count before our records 250,000 "
        "(owner's card)."
    )
    assert json.loads(entry.facts)["standard_cycle_s"] == "12.0"
    assert Life.objects.get(mold=mold).cycles == 250_000


def test_numbers_are_the_same_whatever_their_case_and_spelling(doing: Doing) -> None:
    # Unicode 15.0, sections 3.11 (NFC) and 5.18 (case folding)
    add_mold(doing, number="Düse-7", name="nozzle")
    add_mold(doing, number="DÜSE-8", name="nozzle")
    add_mold(doing, number="A12", name="plate")

    for number in ("a12", " A12 ", "dÜSE-7", unicodedata.normalize("NFD", "Düse-7")):
        with pytest.raises(Incomplete, match="already"):
            add_mold(doing, number=number, name="again")
    for text in ("düse", "DÜSE", unicodedata.normalize("NFD", "Düse")):
        assert numbers(molds_matching(text)) == ["Düse-7", "DÜSE-8"]
    assert mold_numbered(unicodedata.normalize("NFD", "düse-8")) is not None


def test_molds_are_found_by_name_and_sorted_by_number(doing: Doing) -> None:
    for number in ("M-10", "M-2", "m-1"):
        add_mold(doing, number=number, name="Öse")

    assert numbers(molds_matching("öse")) == ["m-1", "M-2", "M-10"]
    assert numbers(list(molds_in_use())) == ["m-1", "M-2", "M-10"]
    assert molds_matching("valve") == []


def test_text_is_stored_and_hashed_in_one_form(doing: Doing) -> None:
    answer = add_mold(doing, number=unicodedata.normalize("NFD", "Tür-1"), name="Tu\u0308r ")

    mold = Mold.objects.get(pk=answer.row_id)
    assert (mold.number, mold.name) == ("T\u00fcr-1", "T\u00fcr")
    assert unicodedata.is_normalized("NFC", Entry.objects.get(chain=mold.chain).canonical)


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"name": "x" * 300}, "120"),
        ({"number": "x" * 41}, "40"),
        ({"number": "   "}, "Number"),
        ({"cavity_count": 0}, "Cavities"),
        ({"mass_a_kg": Decimal("1e9")}, "digits"),
        ({"resin_group": "magic"}, "Resin group"),
        ({"reading_age_shifts": 0}, "Shifts"),
        ({"standard_cycle_s": Decimal("0")}, "more than 0 seconds"),
        ({"colour": "red"}, "colour"),
    ],
)
def test_what_cannot_stand_is_refused_with_the_field_and_its_limit(
    doing: Doing, fields: dict[str, object], told: str
) -> None:
    given: dict[str, object] = {"number": "M-1", "name": "lid", **fields}

    with pytest.raises(Incomplete, match=told):
        add_mold(doing, **given)  # type: ignore[arg-type]

    assert not Mold.objects.exists()
    assert not Entry.objects.exists()


def test_a_mold_begins_outside_the_press(doing: Doing) -> None:
    with pytest.raises(DoesNotFit, match="then set it"):
        add_mold(doing, number="M-1", name="lid", place=factories.spot())


def test_a_change_keeps_what_was_there_before(doing: Doing) -> None:
    owner = factories.owner(name="Nordlicht Packaging")
    mold = factories.counted_mold(number="M-1", name="lid")

    answer = edit_mold(doing, mold=mold, changes={"name": "lid, blue", "owner": owner})

    entry = Entry.objects.get(pk=answer.entry_id)
    assert entry.kind == "mold_edited"
    assert json.loads(entry.facts)["before"] == {"name": "lid", "owner": None}
    assert json.loads(entry.facts)["after"] == {
        "name": "lid, blue",
        "owner": "Nordlicht Packaging",
    }
    with pytest.raises(DoesNotFit, match="Nothing is different"):
        edit_mold(doing, mold=mold, changes={"name": "lid, blue "})


def test_a_mold_can_be_given_another_number_and_its_logbook_goes_on(doing: Doing) -> None:
    mold = factories.counted_mold(number="M-1")
    factories.counted_mold(number="M-2")

    with pytest.raises(Incomplete, match="already"):
        edit_mold(doing, mold=mold, changes={"number": "m-2"})
    edit_mold(doing, mold=mold, changes={"number": "M-3"})

    found = mold_numbered("m-3")
    assert found == mold
    assert Entry.objects.get().chain.label == "M-1"


def test_another_opening_count_is_a_recorded_correction_of_the_life_count(doing: Doing) -> None:
    mold = factories.counted_mold(opening_count=250_000)

    with pytest.raises(Incomplete, match="reason"):
        edit_mold(doing, mold=mold, changes={"opening_count": 200_000})
    assert Life.objects.get(mold=mold).cycles == 250_000
    edit_mold(
        doing, mold=mold, changes={"opening_count": 200_000}, reason="owner's card was misread"
    )

    assert Life.objects.get(mold=mold).cycles == 200_000
    entry = Entry.objects.get(chain=mold.chain)
    assert entry.kind == "opening_corrected"
    assert "250,000 → 200,000" in entry.sentence


def test_cavities_are_added_and_never_taken_away(doing: Doing) -> None:
    mold = factories.counted_mold(cavity_count=2)
    edit_mold(doing, mold=mold, changes={"cavity_count": 4})
    assert Cavity.objects.filter(mold=mold).count() == 4

    with pytest.raises(DoesNotFit, match="keeps its cavities"):
        edit_mold(doing, mold=mold, changes={"cavity_count": 1})
    mold.refresh_from_db()
    assert mold.cavity_count == 4


def test_a_withdrawn_mold_leaves_its_logbook_and_its_number(doing: Doing) -> None:
    mold = factories.counted_mold(number="M-1")
    press = factories.spot()
    planned = plan_run(doing, mold=mold, press=press, planned_from=doing.now + timedelta(days=9))

    withdraw_mold(doing, mold=mold, reason="scrapped")

    assert Run.objects.get(pk=planned.run_id).is_called_off
    assert list(molds_in_use()) == []
    with pytest.raises(NotFound):
        edit_mold(doing, mold=mold, changes={"name": "again"})
    again = Mold.objects.get(pk=add_mold(doing, number="m-1", name="its follower").row_id)
    assert again.chain.label == "m-1"
    assert Entry.objects.filter(chain=mold.chain).count() == 1


def test_a_mold_in_a_press_is_not_withdrawn(doing: Doing) -> None:
    mold = factories.counted_mold()
    set_mold(doing, mold=mold, press=factories.spot(), at=doing.now)

    with pytest.raises(DoesNotFit, match="Pull it first"):
        withdraw_mold(doing, mold=mold, reason="scrapped")


def test_a_cycle_time_is_dated_and_knows_what_was_read_before_it(doing: Doing) -> None:
    mold = factories.counted_mold()
    counter = factories.counter(on=mold, author=doing.person)
    read = factories.readings(counter, rows=[(doing.now, 10)], author=doing.person)

    change_cycle_time(
        doing,
        mold=mold,
        standard_s=Decimal("10.5"),
        valid_from=doing.now - timedelta(days=1),
        reason="new nozzle",
    )

    row = CycleTime.objects.get()
    assert row.after_reading == read[-1].pk
    assert Entry.objects.get(chain=mold.chain, kind="cycle_time").number == 1
    for standard, shortest in (("0", None), ("-1", None), ("10", "11")):
        with pytest.raises(Incomplete):
            change_cycle_time(
                doing,
                mold=mold,
                standard_s=Decimal(standard),
                shortest_s=Decimal(shortest) if shortest else None,
                valid_from=doing.now,
                reason="x",
            )
    with pytest.raises(DoesNotFit, match="future"):
        change_cycle_time(
            doing,
            mold=mold,
            standard_s=Decimal(9),
            valid_from=doing.now + timedelta(days=1),
            reason="x",
        )


def test_positions_components_and_circuits_are_added_and_changed(
    doing: Doing, technician: Person
) -> None:
    mold, other = factories.counted_mold(), factories.counted_mold()
    add_position(doing, mold=mold, ident="core 1", is_forming=True, cavity=mold.cavities.first())
    position = Position.objects.get()
    with pytest.raises(DoesNotFit, match="another mold"):
        add_position(doing, mold=mold, ident="core 2", cavity=other.cavities.first())
    with pytest.raises(Incomplete):
        add_position(doing, mold=mold, ident="core 1")
    edit_position(doing, position=position, changes={"name": "moving core"})

    add_circuit(doing, mold=mold, ident="1", half="B")
    edit_circuit(doing, circuit=Circuit.objects.get(), changes={"bore_mm": Decimal("8.5")})
    with pytest.raises(Incomplete):
        add_circuit(doing, mold=mold, ident="2", half="C")

    add_component(Doing(person=technician, now=doing.now), serial="C-71", name="core")
    edit_component(doing, component=Component.objects.get(), changes={"opening_cycles": 900})
    with pytest.raises(Incomplete):
        add_component(doing, serial="C-71", name="core")
    assert list(Entry.objects.filter(chain=mold.chain).values_list("kind", flat=True)) == [
        "position_added",
        "position_edited",
        "circuit_added",
        "circuit_edited",
    ]


def test_two_spellings_of_an_owner_are_one_owner(doing: Doing) -> None:
    add_owner(doing, name="Müller Kunststoff")
    for name in ("müller kunststoff", "Mu\u0308ller Kunststoff"):
        with pytest.raises((DoesNotFit, Incomplete)):
            add_owner(doing, name=name)
    edit_owner(doing, owner=Owner.objects.get(), changes={"retention_years": 15})
    assert Owner.objects.get().retention_years == 15


def test_an_auxiliary_has_a_logbook_of_its_own(doing: Doing) -> None:
    add_auxiliary(doing, number="TC-3", name="controller", kind="temperature controller")
    auxiliary = Auxiliary.objects.get()
    with pytest.raises(DoesNotFit, match="already"):
        add_auxiliary(doing, number="tc-3", name="other", kind="bath")
    edit_auxiliary(doing, auxiliary=auxiliary, changes={"name": "controller, oil"})
    withdraw_auxiliary(doing, auxiliary=auxiliary, reason="sold")
    with pytest.raises(NotFound):
        edit_auxiliary(doing, auxiliary=auxiliary, changes={"name": "x"})
    assert Entry.objects.filter(chain=auxiliary.chain).count() == 3


def test_a_supply_says_which_molds_it_is_for(doing: Doing) -> None:
    mold = factories.counted_mold(number="M-1")
    add_supply(doing, number="S-1", name="O-ring set", molds=[mold])
    supply = Supply.objects.get()
    edit_supply(doing, supply=supply, changes={"minimum": Decimal(3)}, molds=[])
    with pytest.raises(DoesNotFit, match="Nothing is different"):
        edit_supply(doing, supply=supply, changes={}, molds=[])
    assert list(supply.molds.all()) == []
    assert "molds: M-1 → -" in Entry.objects.get(kind="supply_edited").sentence


def test_a_technician_edits_no_mold(technician: Person, doing: Doing) -> None:
    mold = factories.counted_mold()
    with pytest.raises(NotAllowed):
        edit_mold(Doing(person=technician, now=doing.now), mold=mold, changes={"name": "anything"})


def test_the_same_form_twice_adds_one_mold(doing: Doing) -> None:
    again = Doing(person=doing.person, now=doing.now, hand_in=UUID(int=7))
    first = add_mold(again, number="M-1", name="lid", standard_cycle_s=Decimal("12.5"))
    second = add_mold(again, number="M-1", name="lid", standard_cycle_s=Decimal("12.5"))

    assert first == second
    assert Mold.objects.count() == 1
    with pytest.raises(HandedInDifferently):
        add_mold(again, number="M-2", name="lid")
