"""The setup: what can be done here, and by whom."""

from collections.abc import Callable

import pytest
from django.test import Client

from moldcare.care.models import RuleSet, SetRule
from tests import factories
from tests.pages.shown import words_of

pytestmark = pytest.mark.usefixtures("clock")

ClientOf = Callable[[str], Client]


def test_the_setup_names_only_what_can_be_done_here(client_of: ClientOf) -> None:
    factories.plant()
    shown = words_of(client_of("lead").get("/setup"))
    for heading in ("Molds", "Rule sets", "Counters"):
        assert heading in shown
    reader = words_of(client_of("reader").get("/setup"))
    for act in ("Add a mold", "Load the starting sets", "Add a counter"):
        assert act in shown
        assert act not in reader


def test_starting_sets_are_loaded_once(client_of: ClientOf) -> None:
    factories.plant()
    client = client_of("lead")
    first = words_of(client.post("/setup", {}, follow=True))
    assert "rules in" in first
    count = SetRule.objects.count()
    assert count > 0
    again = words_of(client.post("/setup", {}, follow=True))
    assert "All starting sets were there already; nothing was changed." in again
    assert SetRule.objects.count() == count
    row = RuleSet.objects.first()
    assert row is not None
    assert row.rules.first().name in words_of(client.get(f"/rule-sets/{row.pk}"))
