"""What every fact has in common: it is inserted once and never changed, by code or by hand.

A fact is a row that says what happened. What was wrong is corrected by another fact that names it.
`Fact` refuses changes in code; the migration operation `ProtectFacts` makes the database refuse
them too, on SQLite and on PostgreSQL, whoever is asking.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import datetime
from enum import StrEnum
from typing import Any, NoReturn, TypeVar

from django.db import models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.operations.base import Operation
from django.db.migrations.state import ProjectState


class FactIsFinal(Exception):
    """Raised when code tries to change or delete a fact."""


Row = TypeVar("Row", bound=models.Model)


_written_by: ContextVar[datetime | None] = ContextVar("written_by", default=None)


@contextmanager
def as_written_by(instant: datetime) -> Iterator[None]:
    """See only the facts that were written by an instant: what could be known then.

    For answers about the past. Records (a mold's name) are seen as they are now; what was derived
    is not seen through this and must be derived again.
    """
    token = _written_by.set(instant)
    try:
        yield
    finally:
        _written_by.reset(token)


class FactManager(models.Manager[Row]):
    """Gives the facts, or those that were written by the instant that is looked back from."""

    def get_queryset(self) -> "FactQuerySet[Row]":
        """Return the facts that can be seen."""
        rows: FactQuerySet[Row] = FactQuerySet(self.model, using=self._db)
        instant = _written_by.get()
        if instant is not None and hasattr(self.model, "written_at"):
            return rows.filter(written_at__lte=instant)
        return rows


class FactQuerySet(models.QuerySet[Row]):
    """A query set that can read and insert, nothing else."""

    def update(self, **values: Any) -> NoReturn:
        """Refuse: a fact is never changed."""
        raise FactIsFinal(f"{self.model.__name__} rows are facts and are never changed.")

    def delete(self) -> NoReturn:
        """Refuse: a fact is never deleted."""
        raise FactIsFinal(f"{self.model.__name__} rows are facts and are never deleted.")


class Fact(models.Model):
    """A row that is inserted once."""

    objects = FactManager()

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Insert the row; refuse when it is there already."""
        if not self._state.adding:
            raise FactIsFinal(f"{self._meta.label} {self.pk} is a fact and is never changed.")
        kwargs["force_insert"] = True
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        """Refuse: a fact is never deleted."""
        raise FactIsFinal(f"{self._meta.label} {self.pk} is a fact and is never deleted.")


class TableKind(StrEnum):
    """What a table is: facts are inserted, records edited, derived rows dropped and rebuilt."""

    FACT = "fact"
    RECORD = "record"
    DERIVED = "derived"


def one_of(field: str, choices: type[models.TextChoices]) -> models.CheckConstraint:
    """Return the constraint that keeps a text field to its choices in the database too."""
    return models.CheckConstraint(
        condition=models.Q(**{f"{field}__in": list(choices.values)}),
        name=f"%(app_label)s_%(class)s_{field}_known",
    )


SQLITE_REFUSE = "SELECT RAISE(ABORT, '{table} is append-only');"


def _sqlite_statements(model: type[models.Model]) -> list[str]:
    """Return the triggers that make a SQLite table append-only.

    INSERT OR REPLACE deletes the old row without calling delete triggers unless a connection has
    recursive_triggers on, so an insert trigger looks for a row with the same key.
    """
    table = model._meta.db_table
    refuse = SQLITE_REFUSE.format(table=table)
    columns = {field.name: str(field.column) for field in model._meta.local_fields}
    keys = [[columns[field.name]] for field in model._meta.local_fields if field.unique]
    for constraint in model._meta.constraints:
        if isinstance(constraint, models.UniqueConstraint) and constraint.condition is None:
            keys.append([columns[name] for name in constraint.fields])
    matches = [" AND ".join(f'"{column}" = NEW."{column}"' for column in key) for key in keys]
    # the names come from the models, not from people
    rows = [f'SELECT 1 FROM "{table}" WHERE {match}' for match in matches]  # noqa: S608  # nosec
    same = " OR ".join(f"EXISTS({row})" for row in rows)
    return [
        f'CREATE TRIGGER "{table}_no_update" BEFORE UPDATE ON "{table}" BEGIN {refuse} END;',
        f'CREATE TRIGGER "{table}_no_delete" BEFORE DELETE ON "{table}" BEGIN {refuse} END;',
        f'CREATE TRIGGER "{table}_no_replace" BEFORE INSERT ON "{table}" WHEN {same} '
        f"BEGIN SELECT RAISE(ABORT, '{table} holds this row already'); END;",
    ]


POSTGRES_FUNCTION = """
CREATE OR REPLACE FUNCTION moldcare_append_only() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '% is append-only', TG_TABLE_NAME
        USING ERRCODE = 'integrity_constraint_violation';
END $$;
"""


def _postgres_statements(model: type[models.Model]) -> list[str]:
    """Return the triggers that make a PostgreSQL table append-only, TRUNCATE included."""
    table = model._meta.db_table
    call = "EXECUTE FUNCTION moldcare_append_only()"
    return [
        POSTGRES_FUNCTION,
        f'CREATE TRIGGER "{table}_no_change" BEFORE UPDATE OR DELETE ON "{table}" '
        f"FOR EACH ROW {call};",
        f'CREATE TRIGGER "{table}_no_truncate" BEFORE TRUNCATE ON "{table}" '
        f"FOR EACH STATEMENT {call};",
    ]


def _drop_statements(model: type[models.Model], vendor: str) -> list[str]:
    table = model._meta.db_table
    if vendor == "sqlite":
        own = ("no_update", "no_delete", "no_replace")
        return [f'DROP TRIGGER IF EXISTS "{table}_{name}";' for name in own]
    return [
        f'DROP TRIGGER IF EXISTS "{table}_{name}" ON "{table}";'
        for name in ("no_change", "no_truncate")
    ]


class ProtectFacts(Operation):
    """Put the append-only triggers on the named models' tables, in place of any that are there.

    Every migration that rebuilds a table of facts ends with this operation: SQLite drops a
    table's triggers when the table is rebuilt.
    """

    reduces_to_sql = True
    reversible = True

    def __init__(self, *model_names: str) -> None:
        self.model_names = model_names

    def deconstruct(self) -> tuple[str, list[str], dict[str, Any]]:
        """Return what a migration file needs to write this operation down."""
        return self.__class__.__name__, list(self.model_names), {}

    def state_forwards(self, app_label: str, state: ProjectState) -> None:
        """Change nothing in the state: triggers are the database's own."""

    def database_forwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: ProjectState,
        to_state: ProjectState,
    ) -> None:
        """Create the triggers."""
        vendor = schema_editor.connection.vendor
        create = _sqlite_statements if vendor == "sqlite" else _postgres_statements
        for name in self.model_names:
            model = to_state.apps.get_model(app_label, name)
            for statement in [*_drop_statements(model, vendor), *create(model)]:
                schema_editor.execute(statement, params=None)

    def database_backwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: ProjectState,
        to_state: ProjectState,
    ) -> None:
        """Drop the triggers, so that the tables can be dropped."""
        for name in self.model_names:
            model = from_state.apps.get_model(app_label, name)
            for statement in _drop_statements(model, schema_editor.connection.vendor):
                schema_editor.execute(statement, params=None)

    def describe(self) -> str:
        """Say what the operation does."""
        return f"Make {', '.join(self.model_names)} append-only"


class OpenFacts(ProtectFacts):
    """Take the append-only triggers away until the migration's end, to fill a new column.

    What was written stays as it is. `ProtectFacts` for the same models must end the migration.
    """

    def database_forwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: ProjectState,
        to_state: ProjectState,
    ) -> None:
        """Drop the triggers."""
        super().database_backwards(app_label, schema_editor, from_state, to_state)

    def database_backwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: ProjectState,
        to_state: ProjectState,
    ) -> None:
        """Create the triggers."""
        super().database_forwards(app_label, schema_editor, from_state, to_state)

    def describe(self) -> str:
        """Say what the operation does."""
        return f"Let this migration fill columns of {', '.join(self.model_names)}"


def is_fact(model: type[models.Model]) -> bool:
    """Return whether the model's rows are facts."""
    return issubclass(model, Fact)
