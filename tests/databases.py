"""A fresh copy of the migrated database, for tests that cannot roll back.

Facts refuse DELETE and TRUNCATE, so the usual flush after a transactional test is impossible.
Such a test gets a copy of the migrated test database instead, and the copy is thrown away.
"""

import gc
import os
import shutil
import threading
from itertools import count
from pathlib import Path
from typing import Any
from urllib.parse import quote

import psycopg
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.test import TransactionTestCase
from psycopg import sql

_numbers = count(1)


def close_everywhere() -> None:
    """Close the connections of this thread in every context that it ever was in.

    A browser test runs inside an event loop, where Django keeps connections apart from those of
    the tests before it; PostgreSQL copies no database that anybody has open.
    """
    connections.close_all()
    mine = threading.get_ident()
    for each in gc.get_objects():
        # by type and not by isinstance, which would wake every lazy object there is
        if issubclass(type(each), BaseDatabaseWrapper) and each._thread_ident == mine:
            each.close()


class DatabaseCopies:
    """Gives each transactional test its own copy of the session's migrated test database."""

    def __init__(self) -> None:
        self.migrated_name: str | None = None

    def begin(self) -> None:
        """Copy the migrated database and let every new connection open the copy."""
        connection = connections["default"]
        settings = connection.settings_dict
        self.migrated_name = str(settings["NAME"])
        number = next(_numbers)
        if connection.vendor == "sqlite":
            template = Path(f"{self.migrated_name}.template")
            if not template.exists():
                with connection.cursor() as cursor:
                    cursor.execute("VACUUM INTO %s", [str(template)])
            connections.close_all()
            name = f"{self.migrated_name}.{os.getpid()}-{number}"
            shutil.copyfile(template, name)
        else:
            close_everywhere()
            name = f"{self.migrated_name}_{os.getpid()}_{number}"
            self._on_server(
                sql.SQL("CREATE DATABASE {} TEMPLATE {}").format(
                    sql.Identifier(name), sql.Identifier(self.migrated_name)
                )
            )
        settings["NAME"] = name

    def end(self) -> None:
        """Throw the copy away and return to the migrated database."""
        connection = connections["default"]
        settings = connection.settings_dict
        name = str(settings["NAME"])
        close_everywhere()
        settings["NAME"], self.migrated_name = self.migrated_name, None
        if connection.vendor == "sqlite":
            for ending in ("", "-wal", "-shm"):
                Path(name + ending).unlink(missing_ok=True)
        else:
            self._on_server(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(name)))

    @staticmethod
    def _on_server(statement: sql.Composed) -> None:
        connection = connections["default"]
        parameters: dict[str, Any] = connection.get_connection_params()
        parameters["dbname"] = "postgres"
        names = ("dbname", "user", "password", "host", "port")
        chosen = {name: parameters[name] for name in names if parameters.get(name)}
        with psycopg.connect(**chosen, autocommit=True) as server:
            server.execute(statement)


def copy_instead_of_flush() -> None:
    """Let every transactional test, live servers included, begin a copy and end it."""
    copies = DatabaseCopies()

    def set_up(cls: type[TransactionTestCase]) -> None:
        copies.begin()

    def tear_down(self: TransactionTestCase) -> None:
        copies.end()

    TransactionTestCase._fixture_setup = classmethod(set_up)  # type: ignore[assignment]
    TransactionTestCase._fixture_teardown = tear_down  # type: ignore[method-assign]


def current_database_url() -> str:
    """Return the DATABASE_URL of the database that the running test uses, for other processes."""
    connection = connections["default"]
    settings = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{quote(str(settings['NAME']))}"
    who = quote(settings["USER"] or "", safe="")
    if settings["PASSWORD"]:
        who += ":" + quote(settings["PASSWORD"], safe="")
    where = settings["HOST"] + (f":{settings['PORT']}" if settings["PORT"] else "")
    return f"postgresql://{who}{'@' if who else ''}{where}/{quote(settings['NAME'])}"
