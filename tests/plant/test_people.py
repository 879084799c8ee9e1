"""People: who may sign in, who may sign, who is kept out by the database itself."""

import pytest
from django.contrib.auth import authenticate
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from moldcare.plant.models import Person
from moldcare.plant.queries import people_who_sign
from tests import factories

pytestmark = pytest.mark.django_db


def test_a_person_signs_in_with_name_and_password() -> None:
    made = Person.objects.create_person("rosa", password="lid-38-vents", name="Rosa Feldmann")
    assert authenticate(username="rosa", password="lid-38-vents") == made
    assert authenticate(username="rosa", password="something else") is None


def test_a_person_without_a_password_cannot_sign_in() -> None:
    made = Person.objects.create_person("shared", password=None, name="Tablet")
    assert not made.has_usable_password()
    assert authenticate(username="shared", password="") is None


def test_a_person_who_left_cannot_sign_in() -> None:
    made = Person.objects.create_person("rosa", password="lid-38-vents", name="Rosa Feldmann")
    made.is_active = False
    made.save(update_fields=["is_active"])
    assert authenticate(username="rosa", password="lid-38-vents") is None


def test_a_sign_in_name_is_one_word_and_taken_once() -> None:
    with pytest.raises(ValidationError, match="letters, digits"):
        Person.objects.create_person("two words", password=None, name="x")
    Person.objects.create_person("rosa", password=None, name="Rosa Feldmann")
    with pytest.raises(ValidationError):
        Person.objects.create_person("rosa", password=None, name="Rosa Other")


def test_a_role_that_nobody_knows_is_refused_by_the_database() -> None:
    row = factories.person(role="reader")
    with pytest.raises(IntegrityError), transaction.atomic():
        Person.objects.filter(pk=row.pk).update(role="owner")


def test_two_people_share_no_badge_and_many_have_none() -> None:
    factories.person(badge="4711")
    factories.person(badge=None)
    factories.person(badge=None)
    with pytest.raises(IntegrityError), transaction.atomic():
        factories.person(badge="4711")


def test_only_those_with_badge_and_pin_are_offered_to_sign() -> None:
    signs = factories.person(pin="2580", name="Bo Signer")
    also = factories.person(pin="2580", name="Al Signer", role="lead")
    factories.person(name="no PIN")
    factories.person(pin="2580", badge=None, name="no badge")
    factories.person(pin="2580", is_active=False, name="left")
    factories.person(pin="2580", role="feed", name="a feed")
    assert people_who_sign() == [also, signs]


@pytest.mark.parametrize("role", Person.Role.values)
def test_only_managers_look_at_tables_and_nobody_changes_them_there(role: str) -> None:
    row = factories.person(role=role)
    assert row.is_staff == (role == "manager")
    assert row.has_perm("molds.view_mold") == (role == "manager")
    for verb in ("add", "change", "delete"):
        assert not row.has_perm(f"molds.{verb}_mold")


def test_a_manager_who_left_looks_at_no_table() -> None:
    row = factories.person(role="manager", is_active=False)
    assert not row.has_perm("molds.view_mold")
    assert not row.has_module_perms("molds")
