"""Mold registers brought in through the acts: new, here already, different, refused."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest

from moldcare.acts.doing import Doing
from moldcare.acts.errors import NotAllowed
from moldcare.acts.rebuild import first_difference
from moldcare.counters.models import Life
from moldcare.feeds.export.delimited import csv_lines
from moldcare.feeds.export.lists import LISTS
from moldcare.feeds.export.shapes import Asked
from moldcare.feeds.models import BroughtIn, ColumnMatch, ImportBatch, ImportRow
from moldcare.feeds.register.bring_in import bring_in_register, try_out_register
from moldcare.feeds.register.rows import CircuitRow, MoldRow
from moldcare.feeds.tables import Problem, RowVerdict, Verdict
from moldcare.handin.models import HandIn
from moldcare.logbook.models import Entry
from moldcare.logbook.verify import verify_logbook
from moldcare.molds.models import Circuit, Mold, Move, Owner
from moldcare.molds.queries import place_of
from moldcare.plant.models import Person, Spot
from moldcare.plant.queries import the_calendar, the_plant
from tests import factories
from tests.acts.registers import brought_in, register_of
from tests.feeds.register.reading import circuits, molds_of, molds_plan

FULL = MoldRow(
    row=4,
    number="0417",
    name="housing, 12 mm",
    mold_class="103",
    cavity_count=4,
    mass_a_kg=Decimal("412.5"),
    mass_b_kg=Decimal("388.0"),
    owner="Norda Medical",
    resin="PA66",
    resin_group="medium",
    filler="glass",
    finish="A-2",
    cycle_time_s=Decimal("21.5"),
    storage_place="R-07",
    circuits=circuits("A1", "B1", "3"),
    opening_count=182_400,
    opening_at=date(2026, 11, 20),
    drawing_revision="F",
)


@pytest.fixture(autouse=True)
def plant(db: None) -> None:
    """The plant, with nothing in it."""
    factories.plant()


def words(rows: list[RowVerdict]) -> list[str]:
    return [str(row.verdict) for row in rows]


def test_a_new_mold_is_there_with_all_that_its_row_says(doing: Doing) -> None:
    done, told = brought_in(doing, [FULL])
    assert words(told) == ["accepted"]
    mold = Mold.objects.get(number="0417")
    assert (mold.name, mold.mold_class, mold.cavity_count) == ("housing, 12 mm", "103", 4)
    assert (mold.mass_a_kg, mold.mass_b_kg) == (Decimal("412.5"), Decimal("388.0"))
    assert (mold.resin, mold.resin_group, mold.filler) == ("PA66", "medium", "glass")
    assert (mold.finish, mold.drawing_revision) == ("A-2", "F")
    assert mold.owner is not None
    assert mold.owner.name == "Norda Medical"
    assert mold.cavities.count() == 4
    assert mold.cycle_times.get().standard_s == Decimal("21.50")
    assert [(row.ident, row.half) for row in mold.circuits.all()] == [
        ("A1", "A"),
        ("B1", "B"),
        ("3", "A"),
    ]
    # midnight in Berlin, an hour before that of UTC in winter
    assert mold.opening_at == datetime(2026, 11, 19, 23, tzinfo=UTC)
    assert (mold.opening_count, mold.opening_source) == (182_400, "register.csv")
    place = place_of(mold)
    assert place is not None
    assert (place.spot.kind, place.spot.number) == (Spot.Kind.RACK, "R-07")
    assert Life.objects.get(pk=mold.pk).cycles == 182_400
    assert first_difference() is None
    assert done.counts == {"accepted": 1}


MEASURED = (
    CircuitRow(ident="A1", bore_mm=Decimal("9.53"), length_mm=Decimal("1219.2")),
    CircuitRow(ident="B1", bore_mm=Decimal("8.00")),
    CircuitRow(ident="B2"),
)


def kept_circuits() -> list[tuple[str, Decimal | None, Decimal | None]]:
    return list(Circuit.objects.values_list("ident", "bore_mm", "length_mm"))


def test_circuits_hold_the_bore_and_length_of_the_file(doing: Doing) -> None:
    brought_in(doing, [replace(FULL, circuits=MEASURED)])
    assert kept_circuits() == [
        ("A1", Decimal("9.53"), Decimal("1219.2")),
        ("B1", Decimal("8.00"), None),
        ("B2", None, None),
    ]
    entry = Entry.objects.get(chain__label="0417")
    assert '"bore_mm":"9.53"' in entry.facts
    assert '"length_mm":"1219.2"' in entry.facts
    assert verify_logbook().is_whole


def test_a_circuit_that_is_added_to_a_mold_has_its_bore_and_length(doing: Doing) -> None:
    brought_in(doing, [replace(FULL, circuits=MEASURED[1:])])
    _done, (told,) = brought_in(doing, [replace(FULL, circuits=MEASURED)])
    assert told.verdict is Verdict.DIFFERS
    assert "A1 (ø 9.53 mm × 1219.2 mm) in the file" in told.reason
    brought_in(doing, [replace(FULL, circuits=MEASURED)], changes="take")
    assert ("A1", Decimal("9.53"), Decimal("1219.2")) in kept_circuits()
    entry = Entry.objects.filter(chain__label="0417").order_by("-number").first()
    assert entry is not None
    assert "A1 (ø 9.53 mm × 1219.2 mm)" in entry.sentence


@pytest.mark.parametrize("answer", ["", "take"])
def test_a_circuit_that_is_here_keeps_its_bore_and_the_row_says_so(
    doing: Doing, answer: str
) -> None:
    brought_in(doing, [replace(FULL, circuits=MEASURED)])
    before = kept_circuits()
    other = (replace(MEASURED[0], bore_mm=Decimal(10)), MEASURED[1], MEASURED[2])
    _done, (told,) = brought_in(doing, [replace(FULL, circuits=other)], changes=answer)
    assert told.verdict is Verdict.DUPLICATE
    assert told.reason == (
        "Circuits that are here keep their bore and length: A1 (ø 9.53 mm × 1219.2 mm) "
        "here, A1 (ø 10 mm × 1219.2 mm) in the file."
    )
    assert kept_circuits() == before


def test_our_own_list_of_circuits_reads_back(doing: Doing) -> None:
    brought_in(doing, [replace(FULL, circuits=MEASURED)])
    shape = LISTS["circuits"]
    rows = shape.rows(Asked(now=doing.now, calendar=the_calendar(the_plant())))
    content = b"".join(csv_lines(shape, rows=rows, zone=ZoneInfo("Europe/Berlin")))
    (row,) = molds_of(content)
    of_halves = tuple(replace(each, half=each.ident[0]) for each in MEASURED)
    assert (row.number, row.circuits, row.problem) == ("0417", of_halves, None)
    assert molds_plan(content).questions == ()


def test_what_the_file_does_not_say_is_said_of_the_row(doing: Doing) -> None:
    _done, (told,) = brought_in(doing, [replace(FULL, name="")])
    assert "no name" in told.reason
    assert "Rack R-07 is made." in told.reason
    assert "Owner Norda Medical is made." in told.reason
    assert "No half is given for 3" in told.reason


def test_each_mold_and_the_plant_have_an_entry_and_the_chains_hold(doing: Doing) -> None:
    done, _told = brought_in(doing, [FULL, replace(FULL, row=5, number="0418")])
    for number, row in (("0417", 4), ("0418", 5)):
        entry = Entry.objects.get(chain__label=number)
        assert entry.kind == "mold_added"
        assert f"brought in from the file register.csv, row {row}" in entry.sentence
        assert f'"batch":{done.batch_id}' in entry.facts
    batch = Entry.objects.get(pk=done.entry_id)
    assert batch.chain.kind == "plant"
    assert "Molds brought in from the file register.csv: 2 accepted." in batch.sentence
    assert "Owners made: Norda Medical. Racks made: R-07." in batch.sentence
    verified = verify_logbook()
    assert verified.is_whole, verified


def test_owners_and_racks_that_are_there_are_used_in_any_spelling(doing: Doing) -> None:
    owner = factories.owner(name="NORDA medical")
    rack = factories.spot(kind="rack", number="r-07")
    brought_in(doing, [FULL])
    assert Mold.objects.get().owner == owner
    assert Owner.objects.count() == 1
    assert Move.objects.get().spot == rack


def test_a_place_that_is_a_press_is_left_to_whoever_sets_the_mold(doing: Doing) -> None:
    factories.spot(kind="press", number="7")
    _done, (told,) = brought_in(doing, [replace(FULL, storage_place="Press 7")])
    assert "set it there" in told.reason
    assert not Move.objects.exists()


def test_the_same_file_twice_writes_nothing_twice_and_says_so(doing: Doing) -> None:
    brought_in(doing, [FULL])
    entries = Entry.objects.filter(chain__kind="mold").count()
    _done, told = brought_in(doing, [FULL])
    assert words(told) == ["duplicate"]
    assert Mold.objects.count() == 1
    assert Entry.objects.filter(chain__kind="mold").count() == entries


def test_one_hand_in_is_done_once_and_answered_the_same(doing: Doing) -> None:
    twice = replace(doing, hand_in=uuid4())
    first = bring_in_register(twice, file=register_of([FULL]))
    again = bring_in_register(twice, file=register_of([FULL]))
    assert again == first
    assert ImportBatch.objects.count() == 1
    assert HandIn.objects.get().act == "import_molds"


def test_a_difference_is_shown_and_left_as_it_is(doing: Doing) -> None:
    brought_in(doing, [FULL])
    other = replace(FULL, cavity_count=8, mold_class="102", cycle_time_s=Decimal("19"))
    _done, (told,) = brought_in(doing, [other])
    assert told.verdict is Verdict.DIFFERS
    assert "cavities: 4 here, 8 in the file" in told.reason
    assert "class: 103 here, 102 in the file" in told.reason
    mold = Mold.objects.get()
    assert (mold.cavity_count, mold.mold_class) == (4, "103")
    assert told.choice_key == "change:4"
    assert [each.value for each in told.proposals] == ["take"]


def test_a_difference_that_was_chosen_is_written_with_what_was_before(doing: Doing) -> None:
    brought_in(doing, [FULL])
    other = replace(
        FULL,
        cavity_count=8,
        owner="Sund Optics",
        cycle_time_s=Decimal("19"),
        circuits=circuits("A1", "A2"),
        opening_count=200_000,
    )
    _done, (told,) = brought_in(doing, [other], change__4="take")
    assert told.verdict is Verdict.CHANGED
    mold = Mold.objects.get()
    assert (mold.cavity_count, mold.cavities.count()) == (8, 8)
    assert mold.owner == Owner.objects.get(name="Sund Optics")
    newest = mold.cycle_times.order_by("-id").first()
    assert newest is not None
    assert newest.standard_s == Decimal("19.00")
    assert set(mold.circuits.values_list("ident", flat=True)) == {"A1", "B1", "3", "A2"}
    assert Life.objects.get(pk=mold.pk).cycles == 200_000
    entry = Entry.objects.filter(chain=mold.chain).order_by("-number").first()
    assert entry is not None
    assert entry.kind == "opening_corrected"
    assert "cavities: 4 → 8" in entry.sentence
    assert "owner: Norda Medical → Sund Optics" in entry.sentence
    kept = BroughtIn.objects.get(act="mold_changed")
    assert kept.before["cavity_count"] == 4
    assert first_difference() is None
    assert verify_logbook().is_whole


def test_all_differences_may_be_taken_at_once(doing: Doing) -> None:
    rows = [replace(FULL, row=n, number=f"M-{n}") for n in (2, 3)]
    brought_in(doing, rows)
    _done, told = brought_in(
        doing, [replace(row, drawing_revision="G") for row in rows], changes="take"
    )
    assert words(told) == ["changed", "changed"]
    assert set(Mold.objects.values_list("drawing_revision", flat=True)) == {"G"}


def test_what_a_file_leaves_out_changes_nothing(doing: Doing) -> None:
    brought_in(doing, [FULL])
    _done, told = brought_in(doing, [MoldRow(row=9, number="0417", name="housing, 12 mm")])
    assert words(told) == ["duplicate"]


def test_where_a_mold_is_now_is_not_for_a_list_to_say(doing: Doing) -> None:
    brought_in(doing, [FULL])
    _done, told = brought_in(doing, [replace(FULL, storage_place="R-99")])
    assert words(told) == ["duplicate"]
    assert not Spot.objects.filter(number="R-99").exists()


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"opening_at": date(2027, 1, 1)}, "in the future"),
        ({"cycle_time_s": Decimal(0)}, "more than 0 seconds"),
        ({"cavity_count": 0}, "cavities"),
        ({"mold_class": "999"}, "class"),
        ({"number": "x" * 41}, "number"),
        ({"name": "x" * 121}, "name"),
        ({"owner": "x" * 121}, "name"),
        ({"storage_place": "x" * 41}, "storage place"),
        ({"circuits": circuits("A1", "A1")}, "one name"),
        ({"circuits": circuits("A" * 21)}, "20 signs"),
        ({"circuits": (CircuitRow(ident="A1", bore_mm=Decimal(0)),)}, "a1 is 0 mm"),
        ({"circuits": (CircuitRow(ident="A1", length_mm=Decimal(10**7)),)}, "no circuit is"),
    ],
)
def test_what_cannot_stand_is_refused_in_a_sentence_and_kept(
    doing: Doing, changes: dict[str, Any], said: str
) -> None:
    good = replace(FULL, row=5, number="0500")
    done, told = brought_in(doing, [replace(FULL, **changes), good])
    assert words(told) == ["refused", "accepted"]
    assert said in told[0].reason.lower()
    assert list(Mold.objects.values_list("number", flat=True)) == ["0500"]
    kept = ImportRow.objects.get()
    assert (kept.batch_id, kept.row, kept.verdict) == (done.batch_id, 4, "refused")
    assert kept.cells == [changes.get("number", "0417"), "x"]


def test_a_row_that_cannot_be_read_is_kept_with_the_reason(doing: Doing) -> None:
    problem = Problem(verdict=Verdict.REFUSED, reason="The mass is no number.")
    _done, told = brought_in(doing, [replace(FULL, problem=problem)])
    assert (words(told), told[0].reason) == (["refused"], "The mass is no number.")
    assert ImportRow.objects.get().reason == "The mass is no number."
    assert not Mold.objects.exists()


def test_cavities_are_not_taken_away_by_a_file(doing: Doing) -> None:
    brought_in(doing, [FULL])
    _done, (told,) = brought_in(doing, [replace(FULL, cavity_count=2)], changes="take")
    assert told.verdict is Verdict.REFUSED
    assert "keeps its cavities" in told.reason


def test_a_number_that_was_withdrawn_may_come_again(doing: Doing) -> None:
    factories.mold(number="0417", withdrawn_at=doing.now)
    _done, told = brought_in(doing, [FULL])
    assert words(told) == ["accepted"]
    assert set(Mold.objects.values_list("chain__label", flat=True)) == {"0417", "0417 (2)"}


def test_trying_out_writes_nothing_and_says_the_same(doing: Doing) -> None:
    rows = [FULL, replace(FULL, row=5, number="x" * 60), replace(FULL, row=6, number="0418")]
    tried: list[RowVerdict] = []
    try_out_register(doing, file=register_of(rows), tell=tried.append)
    assert not Mold.objects.exists()
    assert not ImportBatch.objects.exists()
    assert not Entry.objects.exists()
    assert not ColumnMatch.objects.exists()
    _done, told = brought_in(doing, rows)
    assert tried == told


@pytest.mark.parametrize("role", ["reader", "technician", "feed"])
def test_only_who_leads_brings_molds_in(
    role: str, request: pytest.FixtureRequest, doing: Doing
) -> None:
    person: Person = request.getfixturevalue(role)
    by: Callable[..., Doing] = replace
    with pytest.raises(NotAllowed):
        brought_in(by(doing, person=person), [FULL])
    assert not Mold.objects.exists()
    assert not Circuit.objects.exists()
