"""What commands on the plant's database have in common: what stops them is said in a sentence."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError, OperationalError, connection
from django.db.migrations.executor import MigrationExecutor


class PlantCommand(BaseCommand):
    """A command that needs the plant's tables as this version of the program knows them."""

    def execute(self, *args: Any, **options: Any) -> str | None:
        """Look whether the database is there and ready; then do what the command does."""
        try:
            executor = MigrationExecutor(connection)
            is_behind = bool(executor.migration_plan(executor.loader.graph.leaf_nodes()))
        except DatabaseError as error:
            raise CommandError(f"The database cannot be read: {_first_line(error)}.") from error
        if is_behind:
            raise CommandError(
                "The database lacks tables, or what newer versions added to them. "
                "Run manage.py migrate first."
            )
        try:
            return super().execute(*args, **options)
        except OperationalError as error:
            raise CommandError(f"The database did not do it: {_first_line(error)}.") from error


def _first_line(error: DatabaseError) -> str:
    """Return why, without the lines in which a server repeats the question."""
    return (str(error).strip().splitlines() or [type(error).__name__])[0].rstrip(".")
