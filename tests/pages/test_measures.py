"""A plant or a person of US units sees and types lb, in, US tons and gpm; SI is kept."""

import re
from collections.abc import Callable
from datetime import UTC, datetime
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.test import Client

from moldcare.core.units import Quantity, Units
from moldcare.logbook.models import Entry
from moldcare.molds.models import Circuit
from moldcare.pages.measures import MeasureField, in_units, measure_words
from moldcare.pages.printing.mold_record import mold_record
from moldcare.pages.printing.orders import order_document
from moldcare.pages.printing.water_map import water_map_document
from moldcare.plant.models import Person, Plant, Spot
from tests import factories
from tests.pages.shown import words_of

ClientOf = Callable[[str], Client]

pytestmark = pytest.mark.django_db
AT = datetime(2026, 11, 25, 7, tzinfo=UTC)


def fields_of(html: str) -> dict[str, str]:
    """What the form of a page would send as it stands, its choices aside."""
    form = html.split('<form class="form"', maxsplit=1)[1]
    found = {}
    for tag in re.findall(r"<input[^>]*>", form):
        name, value = re.search(r'name="([^"]*)"', tag), re.search(r'value="([^"]*)"', tag)
        if name and value and "checkbox" not in tag and "radio" not in tag:
            found[name[1]] = value[1]
    for name, options in re.findall(r'<select name="([^"]*)"[^>]*>(.*?)</select>', form, re.S):
        chosen = re.search(r'value="([^"]*)" selected', options)
        found[name] = chosen[1] if chosen else ""
    return found


def test_a_circuit_is_typed_and_said_in_us_units_and_kept_in_si(client_of: ClientOf) -> None:
    factories.plant(units="us")
    mold = factories.counted_mold(number="0417")
    client = client_of("lead")
    typed = {
        "ident": "A1",
        "half": "A",
        "bore_mm": "0.375",
        "length_mm": "36.25",
        "design_flow_l_min": "4.25",
        "rise_limit_k": "5.4",
        "bends": "0",
        "medium": "water",
    }
    answer = client.post("/molds/0417/circuits/add", typed)
    assert answer.status_code == 302, words_of(answer)
    row = Circuit.objects.get(mold=mold)
    kept = (row.bore_mm, row.length_mm, row.design_flow_l_min, row.rise_limit_k)
    assert [str(number) for number in kept] == ["9.52500", "920.750", "16.09", "3.00"]

    edit = f"/molds/0417/circuits/{row.pk}"
    page = client.get(edit)
    said = words_of(page)
    for unit in ("Bore, in", "Length, in", "Design flow, US gpm", "rise, °F"):
        assert unit in said
    html = page.getvalue().decode()
    for value in ("0.375", "36.25", "4.25", "5.4"):
        assert f'value="{value}"' in html
    said = words_of(client.get("/molds/0417"))
    for text in ("0.375 in", "36.25 in", "4.25 US gpm", "5.4 °F"):
        assert text in said


@pytest.mark.parametrize("typed", ["0.75", "0.4375", "0.0005", "0.0313"])
def test_a_bore_in_inches_is_kept_as_it_was_typed(client_of: ClientOf, typed: str) -> None:
    factories.plant(units="us")
    factories.counted_mold(number="0417")
    client = client_of("lead")
    fields = {"ident": "A1", "half": "A", "bore_mm": typed, "bends": "0", "medium": "water"}
    assert client.post("/molds/0417/circuits/add", fields).status_code == 302
    row = Circuit.objects.get()
    # an inch is 25.4 mm (NIST SP 811), and nothing of that is rounded away
    assert row.bore_mm == Decimal(typed) * Decimal("25.4")
    assert f"{typed} in" in words_of(client.get("/molds/0417"))


def test_what_is_saved_ten_times_in_both_units_stays_as_it_is_kept(client_of: ClientOf) -> None:
    plant = factories.plant(units="us")
    mold = factories.counted_mold(number="0417")
    # a bore that no number of four decimals in inches means
    row = Circuit.objects.create(
        mold=mold, ident="A1", half="A", bore_mm="10.00", length_mm="800.0", rise_limit_k="2.50"
    )
    client = client_of("lead")
    edit = f"/molds/0417/circuits/{row.pk}"
    for turn in range(10):
        Plant.objects.filter(pk=plant.pk).update(units="metric" if turn % 2 else "us")
        fields = fields_of(client.get(edit).getvalue().decode())
        answer = client.post(edit, {**fields, "medium": f"water {turn}"})
        assert answer.status_code == 302, words_of(answer)
        row.refresh_from_db()
        kept = (row.bore_mm, row.length_mm, row.rise_limit_k)
        assert [str(number) for number in kept] == ["10.00000", "800.000", "2.50"]
        # the entry says that the medium was changed, and nothing else
        assert "mm" not in Entry.objects.latest("id").sentence


def test_a_press_has_its_clamp_force_in_us_tons(client_of: ClientOf) -> None:
    factories.plant(units="us")
    client = client_of("lead")
    press = {"kind": "press", "number": "7", "name": "", "clamp_kn": "1,100"}
    assert client.post("/setup/spots/add", press).status_code == 302
    row = Spot.objects.get(number="7")
    assert row.clamp_kn == 9786
    assert "1,100 US tons" in words_of(client.get("/setup/spots"))
    html = client.get(f"/setup/spots/{row.pk}").getvalue().decode()
    assert 'value="1100"' in html


def test_the_masses_of_a_mold_are_in_pounds(client_of: ClientOf) -> None:
    factories.plant(units="us")
    factories.counted_mold(number="0417", mass_a_kg=Decimal("420.0"), mass_b_kg=None)
    client = client_of("lead")
    assert "926 lb and –" in words_of(client.get("/molds/0417"))
    said = words_of(client.get("/molds/0417/edit"))
    assert "Mass of the A half, lb" in said
    assert "kg" not in said


def test_a_person_s_own_units_come_before_the_plant_s(client_of: ClientOf) -> None:
    factories.plant(units="metric")
    factories.counted_mold(number="0417", mass_a_kg=Decimal("420.0"))
    client = client_of("lead")
    assert "420 kg" in words_of(client.get("/molds/0417"))
    Person.objects.filter(role="lead").update(units="us")
    assert "926 lb" in words_of(client.get("/molds/0417"))


def test_paper_has_the_plant_s_units(lead: Person) -> None:
    factories.plant(units="us")
    mold = factories.counted_mold(number="0417", mass_a_kg=Decimal("420.0"))
    Circuit.objects.create(mold=mold, ident="A1", half="A", bore_mm="19.05", rise_limit_k="3")
    with in_units(Units.METRIC):
        measures = water_map_document(mold, at=AT, printed_by="Rosa").measures["A1"]
        record = mold_record(mold, at=AT, printed_by="Rosa")
    assert any("0.75\u00a0in" in said for said in measures)
    assert any("5.4\u00a0°F" in said for said in measures)
    said = [line for fact in record.facts for line in fact.lines]
    assert "A 926\u00a0lb" in said
    order = factories.order(mold, rules=[factories.care_rule(mold=mold)], author=lead)
    assert order_document(order, at=AT, printed_by="Rosa").units is Units.US


@pytest.mark.parametrize(
    ("quantity", "typed", "told"),
    [
        (Quantity.BORE, "0", "at least 0.0004"),
        (Quantity.BORE, "0.43755", "at most 4 places"),
        (Quantity.BORE, "500", "too large"),
        (Quantity.BORE, "wide", "is no number"),
        (Quantity.MASS, "12.5", "at most 0 places"),
    ],
)
def test_what_cannot_be_is_refused_in_the_reader_s_units(
    quantity: Quantity, typed: str, told: str
) -> None:
    with in_units(Units.US):
        field = MeasureField(quantity=quantity, least=Decimal("0.01"), digits=6)
    with pytest.raises(ValidationError, match=told):
        field.clean(typed)


def test_nothing_known_is_a_dash() -> None:
    assert measure_words(None, quantity=Quantity.MASS) == "–"
