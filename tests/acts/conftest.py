"""Every act's locks are watched: all of them go one way, so that no two acts wait for each other.

Where rows cannot be locked, the connection is told that they can, and the words that would lock
are a comment: the order is the same on both engines.
"""

import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.db import connection

# whoever holds a lock takes none that stands further up; moldcare/acts/locks.py says the same
ORDER = (
    ("molds_mold", "molds_auxiliary"),
    ("plant_spot",),
    (
        "molds_circuit",
        "molds_component",
        "molds_configuration",
        "molds_owner",
        "molds_position",
        "molds_run",
        "molds_supply",
        "plant_cautionline",
        "plant_person",
        "plant_plant",
        "work_handover",
        "work_order",
    ),
    ("counters_counter",),
    ("logbook_chain",),
    ("counters_life",),
    ("feeds_columnmatch", "feeds_upload"),
    ("django_session",),
)
RANK = {table: rank for rank, tables in enumerate(ORDER) for table in tables}
# no other table names a row of these, and Django's update_or_create locks them in full
REFERRED_BY_NONE = {"feeds_columnmatch", "counters_life"}
LOCK = re.compile(r'FROM "(\w+)".*(?:FOR |/\* )(NO KEY )?UPDATE', re.DOTALL)


def _words(*, no_key: bool = False, **_more: Any) -> str:
    return "/* NO KEY UPDATE */" if no_key else "/* UPDATE */"


class Locks:
    """The locks of one act: what it does between the outermost savepoint and its release."""

    def __init__(self) -> None:
        self.depth = 0
        self.taken: list[tuple[str, Any]] = []

    def watch(
        self, execute: Callable[..., Any], sql: str, params: Any, many: bool, context: Any
    ) -> Any:
        """Look at one statement, then let it be done."""
        if sql.startswith("SAVEPOINT"):
            if not self.depth:
                self.taken.clear()
            self.depth += 1
        elif sql.startswith("RELEASE SAVEPOINT"):
            self.depth = max(0, self.depth - 1)
        elif (found := LOCK.search(sql)) is not None:
            self.take(found[1], sql=sql, params=params, is_weak=found[2] is not None)
        return execute(sql, params, many, context)

    def take(self, table: str, *, sql: str, params: Any, is_weak: bool) -> None:
        """Take one lock, and see that it stands further down than those that are held."""
        is_weak = is_weak or table in REFERRED_BY_NONE
        assert is_weak, f"this would stop whoever only refers to a row of {table}: {sql}"
        lock = (table, params)
        if lock in self.taken:
            return
        for held, _params in self.taken:
            assert RANK[held] <= RANK[table], f"{table} was locked while {held} was held"
        self.taken.append(lock)


@pytest.fixture(autouse=True)
def locks_in_one_order(
    request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> Iterator[None]:
    """Watch the locks of acts in tests of one connection."""
    if "db" not in request.fixturenames or "fresh_db" in request.fixturenames:
        yield
        return
    if not connection.features.has_select_for_update:
        for feature in ("for_update", "for_update_of", "for_no_key_update"):
            monkeypatch.setattr(connection.features, f"has_select_{feature}", True)
        monkeypatch.setattr(connection.ops, "for_update_sql", _words)
    with connection.execute_wrapper(Locks().watch):
        yield
