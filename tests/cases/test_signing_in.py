"""Wrong PINs of one person behind one address, and what stays after somebody signed off."""

import pytest
from django.test import Client

from moldcare.pages.device import COOKIE
from moldcare.plant.models import Person
from tests import factories
from tests.pages.routes import PUBLIC, routes, sample_path
from tests.pages.small_world import small_world

pytestmark = pytest.mark.django_db

PROXY = "10.0.0.1"


@pytest.fixture
def anna(db: None) -> Person:
    factories.plant()
    return factories.person(name="Anna Weber", badge="4711", pin="2904")


@pytest.fixture
def ben(db: None) -> Person:
    return factories.person(name="Ben Adler", badge="4712", pin="7391")


def tablet(person: Person, pin: str) -> Client:
    """A tablet on which somebody signed in once, and off again: it has a name."""
    client = Client(REMOTE_ADDR=PROXY)
    assert enter(client, person, pin) == 302
    assert client.cookies[COOKIE].value
    assert client.post("/sign-off").status_code == 302
    return client


def enter(client: Client, person: Person, pin: str, **headers: str) -> int:
    sent = {"badge": person.badge, "pin": pin}
    return client.post("/sign-in/badge", sent, headers=headers).status_code


def test_wrong_pins_stop_one_person_on_one_tablet_and_nobody_else(
    anna: Person, ben: Person, clock: object
) -> None:
    first, second = tablet(ben, "7391"), tablet(ben, "7391")
    for _each in range(6):
        assert enter(first, anna, "0000") == 422
    assert enter(first, anna, "2904") == 422  # the right one, too early
    assert enter(first, ben, "7391") == 302
    assert enter(second, ben, "7391") == 302
    second.post("/sign-off")
    assert enter(second, anna, "2904") == 302
    clock.shift(61)  # type: ignore[attr-defined]
    first.post("/sign-off")
    assert enter(first, anna, "2904") == 302


@pytest.mark.parametrize("header", ["x-forwarded-for", "forwarded", "x-real-ip", "via"])
def test_a_header_that_names_another_address_wins_nothing(
    anna: Person, ben: Person, clock: object, header: str
) -> None:
    client = tablet(ben, "7391")
    for each in range(6):
        assert enter(client, anna, "0000", **{header: f"192.0.2.{each}"}) == 422
    assert enter(client, anna, "2904", **{header: "192.0.2.77"}) == 422
    # nor does throwing the tablet's name away, or making one up
    stranger = Client(REMOTE_ADDR="192.0.2.9")
    for each in range(6):
        stranger.cookies[COOKIE] = f"made up {each}"
        assert enter(stranger, anna, "0000") == 422
    del stranger.cookies[COOKIE]
    assert enter(stranger, anna, "2904") == 422


def test_every_page_of_a_person_is_kept_by_nobody(db: None) -> None:
    world = small_world()
    client = Client()
    client.force_login(world.people["manager"])
    seen = 0
    for route in routes():
        if route.name in PUBLIC or route.is_admin or route.name == "file":
            continue
        answer = client.get(sample_path(route, world=world))
        kept = answer.headers.get("Cache-Control", "")
        assert "no-store" in kept, (route.name, kept)
        seen += 1
    assert seen > 20
    off = client.post("/sign-off")
    assert '"cache"' in off.headers["Clear-Site-Data"]
    assert client.get("/molds").status_code == 302
