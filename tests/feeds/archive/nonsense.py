"""Rows for tables that nothing else in the tests fills."""

from collections.abc import Callable
from contextlib import suppress
from datetime import timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import IntegrityError, models, transaction

from moldcare.core.chain import SealForm, prepare_seal
from moldcare.feeds.archive.tables import archive_tables
from moldcare.feeds.models import BroughtIn
from moldcare.logbook.models import Seal
from moldcare.logbook.queries import heads_before
from moldcare.molds.models import Mold
from tests import factories
from tests.feeds.archive.plants import MADE_AT
from tests.pages.small_world import World


def one_of_each(world: World) -> None:
    """A sealed month, and a row of nonsense in every table of facts and records without any."""
    manager, ends = world.people["manager"], factories.ENTERED_AT + timedelta(days=40)
    month = factories.ENTERED_AT.date().replace(day=1)
    sealed = prepare_seal(
        SealForm(
            month=month,
            heads=heads_before(ends),
            sealed_by_id=manager.pk,
            sealed_by_name=manager.name,
            written_at=ends,
            previous_hash="",
        )
    )
    Seal.objects.create(
        month=month,
        heads=sealed.canonical,
        hash=sealed.hash,
        sealed_by=manager,
        written_at=ends,
    )
    factories.three_shifts()
    for table in archive_tables():
        if not table.model._base_manager.exists():
            # what the plant that works has, and a check keeps from being nonsense, is no loss
            with suppress(IntegrityError, IndexError), transaction.atomic():
                nonsense(table.model)


def nonsense(model: type[models.Model]) -> None:
    """Write a row that means nothing: what is needed, and no more."""
    values: dict[str, Any] = {}
    for field in model._meta.concrete_fields:
        if isinstance(field, models.JSONField):
            values[field.attname] = {"b": [1, 1.5, None, "=1+1"], "a": ""}
        elif isinstance(field, models.ForeignKey) and not field.null:
            values[field.attname] = field.related_model._base_manager.order_by("-pk")[0].pk
        elif isinstance(field, models.AutoField):
            continue
        elif not (field.null or field.has_default() or (field.blank and field.choices)):
            values[field.attname] = NONSENSE[field.get_internal_type()](field)
    if model is BroughtIn:
        # what a row brought is exactly one thing
        values["mold_id"] = Mold.objects.order_by("-pk")[0].pk
    model(**values).save()


NONSENSE: dict[str, Callable[[Any], Any]] = {
    "CharField": lambda field: field.choices[0][0] if field.choices else "'=1"[: field.max_length],
    "TextField": lambda _: "=1+1\r\n",
    # later columns are later: what has a begin and an end
    "DateTimeField": lambda field: (
        MADE_AT + timedelta(hours=field.model._meta.concrete_fields.index(field))
    ),
    "DateField": lambda _: MADE_AT.date(),
    "TimeField": lambda _: MADE_AT.time(),
    "BooleanField": lambda _: True,
    "DecimalField": lambda _: Decimal("1"),
    "UUIDField": lambda _: UUID(int=2**100),
}
NONSENSE |= dict.fromkeys(
    ("IntegerField", "BigIntegerField", "PositiveIntegerField", "PositiveBigIntegerField"),
    lambda _: 1,
)
NONSENSE |= dict.fromkeys(("PositiveSmallIntegerField", "SmallIntegerField"), lambda _: 1)
