"""What a row that cannot stand is refused with: words about fields, never a constraint's name."""

from datetime import timedelta

import pytest
from django.apps import apps
from django.db import models

from moldcare.acts.doing import Doing, check_happened, checked
from moldcare.acts.errors import DoesNotFit, Incomplete
from moldcare.molds.models import Run
from tests import factories


def test_times_in_the_wrong_order_are_named_by_their_fields(db: None) -> None:
    run = Run(
        mold=factories.mold(),
        press=factories.spot(),
        planned_from=factories.ENTERED_AT,
        planned_to=factories.ENTERED_AT - timedelta(days=1),
    )
    with pytest.raises(Incomplete, match=r"Planned from, Planned end: these do not fit together\."):
        checked(run)


def test_no_check_of_any_table_is_said_by_its_name(db: None) -> None:
    said = {}
    for model in apps.get_models():
        if not model.__module__.startswith("moldcare."):
            continue
        for constraint in model._meta.constraints:
            if not isinstance(constraint, models.CheckConstraint):
                continue
            names = sorted(models.Q(constraint.condition).referenced_base_fields)
            said[constraint.name] = in_words(model, names)
    assert sum(map(bool, said.values())) > 30
    assert {name: words for name, words in said.items() if name in words or "_" in words} == {}


def in_words(model: type[models.Model], names: list[str]) -> str:
    """What an empty row of the model is refused with, about these fields only."""
    row = model()
    others = [field.name for field in model._meta.fields if field.name not in names]
    try:
        checked(row, exclude=tuple(others))
    except Incomplete as error:
        return str(error)
    return ""


def test_what_has_not_happened_yet_is_said_in_the_plants_time(doing: Doing) -> None:
    plant = factories.plant(zone="America/New_York")
    with pytest.raises(DoesNotFit, match=r"^2026-11-25 02:12 is in the future\."):
        check_happened(doing.now + timedelta(hours=1), doing=doing, plant=plant)
