"""The tests' own house: fresh copies instead of flushes, fixed names, the browser, the clock."""

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
import time_machine
from django.conf import settings
from django.db import connection, transaction
from django.test import Client
from django.utils import timezone

from moldcare.acts.doing import Doing
from moldcare.logbook.models import Entry
from moldcare.plant.models import Person, Spot
from tests import factories
from tests.databases import current_database_url


@pytest.mark.parametrize("time", ["first", "second"])
def test_every_transactional_test_begins_with_an_empty_database(fresh_db: None, time: str) -> None:
    assert not Entry.objects.exists()
    author = factories.person(role="lead")
    factories.entry(factories.mold().chain, author=author)
    assert Entry.objects.get().number == 1


def test_a_rolled_back_test_sees_no_copy(db: None) -> None:
    assert not Entry.objects.exists()
    assert not Person.objects.exists()


def test_another_connection_sees_what_a_transactional_test_committed(fresh_db: None) -> None:
    with transaction.atomic():
        factories.spot(number="7")
    connection.close()
    assert Spot.objects.get().number == "7"
    assert str(connection.settings_dict["NAME"]) in current_database_url()


def test_numbers_begin_at_one_in_every_test(db: None) -> None:
    assert [factories.mold().number, factories.mold().number] == ["M-101", "M-102"]


def test_now_is_fixed_and_in_the_past_of_what_it_writes(doing: Doing, now: datetime) -> None:
    assert doing.now == now
    assert timezone.is_aware(now)
    assert now - factories.ENTERED_AT > timedelta(days=300)


def test_the_clock_can_be_stopped_for_pages(clock: time_machine.Traveller, now: datetime) -> None:
    assert timezone.now() == now


def test_clients_are_signed_in_as_their_role(client_of: Callable[[str], Client]) -> None:
    for role in Person.Role.values:
        signed_in = client_of(role).session["_auth_user_id"]
        assert Person.objects.get(pk=signed_in).role == role
    assert "_auth_user_id" not in client_of("stranger").session


def test_tests_write_their_files_outside_the_product() -> None:
    assert settings.BASE_DIR not in settings.DATA_DIR.parents
    assert settings.MEDIA_ROOT.is_relative_to(settings.DATA_DIR)
