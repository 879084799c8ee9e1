"""The one module that writes rows in bulk by plain SQL: derived tables, imports, rebuild.

The same statements work on SQLite and PostgreSQL. Facts go through their triggers like any row.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any

from django.db import connection, models

ROWS_AT_ONCE = 5_000


def upsert(rows: Sequence[models.Model]) -> None:
    """Insert rows of one derived table, or put them in the place of those with the same key."""
    if not rows:
        return
    meta = type(rows[0])._meta
    fields = list(meta.concrete_fields)
    quote = connection.ops.quote_name
    others = [quote(str(field.column)) for field in fields if not field.primary_key]
    key = quote(str(meta.pk.column))
    renewed = ", ".join(f"{name} = excluded.{name}" for name in others)
    _write(
        rows,
        fields=fields,
        ending=f" ON CONFLICT ({key}) DO UPDATE SET {renewed}",
    )


def insert(rows: Sequence[models.Model]) -> None:
    """Insert rows of one table; a key that is left empty is the database's to give."""
    if not rows:
        return
    fields = [
        field
        for field in type(rows[0])._meta.concrete_fields
        if not (field.primary_key and rows[0].pk is None)
    ]
    _write(rows, fields=fields, ending="")


def insert_values(
    model: type[models.Model], names: Sequence[str], values: Iterable[Sequence[Any]]
) -> None:
    """Insert rows given as values that are ready for the database, in the order of the names."""
    statement = _statement(model, [model._meta.get_field(name) for name in names])
    with connection.cursor() as cursor:
        batch: list[Sequence[Any]] = []
        for row in values:
            batch.append(row)
            if len(batch) >= ROWS_AT_ONCE:
                cursor.executemany(statement, batch)
                batch = []
        if batch:
            cursor.executemany(statement, batch)


def _write(
    rows: Sequence[models.Model], *, fields: Sequence[models.Field[Any, Any]], ending: str
) -> None:
    adapted = [(field.attname, _adapter(field)) for field in fields]
    prepared = []
    for row in rows:
        values = row.__dict__
        prepared.append(
            [
                None
                if (value := values[name]) is None
                else value
                if adapt is None
                else adapt(value)
                for name, adapt in adapted
            ]
        )
    statement = _statement(type(rows[0]), fields) + ending
    with connection.cursor() as cursor:
        cursor.executemany(statement, prepared)


def _adapter(field: models.Field[Any, Any]) -> Callable[[Any], Any] | None:
    """Return how a field's values become the database's; None where they are already."""
    if isinstance(field, models.DateTimeField):
        return connection.ops.adapt_datetimefield_value
    if isinstance(field, (models.DateField, models.DecimalField, models.JSONField)):
        return lambda value: field.get_db_prep_save(value, connection=connection)
    return None


def _statement(model: type[models.Model], fields: Sequence[Any]) -> str:
    quote = connection.ops.quote_name
    names = ", ".join(quote(field.column) for field in fields)
    places = ", ".join(["%s"] * len(fields))
    # names are the models' own and quoted; values go in as parameters
    return f"INSERT INTO {quote(model._meta.db_table)} ({names}) VALUES ({places})"  # noqa: S608
