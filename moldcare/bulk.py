"""The one module that writes rows in bulk by plain SQL: derived tables, imports, rebuild.

The same statements work on SQLite and PostgreSQL. Facts go through their triggers like any row.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from itertools import islice
from typing import Any

from django.db import connection, models

ROWS_AT_ONCE = 5_000
ROOM_KB = 200_000


@contextmanager
def roomy() -> Iterator[None]:
    """Let SQLite keep more of the file in memory for a while.

    Where very many rows are written in another order than that of their keys, its usual 2 MB are
    written out and read again for almost every row. PostgreSQL has its own shared memory.
    """
    if connection.vendor != "sqlite":
        yield
        return
    with connection.cursor() as cursor:
        usual = cursor.execute("PRAGMA cache_size").fetchone()[0]
        cursor.execute(f"PRAGMA cache_size = -{ROOM_KB}")
    try:
        yield
    finally:
        with connection.cursor() as cursor:
            cursor.execute(f"PRAGMA cache_size = {int(usual)}")


# SQLite takes 32,766 in one statement
PARAMETERS_AT_ONCE = 30_000


def upsert(rows: Sequence[models.Model]) -> None:
    """Insert rows of one derived table, or put them in the place of those with the same key."""
    if not rows:
        return
    meta = type(rows[0])._meta
    fields = list(meta.concrete_fields)
    _write(rows, fields=fields, ending=_in_place(meta.pk, fields=fields))


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
) -> int:
    """Insert rows given as values in the order of the names; return how many.

    Instants and dates are given as the database wants them; JSON as plain values.
    """
    fields = [_field(model, name) for name in names]
    return _write_values(_statement(model, fields), fields=fields, values=values)


def upsert_values(
    model: type[models.Model], names: Sequence[str], values: Iterable[Sequence[Any]]
) -> int:
    """Insert such rows of a derived table, or put them in the place of those with the same key."""
    fields = [_field(model, name) for name in names]
    statement = _statement(model, fields) + _in_place(model._meta.pk, fields=fields)
    return _write_values(statement, fields=fields, values=values)


def _field(model: type[models.Model], name: str) -> models.Field[Any, Any]:
    field = model._meta.get_field(name)
    if not isinstance(field, models.Field):
        raise TypeError(f"{name} is no column of {model._meta.db_table}.")
    return field


def _in_place(key: models.Field[Any, Any], *, fields: Sequence[models.Field[Any, Any]]) -> str:
    """Return what puts a row in the place of the one with the same key."""
    quote = connection.ops.quote_name
    others = [quote(str(field.column)) for field in fields if not field.primary_key]
    renewed = ", ".join(f"{name} = excluded.{name}" for name in others)
    return f" ON CONFLICT ({quote(str(key.column))}) DO UPDATE SET {renewed}"


def _write_values(
    statement: str,
    *,
    fields: Sequence[models.Field[Any, Any]],
    values: Iterable[Sequence[Any]],
) -> int:
    json_fields = [
        (place, field) for place, field in enumerate(fields) if isinstance(field, models.JSONField)
    ]
    rows = iter(values)
    written = 0
    with connection.cursor() as cursor:
        while batch := list(islice(rows, ROWS_AT_ONCE)):
            for place, field in json_fields:
                batch = [
                    row if row[place] is None else _with_json(row, place=place, field=field)
                    for row in batch
                ]
            cursor.executemany(statement, batch)
            written += len(batch)
    return written


def _with_json(row: Sequence[Any], *, place: int, field: models.JSONField) -> Sequence[Any]:
    ready = list(row)
    ready[place] = field.get_db_prep_save(row[place], connection=connection)
    return ready


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


def which_are_there(
    model: type[models.Model], names: Sequence[str], values: Sequence[Sequence[Any]]
) -> dict[int, int]:
    """Return the keys of rows that hold such values, by place in the sequence.

    Values are given as the database wants them, in the order of the names; an index over the names
    makes each a look-up.
    """
    quote = connection.ops.quote_name
    meta = model._meta
    columns = [quote(str(_field(model, name).column)) for name in names]
    same = " AND ".join(
        f"held.{column} = asked.column{place}" for place, column in enumerate(columns, start=2)
    )
    place_of = f"({', '.join(['%s'] * (len(columns) + 1))})"
    at_once = PARAMETERS_AT_ONCE // (len(columns) + 1)
    found: dict[int, int] = {}
    with connection.cursor() as cursor:
        for start in range(0, len(values), at_once):
            part = values[start : start + at_once]
            # names are the models' own and quoted; values go in as parameters
            cursor.execute(
                f"SELECT asked.column1, held.{quote(str(meta.pk.column))} "  # noqa: S608
                f"FROM (VALUES {', '.join([place_of] * len(part))}) AS asked "
                f"JOIN {quote(meta.db_table)} AS held ON {same}",
                [each for at, row in enumerate(part, start=start) for each in (at, *row)],
            )
            found.update(cursor.fetchall())
    return found


def weigh_tables() -> None:
    """Let the database look at how much its tables hold, so that it plans its ways through them.

    A server does so by itself now and then; not while one transaction, or one busy hour, fills
    tables that were empty.
    """
    with connection.cursor() as cursor:
        # table by table: all at once would hold the server's own tables until the transaction ends
        for table in connection.introspection.django_table_names():
            cursor.execute(f"ANALYZE {connection.ops.quote_name(table)}")


def parts(numbers: Iterable[int], *, size: int) -> Iterator[list[int]]:
    """Give numbers in their order, so many at a time."""
    rest = sorted(numbers)
    return (rest[first : first + size] for first in range(0, len(rest), size))
