"""The water map as it is put together and handed out."""

import io
from decimal import Decimal

import pypdf
import pytest
from django.test import Client
from django.urls import reverse

from moldcare.molds.models import Circuit, CircuitItem, Mold, Position
from moldcare.pages.printing.water_map import water_map_document
from moldcare.plant.models import Plant
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def mold() -> Mold:
    factories.plant()
    mold = factories.mold(number="0417", name="Dripper cap")
    position = Position.objects.create(mold=mold, ident="core 1")
    first = Circuit.objects.create(
        mold=mold,
        ident="A1",
        half="A",
        bore_mm=Decimal("10.50"),
        length_mm=Decimal(1200),
        bends=4,
        design_flow_l_min=Decimal("4.80"),
        rise_limit_k=Decimal("2.5"),
        looped_with="A2",
        couplings="9 mm, shut-off",
    )
    Circuit.objects.create(mold=mold, ident="A2", half="A", medium="oil")
    CircuitItem.objects.create(
        circuit=first, place=1, kind="spiral_baffle", number="3", position=position
    )
    return mold


def test_measures_are_said_as_the_plant_writes_them(mold: Mold) -> None:
    Plant.objects.update(language="de")
    found = water_map_document(mold, at=factories.ENTERED_AT, printed_by="Ruth Okafor")
    said = " ".join(found.measures["A1"]).replace("\u00a0", " ")
    for measure in ("10,5 mm", "1.200 mm", "4,8 l/min", "2,5 K"):
        assert measure in said
    assert found.measures["A2"] == []


def test_page_gives_the_map_as_a_file(mold: Mold) -> None:
    client = Client()
    client.force_login(factories.person(role="reader"))
    answer = client.get(reverse("mold-water-map", kwargs={"number": mold.number}))
    assert answer.headers["Content-Type"] == "application/pdf"
    text = " ".join(
        page.extract_text() for page in pypdf.PdfReader(io.BytesIO(answer.content)).pages
    )
    assert "spiral baffle 3 (core 1)" in " ".join(text.split())
    assert "A2 IN" in text


def test_circuits_of_one_name_are_said_on_the_molds_page(mold: Mold) -> None:
    """Names that differ only by their case are two rows, and one name to whoever reads a plate."""
    Circuit.objects.create(mold=mold, ident="a1", half="B")
    client = Client()
    client.force_login(factories.person(role="reader"))
    answer = client.get(reverse("mold-water-map", kwargs={"number": mold.number}))
    assert answer.status_code == 302
    assert answer.headers["Location"] == reverse("mold", kwargs={"number": mold.number})


def test_mold_without_circuits_has_a_page_that_says_so() -> None:
    factories.plant()
    client = Client()
    client.force_login(factories.person(role="reader"))
    mold = factories.mold()
    answer = client.get(reverse("mold-water-map", kwargs={"number": mold.number}))
    [page] = pypdf.PdfReader(io.BytesIO(answer.content)).pages
    assert "No circuit is entered" in page.extract_text()
