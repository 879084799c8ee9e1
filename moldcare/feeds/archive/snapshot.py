"""One look at the whole database, while others go on writing."""

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connection, transaction


@contextmanager
def snapshot() -> Iterator[None]:
    """See the database as it is at the first question, until the end; nothing can be written.

    Inside a transaction that is open already, its own view is all there is.
    """
    if connection.in_atomic_block:
        yield
    elif connection.vendor == "sqlite":
        # transactions of the program take the write lock at once; looking must keep nobody out
        with connection.cursor() as cursor:
            cursor.execute("BEGIN DEFERRED")
        try:
            yield
        finally:
            with connection.cursor() as cursor:
                cursor.execute("ROLLBACK")
    else:
        with transaction.atomic():
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            yield
