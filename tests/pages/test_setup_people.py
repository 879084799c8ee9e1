"""People on the pages of the setup: who may do what, what lapses, who resets PINs."""

from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal

import pytest
from django.test import Client

from moldcare.logbook.models import Entry
from moldcare.plant.models import Person, Qualification, Training
from moldcare.plant.queries import qualified
from tests import factories
from tests.pages.shown import words_of

pytestmark = pytest.mark.usefixtures("clock", "db")

ClientOf = Callable[[str], Client]
TODAY = date(2026, 11, 25)


def typed(**more: str) -> dict[str, str]:
    return {
        "name": "Ida Moll",
        "username": "ida",
        "badge": "3001",
        "role": "technician",
        "language": "",
        "password": "",
        "pin": "4711",
        **more,
    }


def test_a_person_is_added_with_badge_and_pin(client_of: ClientOf) -> None:
    client = client_of("manager")
    answer = client.post("/setup/people/add", typed())
    person = Person.objects.get(username="ida")
    assert answer["Location"] == f"/setup/people/{person.pk}"
    assert not person.has_usable_password()
    assert person.check_password("") is False
    said = words_of(client.get(answer["Location"]))
    assert "3001" in said
    # neither hash nor PIN is on any page or in the entry
    assert person.pin_hash not in said
    assert "4711" not in Entry.objects.order_by("-id")[0].facts


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"badge": ""}, "A PIN needs a badge number"),
        ({"pin": "1234"}, "the first that anybody tries"),
        ({"pin": "12"}, "4 to 8 digits"),
        ({"password": "password"}, "too common"),
        ({"username": "ida moll"}, "letters, digits"),
        ({"role": "boss"}, "not one of the available choices"),
        ({"role": "lead", "is_wall": "on"}, "A wall screen is a reader."),
    ],
)
def test_a_person_who_cannot_be_keeps_what_was_typed(
    client_of: ClientOf, changed: dict[str, str], said: str
) -> None:
    client = client_of("manager")
    answer = client.post("/setup/people/add", typed(**changed))
    assert answer.status_code == 422
    assert said in words_of(answer)
    assert 'value="Ida Moll"' in answer.getvalue().decode()
    assert not Person.objects.filter(name="Ida Moll").exists()


def test_whoever_is_out_of_the_plant_stays_and_cannot_sign_in(client_of: ClientOf) -> None:
    client = client_of("manager")
    person = factories.person(username="ida", name="Ida Moll", role="technician")
    person.set_password("steel and water")
    person.save()
    theirs = Client()
    theirs.force_login(person)
    assert theirs.get("/").status_code == 200
    change = typed()
    assert client.post(f"/setup/people/{person.pk}/edit", change).status_code == 302
    person.refresh_from_db()
    assert not person.is_active
    # also whoever is signed in at this moment
    assert theirs.get("/").status_code == 302
    answer = theirs.post("/sign-in", {"username": "ida", "password": "steel and water"})
    assert answer.status_code != 302
    assert "1 is out of the plant" in words_of(client.get("/setup/people"))


@pytest.mark.parametrize("change", [{"role": "lead", "is_active": "on"}, {"role": "manager"}])
def test_the_last_manager_cannot_be_taken_away(
    client_of: ClientOf, manager: Person, change: dict[str, str]
) -> None:
    client = client_of("manager")
    sent = {"name": manager.name, "username": manager.username, "badge": "", "language": ""}
    answer = client.post(f"/setup/people/{manager.pk}/edit", {**sent, **change})
    assert answer.status_code == 422
    assert "Nobody would be left to look after people." in words_of(answer)
    manager.refresh_from_db()
    assert (manager.role, manager.is_active) == ("manager", True)


def test_a_lead_resets_pins_but_a_manager_s(
    client_of: ClientOf, manager: Person, technician: Person
) -> None:
    client = client_of("lead")
    assert technician.name in words_of(client.get("/setup/people"))
    pins = {"pin": "4711", "again": "4711"}
    assert client.post(f"/setup/people/{technician.pk}/pin", pins).status_code == 302
    answer = client.post(f"/setup/people/{manager.pk}/pin", pins)
    assert answer.status_code == 422
    assert "Only a manager sets a manager" in words_of(answer)
    for path in ("add", f"{technician.pk}/edit", f"{technician.pk}/password"):
        assert client.get(f"/setup/people/{path}").status_code == 403
    assert client_of("technician").get("/setup/people").status_code == 403


def test_two_different_pins_are_refused_and_none_is_shown(
    client_of: ClientOf, technician: Person
) -> None:
    answer = client_of("manager").post(
        f"/setup/people/{technician.pk}/pin", {"pin": "4711", "again": "4712"}
    )
    assert answer.status_code == 422
    html = answer.getvalue().decode()
    assert "two different PINs" in html
    assert "4711" not in html
    assert "4712" not in html


def test_a_qualification_is_renewed_and_withdrawn(client_of: ClientOf, technician: Person) -> None:
    client = client_of("manager")
    path = f"/setup/people/{technician.pk}"
    one = {
        "subject": "hot runner",
        "evidence": "course, file 7",
        "valid_from": "2025-01-01",
        "valid_to": "2026-12-20",
    }
    assert client.post(f"{path}/qualify", one).status_code == 302
    said = words_of(client.get("/setup/people"))
    assert "Lapses within 60 days, or has lapsed" in said
    assert "20 Dec 2026" in said
    renewed = {**one, "valid_from": "2026-11-25", "valid_to": "2028-11-25"}
    assert client.post(f"{path}/qualify", renewed).status_code == 302
    assert "Lapses within" not in words_of(client.get("/setup/people"))
    row = Qualification.objects.latest("id")
    assert (
        client.post(
            f"{path}/qualifications/{row.pk}/withdraw", {"evidence": "moved to sales"}
        ).status_code
        == 302
    )
    assert not qualified(technician, subject="hot runner", on=TODAY)
    assert Qualification.objects.count() == 3


def test_a_qualification_does_not_end_before_it_begins(
    client_of: ClientOf, technician: Person
) -> None:
    answer = client_of("manager").post(
        f"/setup/people/{technician.pk}/qualify",
        {
            "subject": "hot runner",
            "evidence": "course",
            "valid_from": "2026-01-02",
            "valid_to": "2026-01-01",
        },
    )
    assert answer.status_code == 422
    assert "It cannot end before it begins." in words_of(answer)


@pytest.mark.parametrize(
    ("ends", "is_listed"),
    [
        (date(2026, 11, 24), True),
        (date(2026, 11, 25), True),
        (date(2027, 1, 24), True),
        (date(2027, 1, 25), False),
        (None, False),
    ],
)
def test_what_lapses_in_sixty_days_is_listed(
    client_of: ClientOf, technician: Person, now: datetime, ends: date | None, is_listed: bool
) -> None:
    Qualification.objects.create(
        person=technician,
        subject="lifting gear",
        evidence="course",
        valid_from=date(2026, 1, 1),
        valid_to=ends,
        written_at=now,
    )
    said = words_of(client_of("manager").get("/setup/people"))
    assert ("Lapses within 60 days" in said) == is_listed


def test_training_hours_are_written_down_and_summed(
    client_of: ClientOf, technician: Person
) -> None:
    client = client_of("manager")
    path = f"/setup/people/{technician.pk}/train"
    one = {"on": "2026-03-02", "hours": "7,5", "subject": "hot runners"}
    assert client.post(path, one).status_code == 302
    assert client.post(path, {**one, "on": "2026-04-02", "hours": "0.5"}).status_code == 302
    assert client.post(path, {**one, "hours": "0"}).status_code == 422
    assert sum(row.hours for row in Training.objects.all()) == Decimal(8)
    assert "8 h of training this year." in words_of(client.get("/setup/people"))


@pytest.mark.parametrize(
    ("changed", "comes_in"),
    [
        ({}, True),
        ({"pin": ""}, False),
        ({"badge": "", "pin": ""}, False),
        ({"badge": "", "pin": "", "password": "nine steel vents"}, True),
        ({"badge": "", "pin": "", "role": "feed"}, True),
    ],
)
def test_whoever_has_no_way_in_yet_is_said_in_the_list_and_on_their_page(
    client_of: ClientOf, changed: dict[str, str], *, comes_in: bool
) -> None:
    client, told = client_of("manager"), "Cannot sign in yet"
    before = words_of(client.get("/setup/people")).count(told)
    answer = client.post("/setup/people/add", typed(**changed))
    assert words_of(client.get("/setup/people")).count(told) - before == (not comes_in)
    assert (told in words_of(client.get(answer["Location"]))) is not comes_in
