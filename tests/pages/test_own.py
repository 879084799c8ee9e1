"""Everybody sets their own PIN, password, language and units, and nobody another's that way."""

from collections.abc import Callable
from uuid import uuid4

import pytest
from django.contrib.auth.hashers import check_password
from django.test import Client

from moldcare.acts.people import pin_hash
from moldcare.acts.sign_in import FREE_TRIES
from moldcare.logbook.models import Entry
from moldcare.plant.models import Person
from tests import factories
from tests.pages.shown import words_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]

ClientOf = Callable[[str], Client]
NEW = "the press is green"


def signed_in(*, role: str = "technician", badge: str | None = "77", pin: str = "2741") -> Person:
    person = factories.person(role=role)
    person.badge = badge
    person.pin_hash = pin_hash(pin) if pin else ""
    person.set_password("steel and water")
    person.save()
    return person


def client_as(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def test_a_technician_changes_their_own_pin_with_the_one_they_have() -> None:
    factories.plant()
    person = signed_in()
    client = client_as(person)
    assert "/you/pin" in client.get("/you").getvalue().decode()
    sent = {"secret": "2741", "pin": "8302", "again": "8302", "hand_in": str(uuid4())}
    assert client.post("/you/pin", sent)["Location"] == "/you"
    person.refresh_from_db()
    assert check_password("8302", person.pin_hash)
    # the second of two taps finds the first one's, though its PIN is the old one by now
    assert client.post("/you/pin", sent)["Location"] == "/you"
    entry = Entry.objects.get(kind="pin_set")
    assert "set by themselves" in entry.sentence
    assert "8302" not in entry.facts


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"secret": "9999"}, "do not belong together"),
        ({"secret": ""}, "Show that it is you"),
        ({"again": "8303"}, "two different PINs"),
        ({"pin": "1234", "again": "1234"}, "the first that anybody tries"),
    ],
)
def test_a_pin_that_cannot_be_leaves_the_one_that_is(changed: dict[str, str], told: str) -> None:
    factories.plant()
    person = signed_in()
    sent = {"secret": "2741", "pin": "8302", "again": "8302", **changed}
    answer = client_as(person).post("/you/pin", sent)
    assert answer.status_code == 422
    assert told in words_of(answer)
    assert "8302" not in answer.getvalue().decode()
    person.refresh_from_db()
    assert check_password("2741", person.pin_hash)


def test_wrong_tries_at_the_own_page_are_slowed_as_everywhere() -> None:
    factories.plant()
    person = signed_in()
    client = client_as(person)
    for _turn in range(FREE_TRIES):
        client.post("/you/pin", {"secret": "9999", "pin": "8302", "again": "8302"})
    answer = client.post("/you/pin", {"secret": "2741", "pin": "8302", "again": "8302"})
    assert answer.status_code == 422
    assert "Too many wrong tries" in words_of(answer)
    person.refresh_from_db()
    assert check_password("2741", person.pin_hash)


def test_who_has_no_pin_yet_sets_one_with_the_password() -> None:
    factories.plant()
    person = signed_in(pin="")
    answer = client_as(person).post(
        "/you/pin", {"secret": "steel and water", "pin": "8302", "again": "8302"}
    )
    assert answer.status_code == 302
    person.refresh_from_db()
    assert check_password("8302", person.pin_hash)


def test_without_a_badge_a_pin_is_not_offered_and_it_is_said_why() -> None:
    factories.plant()
    answer = client_as(signed_in(badge=None, pin="")).get("/you")
    assert "/you/pin" not in answer.getvalue().decode()
    assert "A manager enters yours." in words_of(answer)


@pytest.mark.parametrize("role", ["reader", "technician", "lead", "manager"])
def test_everybody_changes_their_own_password_and_stays_signed_in(role: str) -> None:
    factories.plant()
    person = signed_in(role=role)
    client, elsewhere = client_as(person), client_as(person)
    wrong = {"secret": "steel and fire", "password": NEW, "again": NEW}
    assert client.post("/you/password", wrong).status_code == 422
    sent = {**wrong, "secret": "steel and water"}
    assert client.post("/you/password", sent)["Location"] == "/you"
    assert client.get("/you").status_code == 200
    person.refresh_from_db()
    assert person.check_password(NEW)
    # whoever sat at another screen by the old password is out
    assert elsewhere.get("/you").status_code == 302
    assert NEW not in Entry.objects.get(kind="password_set").facts


def test_one_s_language_and_units_are_one_s_own_to_set() -> None:
    factories.plant()
    person = signed_in()
    client = client_as(person)
    sent = {"language": "de", "units": "us", "hand_in": str(uuid4())}
    for _tap in range(2):
        assert client.post("/you", sent)["Location"] == "/you"
    person.refresh_from_db()
    assert (person.language, person.units) == ("de", "us")
    assert 'lang="de"' in client.get("/you").getvalue().decode()
    assert Entry.objects.filter(kind="person_edited").count() == 1
    answer = client.post("/you", {"language": "xx", "units": "us"})
    assert answer.status_code == 422


def test_nothing_but_language_and_units_is_changed_by_the_own_page() -> None:
    factories.plant()
    person = signed_in()
    client_as(person).post("/you", {"language": "", "units": "us", "role": "manager"})
    person.refresh_from_db()
    assert person.role == "technician"


def test_a_reader_has_no_pin(client_of: ClientOf) -> None:
    factories.plant()
    client = client_of("reader")
    assert client.get("/you/pin").status_code == 403
    assert "/you/pin" not in client.get("/you").getvalue().decode()


def test_every_page_leads_to_one_s_own(client_of: ClientOf) -> None:
    factories.plant()
    for role in ("reader", "technician", "lead"):
        assert 'href="/you"' in client_of(role).get("/molds").getvalue().decode()
