"""Opening what a code or a number names."""

import pytest
from django.test import Client
from django.urls import reverse

from moldcare.molds.models import Circuit, Mold
from moldcare.plant.models import Spot
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def client(technician: object) -> Client:
    factories.plant()
    client = Client()
    client.force_login(technician)  # type: ignore[arg-type]
    return client


@pytest.fixture
def mold() -> Mold:
    return factories.counted_mold(number="M-0417")


@pytest.fixture
def press() -> Spot:
    return factories.spot(number="7", name="by the gate")


def goes_to(client: Client, code: str) -> str:
    answer = client.get("/scan", {"code": code})
    assert answer.status_code == 302, answer.content.decode()
    return answer.headers["Location"]


@pytest.mark.parametrize(
    "code",
    [
        "M-0417",
        "m-0417",
        "*M-0417*",
        "]Q1M-0417",
        "M-0417\r\n",
        "https://moldcare.plant/molds/M-0417",
        # a label that was printed when the server had another name
        "http://10.0.0.9:8000/molds/M-0417",
    ],
)
def test_a_mold_is_opened_by_its_number_and_by_its_label(
    client: Client, mold: Mold, code: str
) -> None:
    assert goes_to(client, code) == "/molds/M-0417"


def test_a_circuit_a_press_a_place_and_an_order_are_opened(
    client: Client, mold: Mold, press: Spot
) -> None:
    rack = factories.spot(kind="rack", number="B4")
    circuit = Circuit.objects.create(mold=mold, ident="A1", half="A")
    lead = factories.person(role="lead")
    order = factories.order(mold, rules=[factories.care_rule(mold=mold)], author=lead, number=1042)
    at_circuit = f"/molds/M-0417#circuit-{circuit.pk}"
    assert goes_to(client, f"https://moldcare.plant{at_circuit}") == at_circuit
    assert goes_to(client, "M-0417 A1") == at_circuit
    assert goes_to(client, "7") == reverse("spot", kwargs={"kind": "press", "spot_number": "7"})
    assert goes_to(client, "b4") == reverse("spot", kwargs={"kind": "rack", "spot_number": "B4"})
    assert goes_to(client, f"http://x{rack_path(rack)}") == rack_path(rack)
    assert goes_to(client, "1042") == f"/orders/{order.number}/sheet"
    assert goes_to(client, "https://x/orders/1042/sheet") == "/orders/1042/sheet"


def rack_path(rack: Spot) -> str:
    return reverse("spot", kwargs={"kind": "rack", "spot_number": rack.number})


def test_a_number_of_several_things_is_asked_about(client: Client, press: Spot) -> None:
    factories.counted_mold(number="7")
    answer = client.get("/scan", {"code": "7"})
    assert answer.status_code == 200
    page = answer.content.decode()
    assert "names more than one thing" in page
    assert 'href="/molds/7"' in page
    assert 'href="/spots/press/7"' in page


@pytest.mark.parametrize(
    "code", ["9999", "https://evil.example/out", "https://x/setup/people", "//x", "javascript:x"]
)
def test_what_names_nothing_is_said_and_leads_nowhere(client: Client, code: str) -> None:
    answer = client.get("/scan", {"code": code})
    assert answer.status_code == 200
    assert "names no mold, circuit, press, place or order here" in answer.content.decode()


def test_keys_of_another_keyboard_are_said_and_open_nothing_by_themselves(
    client: Client, mold: Mold
) -> None:
    answer = client.get("/scan", {"code": "httpsÖ--moldcare.plant-molds-Mß0417"})
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "set to another keyboard than this tablet (German?)" in page
    assert 'href="/molds/M-0417"' in page


def test_the_field_gets_its_answer_without_leaving_the_page(client: Client, mold: Mold) -> None:
    json = {"Accept": "application/json"}
    told = client.get("/scan", {"code": "M-0417"}, headers=json).json()
    assert [each["path"] for each in told["found"]] == ["/molds/M-0417"]
    assert told["is_sure"]
    lost = client.get("/scan", {"code": "0418"}, headers=json).json()
    assert lost["found"] == []
    assert "names no mold" in lost["said"]


def test_every_page_has_the_field(client: Client) -> None:
    for path in ("/", "/orders", "/readings", "/scan"):
        assert 'action="/scan"' in client.get(path).content.decode()
