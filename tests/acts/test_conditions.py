"""Check constraints worked out here say what the database says."""

from decimal import Decimal
from itertools import product

import pytest
from django.db import models

from moldcare.acts.conditions import NotWorkedOut, holds
from moldcare.care.models import CareRule, Deferral, Step
from moldcare.molds.models import Run

ROWS = (
    [
        Step(place=1, text="x", kind=kind, low=low, high=high)
        for kind, low, high in product(
            ["tick", "value", "odd"], [None, Decimal("1"), Decimal("3")], [None, Decimal("2")]
        )
    ]
    + [
        CareRule(
            name="x", count_base=base, period_n=number, period_unit=unit, event=event, reason=why
        )
        for base, number, unit, event, why in product(
            [None, 0, 5], [None, 2], ["", "month"], ["", "set"], ["", "as before"]
        )
    ]
    + [Deferral(until_count=count, reason=why) for count, why in product([None, 5], ["", "x"])]
)


@pytest.mark.django_db
@pytest.mark.parametrize("row", ROWS, ids=lambda row: type(row).__name__)
def test_a_condition_is_what_the_database_makes_of_it(row: models.Model) -> None:
    checked = 0
    for constraint in row._meta.constraints:
        if not isinstance(constraint, models.CheckConstraint):
            continue
        condition = models.Q(constraint.condition)
        against = row._get_field_expression_map(meta=row._meta, exclude=set())  # type: ignore[attr-defined]
        assert (holds(condition, row) is not False) == condition.check(against)
        checked += 1
    assert checked


def test_what_only_the_database_can_work_out_is_left_to_it() -> None:
    condition = models.Q(planned_to__lte=models.F("planned_from") + 1)
    with pytest.raises(NotWorkedOut):
        holds(condition, Run())
