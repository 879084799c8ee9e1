"""Facts are append-only, whoever asks: through the models, and in the database beneath them."""

import sqlite3
import uuid
from collections.abc import Iterator
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
def one_row_each(fresh_db: None) -> None:
    """Put one row in every table of facts, whatever it points to.

    The database is a copy of this test alone, so its other guards can be put aside; none of
    them is an append-only trigger.
    """
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("PRAGMA foreign_keys = OFF")
            cursor.execute("PRAGMA ignore_check_constraints = ON")
        else:
            cursor.execute(
                "SELECT conrelid::regclass::text, conname FROM pg_constraint "
                "WHERE contype IN ('c', 'f') AND connamespace = 'public'::regnamespace "
                "ORDER BY contype DESC"
            )
            for table, name in cursor.fetchall():
                cursor.execute(f'ALTER TABLE {table} DROP CONSTRAINT "{name}"')
    for model in FACTS:
        row = {field.attname: value_of(field) for field in model._meta.local_concrete_fields}
        model._base_manager.bulk_create([model(**row)])


def content(model: type[Fact]) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(f'SELECT * FROM "{model._meta.db_table}"')
        return list(cursor.fetchall())


@contextmanager
def refused(model: type[Fact]) -> Iterator[None]:
    says = f"{model._meta.db_table} (is append-only|holds this row already)"
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


def test_the_database_refuses_to_change_any_fact(one_row_each: None) -> None:
    for model in FACTS:
        before = content(model)
        assert len(before) == 1
        for statement in changing(model):
            with refused(model), connection.cursor() as cursor:
                cursor.execute(statement)
        assert content(model) == before


def changing(model: type[Fact]) -> list[str]:
    """Statements that would change a fact or take it away."""
    table, key = model._meta.db_table, model._meta.pk.column
    columns = ", ".join(f'"{field.column}"' for field in model._meta.local_concrete_fields)
    again = f'INTO "{table}" ({columns}) SELECT {columns} FROM "{table}"'
    both = [f'UPDATE "{table}" SET "{key}" = "{key}"', f'DELETE FROM "{table}"']
    if connection.vendor == "sqlite":
        return [
            *both,
            f'UPDATE OR REPLACE "{table}" SET "{key}" = "{key}"',
            f"INSERT OR REPLACE {again}",
            f"REPLACE {again}",
        ]
    return [
        *both,
        f'TRUNCATE "{table}"',
        f'INSERT {again} ON CONFLICT ("{key}") DO UPDATE SET "{key}" = EXCLUDED."{key}"',
        f'MERGE INTO "{table}" old USING "{table}" new ON old."{key}" = new."{key}" '
        "WHEN MATCHED THEN DELETE",
    ]


def test_another_program_s_replacing_insert_is_refused_too(one_row_each: None) -> None:
    """SQLite leaves delete triggers out of INSERT OR REPLACE unless the connection asks for them.

    SQLite's documentation of "PRAGMA recursive_triggers": it is off on a plain connection. On
    PostgreSQL every connection is like any other; there a role that is not the product's tries.
    """
    if connection.vendor == "sqlite":
        plain = sqlite3.connect(connection.settings_dict["NAME"])
        try:
            plain.execute("PRAGMA ignore_check_constraints = ON")
            assert plain.execute("PRAGMA recursive_triggers").fetchone() == (0,)
            for model in FACTS:
                table = model._meta.db_table
                with pytest.raises(sqlite3.IntegrityError, match="holds this row already"):
                    plain.execute(f'INSERT OR REPLACE INTO "{table}" SELECT * FROM "{table}"')
                plain.rollback()
        finally:
            plain.close()
    else:
        with connection.cursor() as cursor:
            cursor.execute("GRANT ALL ON ALL TABLES IN SCHEMA public TO public")
            cursor.execute("CREATE ROLE moldcare_another")
            cursor.execute("SET ROLE moldcare_another")
            try:
                for model in FACTS:
                    for statement in changing(model):
                        with refused(model):
                            cursor.execute(statement)
            finally:
                cursor.execute("RESET ROLE")
                cursor.execute("DROP ROLE moldcare_another")
    assert all(len(content(model)) == 1 for model in FACTS)


def test_what_facts_point_to_cannot_be_emptied_and_takes_no_fact_along(fresh_db: None) -> None:
    author = factories.person(role="lead")
    chain = factories.mold().chain
    factories.entry(chain, author=author)
    for row in (author, chain):
        with pytest.raises(IntegrityError), connection.cursor() as cursor:
            cursor.execute(f'DELETE FROM "{row._meta.db_table}" WHERE id = %s', [row.pk])
    if connection.vendor == "postgresql":
        # what is emptied first is the server's choice: any table of facts may answer
        says = "is append-only"
        for table in ("plant_person", "molds_mold", "counters_counter", "logbook_chain"):
            with pytest.raises(IntegrityError, match=says), connection.cursor() as cursor:
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
