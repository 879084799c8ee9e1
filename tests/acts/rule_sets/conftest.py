"""A set of two rules, and three molds of different resins."""

import pytest

from moldcare.care.models import Family, RuleSet, SetRule
from moldcare.molds.models import Mold
from tests import factories


@pytest.fixture
def family(db: None) -> Family:
    factories.plant()
    return factories.family(key="vents")


@pytest.fixture
def rule_set(family: Family) -> RuleSet:
    row = RuleSet.objects.create(name="every mold")
    SetRule.objects.create(
        rule_set=row,
        family=family,
        name="Wipe",
        count_base=20_000,
        count_basis="shots",
        by_resin=True,
        by_filler=True,
        steps=[{"text": "Look"}, {"text": "Wipe"}],
        reason="starting value",
    )
    SetRule.objects.create(
        rule_set=row,
        family=family,
        name="Clean",
        count_base=50_000,
        covers=["Wipe"],
        reason="starting value",
    )
    return row


@pytest.fixture
def molds(family: Family) -> list[Mold]:
    return [
        factories.mold(number="1", resin_group="mild"),
        factories.mold(number="2", resin_group="gassy", resin="POM", filler="glass"),
        factories.mold(number="3", resin_group="corrosive", filler="glass"),
    ]
