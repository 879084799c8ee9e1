"""A plant on its first day: nothing is stored yet, and nothing may break."""

from collections.abc import Callable

import pytest
from django.test import Client

from moldcare.plant.models import Plant, ShiftException
from moldcare.plant.queries import the_calendar, the_plant
from tests import factories

pytestmark = pytest.mark.django_db


def test_pages_answer_before_the_plant_is_described(client_of: Callable[[str], Client]) -> None:
    assert not Plant.objects.exists()
    client = client_of("manager")
    for address in ("/", "/wall", "/molds"):
        assert client.get(address).status_code == 200, address


def test_shifts_that_are_written_before_the_plant_are_worked() -> None:
    before = the_calendar(the_plant())
    factories.three_shifts()
    after = the_calendar(the_plant())
    assert before.shift_at(factories.ENTERED_AT) is None
    assert after.shift_at(factories.ENTERED_AT) is not None
    ShiftException.objects.create(
        on=factories.ENTERED_AT.date(),
        is_worked=False,
        reason="closed",
        written_at=factories.ENTERED_AT,
    )
    assert the_calendar(the_plant()).shift_at(factories.ENTERED_AT.replace(hour=8)) is None
