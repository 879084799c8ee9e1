"""Counters on pages: added, fitted, exchanged with both values, removed."""

from collections.abc import Callable
from datetime import datetime, timedelta
from re import sub

import pytest
from django.test import Client

from moldcare.acts.refresh import refresh_counts
from moldcare.counters.models import Counter, CounterFitting, Life
from moldcare.counters.queries import counter_on
from moldcare.molds.models import Mold
from moldcare.plant.models import Person
from tests import factories

pytestmark = pytest.mark.usefixtures("clock")

ClientOf = Callable[[str], Client]


def words_of(answer: object) -> str:
    html = answer.getvalue().decode()  # type: ignore[attr-defined]
    return sub(r"\s+", " ", sub(r"<[^>]+>", " ", html))


@pytest.fixture
def mold(lead: Person, now: datetime) -> Mold:
    """A mold with counter 41-B, read at 12,000."""
    factories.plant()
    row = factories.mold(number="0417")
    factories.cycle_time(row, author=lead)
    counter = factories.counter(on=row, author=lead, label="41-B")
    factories.readings(counter, rows=[(now - timedelta(hours=2), 12_000)], author=lead)
    refresh_counts(counters=[counter.pk], molds=[row.pk])
    return row


@pytest.fixture
def counter(mold: Mold) -> Counter:
    return Counter.objects.get(label="41-B")


def test_the_page_says_where_it_sits_and_what_became_of_its_readings(
    counter: Counter, client_of: ClientOf
) -> None:
    shown = words_of(client_of("reader").get(f"/counters/{counter.pk}"))
    assert "It sits since 5 Jan 2026 on mold 0417 ." in shown
    assert "It showed 12,000 at the newest accepted reading, 05:12." in shown
    assert "05:12 12,000 12,000 accepted typed" in shown


def test_an_exchange_keeps_the_life_count_going(
    counter: Counter, mold: Mold, client_of: ClientOf, now: datetime
) -> None:
    answer = client_of("lead").post(
        f"/counters/{counter.pk}/exchange",
        {"last_value": "12.500", "label": "41-C", "digits": "6", "value_shown": "87", "reason": ""},
    )
    assert answer.status_code == 302
    new = Counter.objects.get(label="41-C")
    assert answer["Location"] == f"/counters/{new.pk}"
    removed, fitted = CounterFitting.objects.order_by("-id")[:2][::-1]
    assert (removed.counter, removed.value_shown) == (counter, 12_500)
    assert (fitted.counter, fitted.value_shown) == (new, 87)
    assert removed.at == fitted.at == now
    assert counter_on(at=now, mold=mold) == new
    assert Life.objects.get(pk=mold.pk).cycles == 12_500


def test_an_exchange_asks_for_one_new_counter(counter: Counter, client_of: ClientOf) -> None:
    answer = client_of("lead").post(
        f"/counters/{counter.pk}/exchange", {"last_value": "12500", "value_shown": "0"}
    )
    assert answer.status_code == 422
    assert "Give the new counter a label, or choose one above." in words_of(answer)


def test_a_refused_exchange_adds_no_counter(counter: Counter, client_of: ClientOf) -> None:
    answer = client_of("lead").post(
        f"/counters/{counter.pk}/exchange",
        {"last_value": "12500", "label": "41-C", "at": "2020-01-01T06:00"},
    )
    assert answer.status_code == 422
    assert "sits nowhere then" in words_of(answer)
    assert not Counter.objects.filter(label="41-C").exists()


def test_a_counter_is_added_where_it_sits(mold: Mold, client_of: ClientOf) -> None:
    press = factories.spot(kind="press", number="7")
    client = client_of("lead")
    sent = {"label": "P7", "digits": "7", "on": f"press {press.pk}", "value_shown": "500"}
    assert client.post("/counters/add", sent).status_code == 302
    fitting = CounterFitting.objects.get(counter__label="P7")
    assert (fitting.press, fitting.value_shown) == (press, 500)
    again = client.post("/counters/add", {"label": "P7"})
    assert again.status_code == 422
    # a mold that has one keeps it, and the new counter is not added either
    both = client.post("/counters/add", {"label": "X", "on": f"mold {mold.pk}"})
    assert "Exchange it, or remove it first." in words_of(both)
    assert not Counter.objects.filter(label="X").exists()


def test_a_removed_counter_can_be_fitted_elsewhere(
    counter: Counter, client_of: ClientOf, now: datetime
) -> None:
    client, other = client_of("lead"), factories.mold(number="M-2")
    removal = {"last_value": "12500", "at": "2026-11-25T07:00", "reason": "worn"}
    assert client.post(f"/counters/{counter.pk}/remove", removal).status_code == 302
    assert "It sits nowhere." in words_of(client.get(f"/counters/{counter.pk}"))
    sent = {"on": f"mold {other.pk}", "value_shown": "12500"}
    assert client.post(f"/counters/{counter.pk}/fit", sent).status_code == 302
    assert counter_on(at=now, mold=other) == counter


def test_technicians_exchange_no_counters(counter: Counter, client_of: ClientOf) -> None:
    assert client_of("technician").get(f"/counters/{counter.pk}").status_code == 200
    assert client_of("technician").get(f"/counters/{counter.pk}/exchange").status_code == 403


def test_what_speaks_against_an_act_is_said_before_anybody_types(
    counter: Counter, client_of: ClientOf
) -> None:
    client = client_of("lead")
    assert "It is fitted already." in words_of(client.get(f"/counters/{counter.pk}/fit"))
    nothing = "There is nothing to take it off."
    assert nothing not in words_of(client.get(f"/counters/{counter.pk}/remove"))
    loose = factories.CounterFactory()
    assert nothing in words_of(client.get(f"/counters/{loose.pk}/exchange"))
    assert "It is fitted already." not in words_of(client.get(f"/counters/{loose.pk}/fit"))
