"""Reporting an interruption on the page where the mold is chosen."""

from datetime import timedelta

import pytest
from django.test import Client

from moldcare.acts.doing import Doing
from moldcare.acts.floor import set_mold
from moldcare.molds.models import Mold
from moldcare.plant.models import Person
from moldcare.production.models import Interruption
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def running(doing: Doing) -> list[Mold]:
    """Molds in presses 10, 9 and 2."""
    factories.plant()
    factories.family(key="vents", name="Vents")
    molds = []
    for press in ("10", "9", "2"):
        mold = factories.counted_mold(number=f"M-{press}")
        spot = factories.spot(number=press)
        set_mold(doing, mold=mold, press=spot, at=doing.now - timedelta(hours=9))
        molds.append(mold)
    return molds


@pytest.fixture
def client(technician: Person) -> Client:
    client = Client()
    client.force_login(technician)
    return client


TOLD = {"since": "0", "defect": "burn", "family_key": "vents", "finding": "", "again": ""}


def test_running_molds_are_offered_as_people_walk(
    client: Client, running: list[Mold], clock: object
) -> None:
    page = client.get("/interruption").content.decode()
    at = [page.index(f'value="{number}"') for number in ("M-2", "M-9", "M-10")]
    assert at == sorted(at)


def test_four_choices_are_enough(client: Client, running: list[Mold], clock: object) -> None:
    answer = client.post("/interruption", {**TOLD, "mold": "M-9"})
    assert answer.status_code == 302
    assert answer.headers["Location"] == "/molds/M-9"
    row = Interruption.objects.get()
    assert (row.mold.number, row.defect, row.family_key) == ("M-9", "burn", "vents")
    assert row.press is not None
    assert row.press.number == "9"
    assert "M-9" in client.get("/interruption").content.decode().split("Stands already")[1]


@pytest.mark.parametrize("code", ["M-2", "*m-2*", "https://moldcare.plant/molds/M-2"])
def test_a_scanned_mold_wins_over_a_ticked_one(
    client: Client, running: list[Mold], code: str, clock: object
) -> None:
    client.post("/interruption", {**TOLD, "mold": "M-9", "other": code})
    assert Interruption.objects.get().mold.number == "M-2"


def test_a_mold_is_preset_by_the_address(client: Client, running: list[Mold]) -> None:
    page = client.get("/interruption?mold=M-10").content.decode()
    assert page.count("checked") >= 1
    assert 'value="M-10" id="id_mold_2" checked' in page.replace("required ", "")


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({}, "Choose the mold, or scan its label."),
        ({"other": "M-77"}, "There is no mold M-77."),
        ({"mold": "M-77"}, "Select a valid choice"),
    ],
)
def test_without_a_mold_nothing_is_written_and_nothing_lost(
    client: Client, running: list[Mold], fields: dict[str, str], said: str
) -> None:
    answer = client.post("/interruption", {**TOLD, "finding": "flash at C3", **fields})
    assert answer.status_code == 422
    page = answer.content.decode()
    assert said in page
    assert "flash at C3" in page
    assert not Interruption.objects.exists()


def test_without_a_running_mold_its_number_is_asked_for(client: Client, clock: object) -> None:
    factories.plant()
    factories.family(key="vents", name="Vents")
    factories.counted_mold(number="M-5")
    page = client.get("/interruption").content.decode()
    assert "Which mold" not in page
    answer = client.post("/interruption", TOLD)
    assert answer.status_code == 422
    assert "Choose the mold, or scan its label." in answer.content.decode()
    assert client.post("/interruption", {**TOLD, "other": "M-5"}).status_code == 302
    assert Interruption.objects.get().press is None
