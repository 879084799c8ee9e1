"""Heads of chains stand in one order on every database, whatever it takes for an order."""

import datetime as dt

import pytest

from moldcare.logbook.queries import heads_before
from moldcare.plant.models import Person
from tests import factories

pytestmark = pytest.mark.django_db


def test_heads_stand_by_kind_and_by_code_point_of_the_label(technician: Person) -> None:
    at = dt.datetime(2026, 11, 3, 6, tzinfo=dt.UTC)
    # a linguistic order would put the small letter first and pass over blanks and hyphens
    for number in ("b-1", "Ä 3", "B 2", "b 1", "B-10", "a"):
        factories.entry(factories.mold(number=number).chain, author=technician, at=at)
    heads = heads_before(at + dt.timedelta(hours=1))
    assert [head.chain_label for head in heads] == ["B 2", "B-10", "a", "b 1", "b-1", "Ä 3"]
