from datetime import date, datetime
from decimal import Decimal

import pytest
from django.contrib.auth.hashers import check_password

from moldcare.acts.doing import Doing
from moldcare.acts.errors import DoesNotFit, Incomplete, NotAllowed
from moldcare.acts.people import (
    add_person,
    add_qualification,
    add_training,
    edit_person,
    make_manager,
    set_password,
    set_pin,
)
from moldcare.logbook.models import Entry
from moldcare.plant.models import Person, Qualification, Training
from moldcare.plant.queries import qualified
from tests import factories

pytestmark = pytest.mark.django_db


def test_an_empty_database_begins_with_one_manager(now: datetime) -> None:
    first = make_manager(
        username="isolberg", name="Ingrid Solberg", password="four wet gray stones", now=now
    )

    assert first.role == Person.Role.MANAGER
    assert first.check_password("four wet gray stones")
    assert Entry.objects.get().author == first
    with pytest.raises(DoesNotFit, match="a manager already"):
        make_manager(username="b", name="B", password="five wet gray stones", now=now)


def test_an_easy_password_makes_no_manager(now: datetime) -> None:
    with pytest.raises(Incomplete):
        make_manager(username="isolberg", name="Ingrid Solberg", password="12345678", now=now)
    assert not Person.objects.exists()


def test_a_person_is_added_and_no_secret_is_in_the_logbook(managing: Doing) -> None:
    add_person(
        managing,
        username="tbreuer",
        name="Tomas Breuer",
        role="technician",
        badge=" 4711 ",
        pin="290473",
        password="seven gray wet stones",
    )

    person = Person.objects.get(username="tbreuer")
    assert (person.badge, person.role) == ("4711", "technician")
    assert check_password("290473", person.pin_hash)
    entry = Entry.objects.get(kind="person_added")
    for secret in ("290473", "seven gray", person.pin_hash, person.password):
        assert secret not in entry.canonical


def test_a_person_is_one_person_in_both_spellings(managing: Doing) -> None:
    add_person(managing, username="müller", name="Mu\u0308ller", role="reader")

    assert Person.objects.get(username="m\u00fcller").name == "M\u00fcller"
    with pytest.raises(Incomplete):
        add_person(managing, username="mu\u0308ller", name="again", role="reader")


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"role": "owner"}, "Role"),
        ({"name": "x" * 121}, "120"),
        ({"username": "with blank"}, "letters"),
        ({"badge": "9" * 41}, "40"),
        ({"pin": "12a4"}, "4 to 8 digits"),
        ({"pin": "123"}, "4 to 8 digits"),
        ({"pin": "123456789"}, "4 to 8 digits"),
        ({"pin": "٣٤٥٧"}, "4 to 8 digits"),
        ({"pin": "7777"}, "first that anybody tries"),
        ({"pin": "3456"}, "first that anybody tries"),
    ],
)
def test_a_person_that_cannot_be_is_refused(
    managing: Doing, fields: dict[str, str], told: str
) -> None:
    given = {"username": "a", "name": "A", "role": "reader", **fields}
    with pytest.raises(Incomplete, match=told):
        add_person(managing, **given)
    assert not Entry.objects.exists()


def test_the_last_manager_stays(managing: Doing) -> None:
    for changes in ({"role": "lead"}, {"is_active": False}):
        with pytest.raises(DoesNotFit, match="Nobody would be left"):
            edit_person(managing, person=managing.person, changes=changes)
    managing.person.refresh_from_db()
    assert managing.person.role == "manager"
    assert managing.person.is_active
    second = factories.person(role="manager")
    edit_person(managing, person=second, changes={"role": "lead"})
    assert "role: manager → lead" in Entry.objects.get().sentence


def test_two_people_without_a_badge_are_no_double(managing: Doing) -> None:
    one = factories.person(badge="7")
    edit_person(managing, person=one, changes={"badge": ""})
    two = factories.person(badge="8")
    edit_person(managing, person=two, changes={"badge": " "})
    assert Person.objects.filter(badge=None).count() == 2


def test_a_pin_is_set_by_oneself_or_reset_by_a_lead_but_never_a_manager_s(
    doing: Doing, technician: Person, manager: Person, reader: Person
) -> None:
    hand = Doing(person=technician, now=doing.now)
    set_pin(hand, person=technician, pin="2904")
    with pytest.raises(NotAllowed):
        set_pin(hand, person=doing.person, pin="2904")
    set_pin(doing, person=technician, pin="7391")
    with pytest.raises(NotAllowed, match="manager's PIN"):
        set_pin(doing, person=manager, pin="7391")
    set_pin(Doing(person=manager, now=doing.now), person=manager, pin="5820")
    with pytest.raises(NotAllowed):
        set_pin(Doing(person=reader, now=doing.now), person=reader, pin="5820")

    technician.refresh_from_db()
    assert check_password("7391", technician.pin_hash)
    assert [entry.sentence for entry in Entry.objects.order_by("number")] == [
        "PIN of Tomas Breuer set by themselves.",
        "PIN of Tomas Breuer reset.",
        "PIN of Ingrid Solberg set by themselves.",
    ]


def test_a_password_is_set_by_oneself_or_by_a_manager(
    managing: Doing, technician: Person, lead: Person
) -> None:
    set_password(
        Doing(person=technician, now=managing.now),
        person=technician,
        password="nine wet gray stones",
    )
    with pytest.raises(NotAllowed):
        set_password(
            Doing(person=lead, now=managing.now), person=technician, password="ten gray stones"
        )
    with pytest.raises(Incomplete):
        set_password(managing, person=technician, password="short")
    technician.refresh_from_db()
    assert technician.check_password("nine wet gray stones")


def test_a_qualification_ends_with_its_last_day_or_when_it_is_withdrawn(
    managing: Doing, technician: Person
) -> None:
    add_qualification(
        managing,
        person=technician,
        subject="hot runner",
        evidence="course 12",
        valid_from=date(2026, 1, 1),
        valid_to=date(2026, 12, 31),
    )

    def asked(on: date) -> bool:
        return qualified(technician, subject="hot runner", on=on)

    assert [asked(date(2025, 12, 31)), asked(date(2026, 12, 31)), asked(date(2027, 1, 1))] == [
        False,
        True,
        False,
    ]
    add_qualification(
        managing,
        person=technician,
        subject="hot runner",
        evidence="eye test",
        valid_from=date(2026, 6, 1),
        is_withdrawn=True,
    )
    assert [asked(date(2026, 5, 31)), asked(date(2026, 6, 1))] == [True, False]
    with pytest.raises(Incomplete):
        add_qualification(
            managing,
            person=technician,
            subject="x",
            evidence="y",
            valid_from=date(2026, 2, 1),
            valid_to=date(2026, 1, 1),
        )
    assert Qualification.objects.count() == 2


def test_training_has_hours(managing: Doing, technician: Person) -> None:
    trained = {"person": technician, "on": date(2026, 11, 3), "subject": "polishing"}
    add_training(managing, **trained, hours=Decimal("3.5"))  # type: ignore[arg-type]
    with pytest.raises(Incomplete):
        add_training(managing, **trained, hours=Decimal(0))  # type: ignore[arg-type]
    assert Training.objects.get().hours == Decimal("3.5")


def test_a_lead_adds_nobody(doing: Doing, technician: Person) -> None:
    with pytest.raises(NotAllowed):
        add_person(doing, username="a", name="A", role="manager")
    with pytest.raises(NotAllowed):
        edit_person(doing, person=technician, changes={"role": "manager"})
