"""Held readings: the list, why one is held, and every way to settle it."""

from datetime import timedelta
from html import unescape
from re import sub
from uuid import uuid4

import pytest
from django.http import HttpResponseBase
from django.test import Client

from moldcare.acts.doing import Doing
from moldcare.acts.readings import ReadingEntry, record_readings
from moldcare.core.counting.values import State
from moldcare.counters.models import Counter, Reading, ReadingDecision, Verdict
from moldcare.plant.models import Person
from tests import factories
from tests.pages.test_readings import ClientOf, text_of

pytestmark = pytest.mark.usefixtures("clock")


@pytest.fixture
def counter(lead: Person, doing: Doing) -> Counter:
    """A mold of 20 s a cycle that stood at 482,010 eight hours ago."""
    factories.plant()
    mold = factories.mold(number="0233")
    factories.cycle_time(mold, author=lead, standard_s="20.0")
    counter = factories.counter(on=mold, author=lead, label="Z-233", digits=None)
    read(counter, 482_010, author=lead, doing=doing, hours=8)
    return counter


@pytest.fixture
def client(client_of: ClientOf) -> Client:
    return client_of("lead")


def read(counter: Counter, value: int, *, author: Person, doing: Doing, hours: float) -> Reading:
    """Read a counter so many hours ago."""
    at = doing.now - timedelta(hours=hours)
    entry = ReadingEntry(counter=counter, at=at, value=value)
    (answer,) = record_readings(Doing(person=author, now=at), [entry])
    return Reading.objects.get(pk=answer.reading_id)


@pytest.fixture
def held(counter: Counter, lead: Person, doing: Doing) -> Reading:
    return read(counter, 48_301, author=lead, doing=doing, hours=6)


def settle(client: Client, reading: Reading, how: str, **more: str) -> HttpResponseBase:
    fields = {"decide": f"{reading.pk}:{how}", "hand_in": str(uuid4()), **more}
    return client.post(f"/readings/held/{reading.pk}", fields)


def state_of(reading: Reading) -> State:
    return State(Verdict.objects.get(pk=reading.pk).state)


def test_the_list_says_whose_it_is_and_why(held: Reading, client: Client) -> None:
    said = text_of(client.get("/readings/held"))
    assert "48,301 goes backwards. The counter showed 482,010" in said
    assert "Counter Z-233" in said
    assert "Perhaps: It was" in said
    assert "Mold 0233" in said


def test_a_page_says_what_it_may_have_meant_with_the_cycles(held: Reading, client: Client) -> None:
    said = text_of(client.get(f"/readings/held/{held.pk}"))
    assert "cycles since the value before." in said
    assert "Reset or replaced" in said


@pytest.mark.parametrize("how", ["accept", "aside", "correct"])
def test_by_hand_needs_a_reason(how: str, held: Reading, client: Client) -> None:
    response = settle(client, held, how)
    assert response.status_code == 422
    assert "Say why" in text_of(response)
    assert state_of(held) == State.HELD


def test_a_reading_is_put_right_by_hand(held: Reading, client: Client, counter: Counter) -> None:
    assert settle(client, held, "correct", value="482 040", reason="read again").status_code == 302
    newest = Reading.objects.latest("id")
    assert (newest.value, newest.at, state_of(newest)) == (482_040, held.at, State.ACCEPTED)
    assert state_of(held) == State.SET_ASIDE
    said = text_of(client.get(f"/readings/held/{held.pk}"))
    assert "set aside. read again" in said
    assert "482,040 takes its place." in said


def test_put_right_with_nothing_new_says_what_is_missing(held: Reading, client: Client) -> None:
    response = settle(client, held, "correct", reason="hm")
    assert response.status_code == 422
    assert "Say what the counter showed" in text_of(response)


@pytest.mark.parametrize(
    ("how", "state"),
    [("accept", State.ACCEPTED), ("aside", State.SET_ASIDE), ("restart", State.ACCEPTED)],
)
def test_it_is_accepted_set_aside_or_gone_on_from(
    how: str, state: State, held: Reading, client: Client
) -> None:
    assert settle(client, held, how, reason="looked at it").status_code == 302
    assert state_of(held) == state
    assert "No reading is held" in text_of(client.get("/readings/held"))


def test_where_it_begins_again_is_one_tap(lead: Person, doing: Doing, client: Client) -> None:
    factories.plant()
    mold = factories.mold(number="0400")
    factories.cycle_time(mold, author=lead, standard_s="20.0")
    counter = factories.counter(on=mold, author=lead, digits=None, value_shown=65_300)
    read(counter, 65_500, author=lead, doing=doing, hours=8)
    low = read(counter, 40, author=lead, doing=doing, hours=7)
    assert "It begins again after 65,536" in text_of(client.get(f"/readings/held/{low.pk}"))
    assert settle(client, low, "wrap:65536").status_code == 302
    assert state_of(low) == State.ACCEPTED
    counter.refresh_from_db()
    assert counter.rollover == 65_536


def test_the_odd_one_out_is_named_on_the_pages_of_those_that_speak_against_it(
    counter: Counter, lead: Person, doing: Doing, client: Client
) -> None:
    wrong = read(counter, 483_200, author=lead, doing=doing, hours=2)
    first = read(counter, 482_300, author=lead, doing=doing, hours=1.5)
    read(counter, 482_360, author=lead, doing=doing, hours=1)
    said = text_of(client.get(f"/readings/held/{first.pk}"))
    assert "483,200, read" in said
    assert "is the odd one: 2 later readings fit what was before it, but not it." in said
    response = client.post(
        f"/readings/held/{first.pk}", {"decide": f"{wrong.pk}:odd", "hand_in": str(uuid4())}
    )
    assert response.status_code == 302
    assert state_of(wrong) == State.SET_ASIDE
    assert not Verdict.objects.filter(state=State.HELD).exists()


def test_a_stale_cycle_is_said_with_its_pace_and_the_way_to_change_it(
    counter: Counter, lead: Person, doing: Doing, client: Client
) -> None:
    # 12 s a cycle: 300 an hour, where 17 s allow 213
    for n in (1, 2, 3):
        newest = read(counter, 482_010 + 300 * n, author=lead, doing=doing, hours=8 - n)
    page = client.get(f"/readings/held/{newest.pk}")
    assert "3 readings in a row agree on a cycle of 12.0 s." in text_of(page)
    assert 'href="/molds/0233/cycle"' in page.content.decode()


@pytest.mark.parametrize(
    "asked",
    [
        "",
        "x",
        ":",
        "1:slip",
        "1:slip:x",
        "1:instant:999999999999999999",
        "1:turns:123456",
        "999999999999999999:accept",
        "1:wrap:0",
        "1:nothing",
        "1:slip:-4",
        "99999999999999999999:odd",
    ],
)
def test_a_button_that_is_none_of_ours_is_refused_with_a_sentence(
    asked: str, held: Reading, client: Client
) -> None:
    fields = {"decide": asked.replace("1:", f"{held.pk}:", 1), "reason": "so"}
    response = client.post(f"/readings/held/{held.pk}", fields)
    assert response.status_code == 422
    assert state_of(held) == State.HELD
    assert not ReadingDecision.objects.exists()


def test_others_than_leads_look_and_decide_nothing(held: Reading, client_of: ClientOf) -> None:
    technician = client_of("technician")
    page = technician.get(f"/readings/held/{held.pk}").content.decode()
    assert 'name="decide"' not in page
    assert "A lead decides what becomes of it." in unescape(sub(r"<[^>]+>", " ", page))
    assert settle(technician, held, "restart").status_code == 403


def test_there_is_no_such_reading(client: Client) -> None:
    factories.plant()
    assert client.get("/readings/held/4711").status_code == 404
