"""Readings as the core's columns, straight from the database and without a row object each."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import BigIntegerField, Func, QuerySet
from django.db.models.sql.compiler import SQLCompiler

from moldcare.core.counting.values import Readings
from moldcare.counters.models import Reading


class Microseconds(Func):
    """An instant as microseconds since 1970, worked out by the database.

    SQLite keeps instants as text in UTC, `2026-11-25 06:00:00` with or without a fraction.
    """

    arity = 1
    output_field = BigIntegerField()

    def as_sqlite(
        self, compiler: SQLCompiler, connection: BaseDatabaseWrapper, **context: Any
    ) -> tuple[str, tuple[Any, ...]]:
        """Return the expression for SQLite."""
        sql, parameters = compiler.compile(self.get_source_expressions()[0])
        return (
            f"(CAST(strftime('%%s', substr({sql}, 1, 19)) AS INTEGER) * 1000000"
            f" + CAST(substr(substr({sql}, 21) || '000000', 1, 6) AS INTEGER))",
            (*parameters, *parameters),
        )

    def as_postgresql(
        self, compiler: SQLCompiler, connection: BaseDatabaseWrapper, **context: Any
    ) -> tuple[str, tuple[Any, ...]]:
        """Return the expression for PostgreSQL, where the seconds come as an exact decimal."""
        sql, parameters = compiler.compile(self.get_source_expressions()[0])
        return f"(EXTRACT(EPOCH FROM {sql}) * 1000000)::bigint", tuple(parameters)

    def get_db_converters(self, connection: BaseDatabaseWrapper) -> list[Any]:
        """Return none: what the database gives is a whole number already."""
        return []


@dataclass(frozen=True, slots=True)
class Columns:
    """Readings of one counter in the order of arrival; instants in microseconds since 1970."""

    ids: list[int] = field(default_factory=list)
    at_us: list[int] = field(default_factory=list)
    values: list[int] = field(default_factory=list)
    sources: list[str] = field(default_factory=list)
    written_us: list[int] = field(default_factory=list)

    def readings(self) -> Readings:
        """Return the columns as the core takes them."""
        return Readings(
            ids=self.ids,
            at_us=self.at_us,
            values=self.values,
            sources=self.sources,
            written_us=self.written_us,
        )


def columns_of(counter_id: int) -> Columns:
    """Return all readings of a counter."""
    rows = list(_rows(Reading.objects.filter(counter=counter_id), "id"))
    return Columns(*map(list, zip(*rows, strict=True))) if rows else Columns()


def columns_after(last: Mapping[int, int]) -> dict[int, Columns]:
    """Return the readings of counters that arrived after a number, given for each of them."""
    found = {counter_id: Columns() for counter_id in last}
    if not last:
        return found
    newer = Reading.objects.filter(counter__in=sorted(last), id__gt=min(last.values()))
    rows = _rows(newer, "counter_id", "id").iterator(chunk_size=5_000)
    for counter_id, number, at_us, value, source, written_us in rows:
        if number > last[counter_id]:
            columns = found[counter_id]
            columns.ids.append(number)
            columns.at_us.append(at_us)
            columns.values.append(value)
            columns.sources.append(source)
            columns.written_us.append(written_us)
    return found


def _rows(readings: QuerySet[Reading], *names: str) -> QuerySet[Reading, tuple[Any, ...]]:
    return readings.order_by("id").values_list(
        *names, Microseconds("at"), "value", "source", Microseconds("written_at")
    )
