"""An empty plant: one manager, nothing else. Every page says what to do first."""

from re import findall

import pytest
from django.test import Client
from django.urls import get_resolver
from django.utils import timezone

from moldcare.acts.people import make_manager
from moldcare.care.models import RuleSet
from moldcare.plant.models import Person, Plant
from tests.pages.routes import PUBLIC, routes

pytestmark = pytest.mark.django_db

# files and answers without a page around them
NO_PAGE = frozenset({"setup-example", "service-worker", "health"})


@pytest.fixture
def empty() -> Client:
    """The client of the manager whom `createmanager` made."""
    manager = make_manager(
        username="rosa", name="Rosa Feldmann", password="steel and water", now=timezone.now()
    )
    client = Client()
    client.force_login(manager)
    return client


def pages_without_arguments() -> list[str]:
    found = [
        route.name
        for route in routes()
        if not route.parameters and not route.is_admin and route.guard is not None
    ]
    return sorted(set(found) - PUBLIC - NO_PAGE)


def test_there_are_pages_to_visit() -> None:
    names = pages_without_arguments()
    assert {"shift", "molds", "readings", "setup", "setup-begin", "setup-people"} <= set(names)


@pytest.mark.parametrize("name", pages_without_arguments())
def test_every_page_of_an_empty_plant_opens_and_has_a_way_on(empty: Client, name: str) -> None:
    path = "/" + str(get_resolver().reverse(name))
    answer = empty.get(path, follow=True)
    assert answer.status_code == 200, path
    if not answer["Content-Type"].startswith("text/html"):
        return
    html = answer.getvalue().decode()
    content = html.partition('id="content"')[2]
    if name == "wall":
        # a screen without controls
        return
    ways = set(findall(r'<a [^>]*href="(/[^"]*)"', content)) - {path}
    assert ways or 'type="submit"' in content, f"{name}: no way on"


@pytest.mark.parametrize("name", ["shift", "molds", "readings", "orders", "setup"])
def test_the_pages_of_the_bar_lead_to_what_is_entered_first(empty: Client, name: str) -> None:
    path = "/" + str(get_resolver().reverse(name))
    content = empty.get(path).getvalue().decode().partition('id="content"')[2]
    seen, wanted = set(), set(findall(r'<a [^>]*href="(/[^"?]*)', content))
    # at most two taps
    if "/setup/begin" not in wanted:
        for way in wanted:
            answer = empty.get(way)
            if answer.headers["Content-Type"].startswith("text/html"):
                second = answer.getvalue().decode().partition('id="content"')[2]
                seen |= set(findall(r'<a [^>]*href="(/[^"?]*)', second))
    assert "/setup/begin" in wanted | seen


def test_the_guide_begins_with_the_plant_and_ticks_what_is_done(empty: Client) -> None:
    html = empty.get("/setup/begin").getvalue().decode()
    assert "Next: The plant." in html
    assert "✓ done" not in html
    typed = {
        "name": "Plant 2",
        "zone": "Europe/Berlin",
        "clock_error_s": "300",
        "language": "en",
        "units": "metric",
        "paper": "A4",
        "currency": "eur",
        "week_starts_on": "0",
        "reading_age_shifts": "3",
        "idle_minutes": "10",
    }
    assert empty.post("/setup/plant", typed)["Location"] == "/setup/begin"
    html = empty.get("/setup/begin").getvalue().decode()
    assert "Next: Shifts." in html
    assert html.count("✓ done") == 1


def test_clock_and_money_of_a_new_plant_are_asked_and_not_guessed(empty: Client) -> None:
    form = empty.get("/setup/plant").context["form"]
    assert (form["zone"].value(), form["currency"].value()) == ("", "")
    answer = empty.post("/setup/plant", {"name": "Plant 2", "zone": "", "currency": ""})
    assert answer.status_code == 422
    assert 'value="Plant 2"' in answer.getvalue().decode()
    assert not Plant.objects.exists()


def test_the_starting_sets_are_loaded_where_the_guide_asks_for_them(empty: Client) -> None:
    html = empty.get("/setup/begin").getvalue().decode()
    assert "Load the starting sets" in html
    answer = empty.post("/setup", {"begin": "1"}, follow=True)
    assert answer.redirect_chain == [("/setup/begin", 302)]
    html = answer.getvalue().decode()
    assert "starting values, to be checked by you" in html
    assert "Load the starting sets" not in html
    assert RuleSet.objects.exists()


def test_example_files_are_sent_as_files_and_nothing_else_is(empty: Client) -> None:
    html = empty.get("/setup/begin").getvalue().decode()
    found = findall(r'href="(/setup/examples/[^"]+)"', html)
    assert len(found) >= 4
    for href in found:
        answer = empty.get(href)
        assert answer.status_code == 200
        assert answer["Content-Disposition"].startswith("attachment;")
        assert answer.getvalue()
    for name in ("..%2F..%2Fmanage.py", "README.md", "secret-key"):
        assert empty.get(f"/setup/examples/{name}").status_code == 404


def test_whoever_may_not_enter_is_told_who_does(empty: Client) -> None:
    reader = Person.objects.create_person("nora", password=None, name="Nora", role="reader")
    client = Client()
    client.force_login(reader)
    html = client.get("/setup/begin").getvalue().decode()
    assert "A lead or manager enters this." in html
    assert "/setup/plant" not in html
    lead = Person.objects.create_person("lea", password=None, name="Lea", role="lead")
    client.force_login(lead)
    html = client.get("/setup/begin").getvalue().decode()
    # people are the manager's alone, everything else a lead enters
    assert html.count("A manager enters this.") == 1
    assert "A lead or manager enters this." not in html
