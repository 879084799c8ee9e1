"""Facts are append-only, whoever asks: through the models, and in the database beneath them."""

import sqlite3
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, time
from decimal import Decimal
from typing import Any

import pytest
from django.apps import apps
from django.db import IntegrityError, connection, models, transaction

from moldcare.facts import Fact, FactIsFinal
from moldcare.logbook.models import Entry
from tests import factories

FACTS = [model for model in apps.get_models() if issubclass(model, Fact)]
facts = pytest.mark.parametrize("model", FACTS, ids=lambda model: model._meta.label)

VALUES: list[tuple[type, Any]] = [
    (models.UUIDField, uuid.UUID(int=1)),
    (models.DateTimeField, datetime(2026, 11, 25, tzinfo=UTC)),
    (models.DateField, date(2026, 11, 25)),
    (models.TimeField, time(6)),
    (models.JSONField, {}),
    (models.BooleanField, False),
    (models.DecimalField, Decimal(1)),
    (models.CharField, "a"),
    (models.TextField, "a"),
    (models.IntegerField, 1),
    (models.ForeignKey, 1),
    (models.AutoField, 1),
]


def value_of(field: Any) -> Any:
    """Something that the field's column takes."""
    if isinstance(field, models.ForeignKey) and isinstance(field.target_field, models.UUIDField):
        return uuid.UUID(int=1)
    return next(value for kind, value in VALUES if isinstance(field, kind))


@pytest.fixture
def one_row(fresh_db: None) -> Iterator[Callable[[type[Fact]], None]]:
    """Return a function that puts one row in a table of facts, whatever the row points to.

    The database is a copy of this test alone, so its other guards can be put aside; none of
    them is an append-only trigger.
    """

    def insert(model: type[Fact]) -> None:
        table = model._meta.db_table
        with connection.cursor() as cursor:
            if connection.vendor == "sqlite":
                cursor.execute("PRAGMA foreign_keys = OFF")
                cursor.execute("PRAGMA ignore_check_constraints = ON")
            else:
                cursor.execute(
                    "SELECT conname FROM pg_constraint "
                    "WHERE conrelid = %s::regclass AND contype IN ('c', 'f')",
                    [table],
                )
                for (name,) in cursor.fetchall():
                    cursor.execute(f'ALTER TABLE "{table}" DROP CONSTRAINT "{name}"')
        row = {field.attname: value_of(field) for field in model._meta.local_concrete_fields}
        model._base_manager.bulk_create([model(**row)])

    yield insert
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA ignore_check_constraints = OFF")


def content(model: type[Fact]) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(f'SELECT * FROM "{model._meta.db_table}"')
        return list(cursor.fetchall())


@contextmanager
def refused() -> Iterator[None]:
    says = r"append-only|holds this row already"
    with pytest.raises(IntegrityError, match=says), transaction.atomic():
        yield


def test_there_are_facts_to_look_at() -> None:
    assert {"logbook.Entry", "counters.Reading", "handin.HandIn", "care.Completion"} <= {
        model._meta.label for model in FACTS
    }


@facts
def test_the_triggers_are_there_after_all_migrations(db: None, model: type[Fact]) -> None:
    table = model._meta.db_table
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute(
                "SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = %s", [table]
            )
            wanted = {f"{table}_{name}" for name in ("no_update", "no_delete", "no_replace")}
        else:
            cursor.execute(
                "SELECT tgname FROM pg_trigger "
                "WHERE tgrelid = %s::regclass AND NOT tgisinternal AND tgenabled <> 'D'",
                [table],
            )
            wanted = {f"{table}_{name}" for name in ("no_change", "no_truncate")}
        assert wanted <= {name for (name,) in cursor.fetchall()}


@facts
def test_the_database_refuses_to_change_a_fact(
    one_row: Callable[[type[Fact]], None], model: type[Fact]
) -> None:
    one_row(model)
    before = content(model)
    table, key = model._meta.db_table, model._meta.pk.column
    statements = [
        f'UPDATE "{table}" SET "{key}" = "{key}"',
        f'DELETE FROM "{table}"',
    ]
    columns = ", ".join(f'"{field.column}"' for field in model._meta.local_concrete_fields)
    again = f'INTO "{table}" ({columns}) SELECT {columns} FROM "{table}"'
    if connection.vendor == "sqlite":
        statements += [
            f'UPDATE OR REPLACE "{table}" SET "{key}" = "{key}"',
            f"INSERT OR REPLACE {again}",
            f"REPLACE {again}",
        ]
    else:
        statements += [
            f'TRUNCATE "{table}"',
            f'TRUNCATE "{table}" CASCADE',
            f'INSERT {again} ON CONFLICT ("{key}") DO UPDATE SET "{key}" = EXCLUDED."{key}"',
        ]
    for statement in statements:
        with refused(), connection.cursor() as cursor:
            cursor.execute(statement)
    assert content(model) == before


@facts
def test_another_program_s_replacing_insert_is_refused_too(
    one_row: Callable[[type[Fact]], None], model: type[Fact]
) -> None:
    """SQLite leaves delete triggers out of INSERT OR REPLACE unless the connection asks for them.

    SQLite's documentation of "PRAGMA recursive_triggers": it is off on a plain connection. On
    PostgreSQL no connection can replace a row without its update trigger, so the plain
    connection is SQLite's alone.
    """
    one_row(model)
    before = content(model)
    if connection.vendor == "postgresql":
        table, key = model._meta.db_table, model._meta.pk.column
        with refused(), connection.cursor() as cursor:
            cursor.execute(
                f'MERGE INTO "{table}" old USING "{table}" new ON old."{key}" = '
                f'new."{key}" WHEN MATCHED THEN DELETE'
            )
    else:
        plain = sqlite3.connect(connection.settings_dict["NAME"])
        try:
            plain.execute("PRAGMA ignore_check_constraints = ON")
            assert plain.execute("PRAGMA recursive_triggers").fetchone() == (0,)
            with pytest.raises(sqlite3.IntegrityError, match="holds this row already"):
                plain.execute(
                    f'INSERT OR REPLACE INTO "{model._meta.db_table}" '
                    f'SELECT * FROM "{model._meta.db_table}"'
                )
            plain.rollback()
        finally:
            plain.close()
    assert content(model) == before


def test_what_facts_point_to_cannot_be_emptied_and_takes_no_fact_along(fresh_db: None) -> None:
    author = factories.person(role="lead")
    chain = factories.mold().chain
    factories.entry(chain, author=author)
    for row in (author, chain):
        with pytest.raises(IntegrityError), connection.cursor() as cursor:
            cursor.execute(f'DELETE FROM "{row._meta.db_table}" WHERE id = %s', [row.pk])
    if connection.vendor == "postgresql":
        for table in ("plant_person", "molds_mold", "counters_counter", "logbook_chain"):
            with refused(), connection.cursor() as cursor:
                cursor.execute(f'TRUNCATE "{table}" CASCADE')
    assert content(Entry) != []


def test_no_foreign_key_of_a_fact_cascades_in_the_database(db: None) -> None:
    with connection.cursor() as cursor:
        for model in FACTS:
            table = model._meta.db_table
            if connection.vendor == "sqlite":
                cursor.execute(f'PRAGMA foreign_key_list("{table}")')
                assert {rule for row in cursor.fetchall() for rule in row[5:7]} <= {"NO ACTION"}
            else:
                cursor.execute(
                    "SELECT confdeltype, confupdtype FROM pg_constraint "
                    "WHERE contype = 'f' AND conrelid = %s::regclass",
                    [table],
                )
                assert set(cursor.fetchall()) <= {("a", "a")}


@facts
def test_the_models_refuse_to_change_a_fact(model: type[Fact]) -> None:
    row = model(pk=uuid.UUID(int=1) if isinstance(model._meta.pk, models.UUIDField) else 1)
    row._state.adding = False
    with pytest.raises(FactIsFinal):
        row.save()
    with pytest.raises(FactIsFinal):
        row.delete()
    rows = model._default_manager.all()
    with pytest.raises(FactIsFinal):
        rows.update(pk=2)
    with pytest.raises(FactIsFinal):
        rows.delete()
