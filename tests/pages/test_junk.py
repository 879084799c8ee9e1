"""Junk in addresses and forms gets a sentence or a refusal, never an error page of the server."""

import re
from collections.abc import Iterator, Sequence

import pytest
from django.db import connection, transaction
from django.test import Client

from tests.pages.routes import Route, routes, sample_path, signed_in
from tests.pages.small_world import World, small_world

JUNK = (
    "",
    " ",
    "0",
    "-1",
    "1e309",
    "NaN",
    "99999999999999999999999",
    "1,5",
    "²",
    "\0",
    "a\0b",
    "\ufffd",
    "x" * 5_000,
    "'; --",
    "<script>alert(1)</script>",
    "../../etc/passwd",
    "{{ 7 }}",
    "2026-02-30",
    "2026-13",
    "25:61",
    "9999-12-31T23:59",
    "0001-01-01",
    "٣",
    "\N{RIGHT-TO-LEFT OVERRIDE}abc",
    "u\N{COMBINING DIAERESIS}" * 300,
)
# byte 0, numbers past any column, texts longer than theirs, days at the calendar's edge
HARD_TO_STORE = ("\0", "99999999999999999999999", "1e309", "x" * 5_000, "0001-01-01", "٣", "-1")
USUAL = {"q", "page", "on", "from", "to", "month", "at", "sort", "next", "hand_in", "mold", "state"}


@pytest.fixture
def world(db: None) -> World:
    return small_world()


def own_routes() -> list[Route]:
    return [route for route in routes() if not route.is_admin]


def named_fields(client: Client, path: str) -> set[str]:
    """The names of the fields and of the questions that a page itself uses."""
    with transaction.atomic():
        html = client.get(path).getvalue().decode("utf-8", "replace")
        transaction.set_rollback(True)
    names = set(re.findall(r"\bname=\"([\w-]+)\"", html))
    return (names | set(re.findall(r"[?&](?:amp;)?(\w+)=", html))) - {"csrfmiddlewaretoken"}


def tries(
    names: set[str], *, junk: Sequence[str] = JUNK, begin: int = 0
) -> Iterator[dict[str, str | list[str]]]:
    """Twice in each field, then junk in all of them, by turns: in the end each had each."""
    ordered = sorted(names)
    yield {name: ["1", "x"] for name in ordered}
    for turn in range(len(junk)):
        yield {
            name: junk[(begin + place * 7 + turn) % len(junk)] for place, name in enumerate(ordered)
        }


def junk_for(method: str, *, turn: int) -> Sequence[str]:
    """What is tried at a page: a part that moves on by the page, larger for a form.

    PostgreSQL runs what a database may choke on; what a field makes of the rest does not hang on
    it.
    """
    if connection.vendor == "postgresql":
        return HARD_TO_STORE
    many = 14 if method == "POST" else 8
    return [JUNK[(turn * 5 + place * 3) % len(JUNK)] for place in range(many)]


def test_each_field_gets_each_junk() -> None:
    names = {f"field{n}" for n in range(12)}
    given: dict[str, set[str]] = {name: set() for name in names}
    for fields in tries(names):
        for name, value in fields.items():
            if isinstance(value, str):
                given[name].add(value)
    assert all(values == set(JUNK) for values in given.values())


def status_of(client: Client, method: str, path: str, fields: dict[str, str | list[str]]) -> str:
    """The status, or the error that a server would have answered 500 for."""
    send = client.get if method == "GET" else client.post
    try:
        with transaction.atomic():
            answer = send(path, fields)
            transaction.set_rollback(True)
    except Exception as error:
        return f"{type(error).__name__}: {error}"[:200]
    return "" if answer.status_code < 500 else str(answer.status_code)


@pytest.mark.slow
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_junk_in_any_field_is_answered(world: World, method: str) -> None:
    problems = []
    for turn, route in enumerate(own_routes()):
        client = signed_in("manager", world=world)
        path = sample_path(route, world=world)
        junk = junk_for(method, turn=turn)
        for fields in tries(named_fields(client, path) | USUAL, junk=junk, begin=turn):
            found = status_of(client, method, path, fields)
            if found:
                problems.append((route.name, fields, found))
                break
            if route.name == "sign-off":
                break
    assert not problems


@pytest.mark.slow
def test_junk_in_the_address_is_answered(world: World) -> None:
    problems = []
    client = signed_in("manager", world=world)
    for route in own_routes():
        path = sample_path(route, world=world)
        for junk in ("0", "-1", "9" * 30, "x", "%00", "%F0%9F%94%A7", "..", "1e5", "%C2%B2"):
            pieces = path.split("/")
            for place in range(1, len(pieces)):
                other = "/".join([*pieces[:place], junk, *pieces[place + 1 :]])
                found = status_of(client, "GET", other, {})
                if found:
                    problems.append((route.name, other, found))
    assert not problems


@pytest.mark.slow
def test_a_body_that_is_no_form_is_answered(world: World) -> None:
    problems = []
    for route in own_routes():
        client = signed_in("manager", world=world)
        path = sample_path(route, world=world)
        for body, kind in (
            (b"\xff\xfe\x00", "application/x-www-form-urlencoded"),
            (b"{", "application/json"),
            (b"--x\r\nbroken", "multipart/form-data; boundary=x"),
            (b"", "multipart/form-data"),
        ):
            try:
                with transaction.atomic():
                    answer = client.generic("POST", path, body, content_type=kind)
                    transaction.set_rollback(True)
            except Exception as error:
                problems.append((route.name, kind, repr(error)[:200]))
            else:
                if answer.status_code >= 500:
                    problems.append((route.name, kind, answer.status_code))
    assert not problems
