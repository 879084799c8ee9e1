"""How many questions a page asks the database: a committed number, the same for a large plant.

When a page changes by intent: run this file with MOLDCARE_TESTS_WRITE_COUNTS=1 and commit the
numbers with the change.
"""

import json
import os
from pathlib import Path

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from moldcare.plant.queries import forget_calendars
from tests.pages.routes import routes, sample_path, signed_in
from tests.pages.small_world import World, enlarge, small_world

COUNTS = Path(__file__).with_name("query_counts.json")


def counted(world: World, *, without_locks: bool = False) -> dict[str, int]:
    """The number of queries of each page that a lead can open."""
    client = signed_in("lead", world=world)
    found = {}
    for route in routes():
        if route.is_admin or route.guard is None:
            continue
        path = sample_path(route, world=world)
        forget_calendars()
        with CaptureQueriesContext(connection) as queries:
            answer = client.get(path)
        if answer.status_code == 200 and not answer.streaming:
            locks = [query for query in queries if " FOR UPDATE" in query["sql"]]
            found[route.name] = len(queries) - (len(locks) if without_locks else 0)
    return found


@pytest.fixture
def world(db: None) -> World:
    return small_world()


def test_every_page_asks_as_often_as_was_agreed(world: World) -> None:
    found = counted(world)
    if os.environ.get("MOLDCARE_TESTS_WRITE_COUNTS"):
        COUNTS.write_text(json.dumps(found, indent=2, sort_keys=True) + "\n")
    agreed = json.loads(COUNTS.read_text())
    if connection.features.has_select_for_update:
        # the numbers are SQLite's, which has one lock for all and does not ask for those of rows
        least = counted(world, without_locks=True)
        assert least.keys() == agreed.keys()
        assert {name for name in agreed if not least[name] <= agreed[name] <= found[name]} == set()
    else:
        assert found == agreed


def test_a_larger_plant_asks_no_more(world: World) -> None:
    few = counted(world)
    enlarge(world, by=5)
    many = counted(world)
    assert {name: many[name] for name in few if many[name] > few[name]} == {}


@pytest.mark.parametrize("path", ["/", "/wall"])
def test_the_board_asks_at_most_fifteen_times(world: World, path: str) -> None:
    """However full it is; shifts are looked up once after they were changed."""
    enlarge(world, by=5)
    client = signed_in("lead", world=world)
    client.get(path)
    with CaptureQueriesContext(connection) as queries:
        assert client.get(path).status_code == 200
    assert len(queries) <= 15, [query["sql"][:200] for query in queries]
