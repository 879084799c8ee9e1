"""Which tables and columns go into an archive: all of the models', but secrets and derived rows."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final, TypeAlias

from django.apps import apps
from django.contrib.auth.hashers import make_password
from django.db import models

from moldcare.care.models import Board, Standing
from moldcare.counters.models import CounterTotal, Life, LifeSegment, Verdict
from moldcare.facts import TableKind, is_fact
from moldcare.feeds.models import Token, Upload, UploadLook, UploadRow
from moldcare.files.models import File
from moldcare.handin.models import SealingKey
from moldcare.plant.models import Person

#: Dropped and rebuilt from the rest.
DERIVED: Final[frozenset[type[models.Model]]] = frozenset(
    {
        *(Board, CounterTotal, Life, LifeSegment, Standing, Verdict),
        *(UploadLook, UploadRow),
    }
)
#: Nothing but what somebody signs in with, or what opens a sealed PIN.
SECRET_TABLES: Final[frozenset[type[models.Model]]] = frozenset({SealingKey, Token})
SECRET_COLUMNS: Final[dict[type[models.Model], frozenset[str]]] = {
    Person: frozenset({"password", "pin_hash"})
}
#: Tables whose rows name bytes in the store by a column `sha256` and cannot do without them.
NEED_BYTES: Final[frozenset[type[models.Model]]] = frozenset({File, Upload})

Column: TypeAlias = "models.Field[Any, Any]"


@dataclass(frozen=True, kw_only=True, slots=True)
class ArchiveTable:
    """A table as it stands in an archive.

    Parameters
    ----------
    model : model class
    columns : tuple of field
        In the order of the model's; secrets left out.
    is_nested : bool
        Whether values nest or hold texts of any length: one JSON object a line in place of CSV.
    """

    model: type[models.Model]
    columns: tuple[Column, ...]
    is_nested: bool

    @property
    def label(self) -> str:
        """The table's name: `molds.Mold`."""
        return self.model._meta.label

    @property
    def kind(self) -> TableKind:
        """Whether its rows are facts or records."""
        return TableKind.FACT if is_fact(self.model) else TableKind.RECORD

    @property
    def names(self) -> tuple[str, ...]:
        """The columns' names: a reference ends with `_id`."""
        return tuple(str(field.attname) for field in self.columns)

    @property
    def path(self) -> str:
        """Where it lies in the archive."""
        return f"tables/{self.label}.{'jsonl' if self.is_nested else 'csv'}"


def own_models() -> list[type[models.Model]]:
    """Return every model of ours, tables of many-to-many fields included, in one fixed order."""
    return [
        model
        for model in apps.get_models(include_auto_created=True)
        if model.__module__.startswith("moldcare.")
    ]


def archive_tables() -> list[ArchiveTable]:
    """Return the tables of an archive, as the models are now."""
    return [
        table_of(model)
        for model in own_models()
        if model not in DERIVED and model not in SECRET_TABLES
    ]


def table_of(model: type[models.Model]) -> ArchiveTable:
    """Return how a model's table stands in an archive."""
    secret = SECRET_COLUMNS.get(model, frozenset())
    columns = tuple(field for field in model._meta.concrete_fields if field.name not in secret)
    return ArchiveTable(
        model=model,
        columns=columns,
        is_nested=any(isinstance(field, (models.JSONField, models.TextField)) for field in columns),
    )


def names_bytes(table: ArchiveTable) -> bool:
    """Return whether rows of the table name bytes of the store."""
    return "sha256" in table.names


def left_out(table: ArchiveTable) -> dict[str, Any]:
    """Return what the columns hold that an archive leaves out: nobody signs in by them."""
    secret: Sequence[str] = sorted(SECRET_COLUMNS.get(table.model, ()))
    return {name: make_password(None) if name == "password" else "" for name in secret}
