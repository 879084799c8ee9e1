"""Who may open what: every route, every role, made from the URL configuration."""

import re
from urllib.parse import urlsplit

import pytest
from django.conf import settings
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from moldcare.acts.rights import may
from tests.pages.routes import PUBLIC, ROLES, Route, routes, sample_path, signed_in
from tests.pages.small_world import World, small_world

pytestmark = pytest.mark.once  # rights are asked before any row is

GOOD = {200, 302, 304, 403, 404, 405}
WRITING = re.compile(r"^\s*(INSERT|UPDATE|DELETE|REPLACE)\b(?!.*\bdjango_session\b)", re.I | re.S)


@pytest.fixture
def world(db: None) -> World:
    return small_world()


def own_routes() -> list[Route]:
    return [route for route in routes() if not route.is_admin]


def test_there_are_routes_to_look_at() -> None:
    assert {settings.LOGIN_URL, settings.LOGIN_REDIRECT_URL} <= {route.name for route in routes()}


def test_every_sample_names_something(world: World) -> None:
    client = signed_in("lead", world=world)
    asked = [route for route in own_routes() if route.parameters]
    assert asked
    lost = [
        route.name
        for route in asked
        if client.get(sample_path(route, world=world)).status_code == 404
    ]
    assert not lost


def test_every_view_says_who_may_open_it() -> None:
    bare = [r.name for r in own_routes() if r.guard is None and r.name not in PUBLIC]
    assert not bare


def test_strangers_are_sent_to_sign_in(world: World) -> None:
    problems = []
    for route in routes():
        if route.name in PUBLIC:
            continue
        path = sample_path(route, world=world)
        client = signed_in("stranger", world=world)
        answer = client.get(path)
        target = urlsplit(answer.headers.get("Location", "")).path
        # the tables send strangers to addresses of their own first, which only send them on: a
        # second form to sign in would have to lock out guessers again
        while target.startswith(reverse("admin:index")):
            target = urlsplit(client.get(target).headers.get("Location", "")).path
        is_sent = answer.status_code == 302 and target == reverse(settings.LOGIN_URL)
        if not is_sent and answer.status_code not in {401, 403}:
            problems.append((route.name, answer.status_code, target))
    assert not problems


@pytest.mark.parametrize("role", ROLES)
def test_every_route_answers_every_role_and_keeps_out_who_may_not_look(
    world: World, role: str
) -> None:
    client = signed_in(role, world=world)
    problems = []
    for route in routes():
        path = sample_path(route, world=world)
        with transaction.atomic():
            status = client.get(path).status_code
            # a page that signs off, or writes against the rule, does not spoil the next
            transaction.set_rollback(True)
        if status not in GOOD:
            problems.append((route.name, status))
        if route.guard is not None:
            may_look = may(world.people[role], route.guard.looks)
            if (status == 403) == may_look:
                problems.append((route.name, status))
        client = signed_in(role, world=world)
    assert not problems


@pytest.mark.parametrize("role", ROLES)
def test_who_may_not_write_is_refused_before_anything_is_looked_at(world: World, role: str) -> None:
    client = signed_in(role, world=world)
    problems = []
    for route in own_routes():
        if route.guard is None:
            continue
        needed = route.guard.writes
        if needed is not None and may(world.people[role], needed):
            continue
        path = sample_path(route, world=world)
        with CaptureQueriesContext(connection) as queries:
            status = client.post(path, {"reason": "x"}).status_code
        may_look = may(world.people[role], route.guard.looks)
        wanted = 405 if needed is None and may_look else 403
        written = [query["sql"] for query in queries if WRITING.match(query["sql"])]
        if status != wanted or written:
            problems.append((route.name, status, written))
    assert not problems


def test_opening_a_page_writes_nothing(world: World) -> None:
    client = signed_in("lead", world=world)
    problems = []
    for route in own_routes():
        if route.name in PUBLIC:
            continue
        with CaptureQueriesContext(connection) as queries:
            client.get(sample_path(route, world=world))
        written = kept([query["sql"] for query in queries])
        if written:
            problems.append((route.name, written))
    assert not problems


def kept(statements: list[str]) -> list[str]:
    """The statements that write, without those of a transaction that was rolled back.

    The preview of a file tries the import out, and takes it back as a whole.
    """
    written: list[str] = []
    marks: dict[str, int] = {}
    for sql in statements:
        words = sql.replace('"', "").split()
        if words[0] == "SAVEPOINT":
            marks[words[1]] = len(written)
        elif words[:3] == ["ROLLBACK", "TO", "SAVEPOINT"]:
            del written[marks[words[3]] :]
        elif WRITING.match(sql):
            written.append(sql)
    return written


def test_a_form_from_elsewhere_is_refused_everywhere(world: World) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(world.people["manager"])
    problems = []
    for route in own_routes():
        if route.guard is not None and route.guard.writes is None:
            continue
        if getattr(route.view, "csrf_exempt", False):
            # what no browser signs in to carries a token of its own
            continue
        status = client.post(sample_path(route, world=world), {"reason": "x"}).status_code
        if status not in {403, 405}:
            problems.append((route.name, status))
    assert not problems


def test_every_page_of_people_carries_the_policy_and_stays_out_of_caches(world: World) -> None:
    client = signed_in("manager", world=world)
    for route in own_routes():
        answer = client.get(sample_path(route, world=world))
        policy = answer.headers["Content-Security-Policy"]
        # what people put in is shown without the rights of a page of ours
        wanted = "default-src 'none'; sandbox" if route.name == "file" else "default-src 'self'"
        assert wanted in policy, route.name
        assert "unsafe" not in policy, route.name
        if route.name not in PUBLIC:
            # a photo is named by its hash and never changes: its own browser may keep it a while
            kept_by = "private" if route.name == "file" else "no-store"
            assert kept_by in answer.headers["Cache-Control"], route.name
