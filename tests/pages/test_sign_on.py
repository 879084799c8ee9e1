"""Signing on at a shared tablet: wrong PINs slow and stop one person there, and nobody else."""

import pytest
from django.http import HttpResponseBase
from django.test import Client

from moldcare.acts.sign_in import FREE_TRIES
from tests import factories

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


@pytest.fixture(autouse=True)
def people() -> None:
    factories.plant()
    factories.person(name="Anna", pin="2904", badge="4711")
    factories.person(name="Ben", pin="7391", badge="4712")


def tablet() -> Client:
    """A tablet that somebody has signed on at before: it has a name."""
    client = Client()
    assert sign_on(client, badge="4712", pin="7391").status_code == 302
    client.post("/sign-off")
    return client


def sign_on(client: Client, *, badge: str, pin: str, **headers: str) -> HttpResponseBase:
    return client.post("/sign-in/badge", {"badge": badge, "pin": pin}, headers=headers)


def says(answer: HttpResponseBase) -> str:
    return answer.getvalue().decode()  # type: ignore[attr-defined]


def test_one_person_on_one_tablet_is_slowed_whatever_address_is_made_up() -> None:
    # the addresses are those of documentation: RFC 5737, 198.51.100.0/24
    first, second = tablet(), tablet()
    for n in range(FREE_TRIES):
        wrong = sign_on(first, badge="4711", pin="0000", **{"X-Forwarded-For": f"198.51.100.{n}"})
        assert "do not belong together" in says(wrong)
    slowed = sign_on(first, badge="4711", pin="2904", **{"X-Forwarded-For": "198.51.100.99"})
    assert slowed.status_code == 422
    assert "Wait 30 seconds; others can sign meanwhile" in says(slowed)

    assert sign_on(first, badge="4712", pin="7391").status_code == 302
    assert sign_on(second, badge="4711", pin="2904").status_code == 302


def test_a_device_name_that_somebody_made_up_is_none() -> None:
    client = Client()
    for n in range(FREE_TRIES):
        client.cookies["device"] = f"tablet-{n}:1:made-up"
        sign_on(client, badge="4711", pin="0000")
    client.cookies["device"] = "another:1:made-up"
    assert "Wait 30 seconds" in says(sign_on(client, badge="4711", pin="2904"))


def test_who_was_slowed_stands_on_the_page_of_that_tablet_only() -> None:
    first, second = tablet(), tablet()
    for _each in range(FREE_TRIES):
        sign_on(first, badge="4711", pin="0000")
    lead = factories.person(name="Lea", role="lead", pin="6083", badge="4713")
    for client in (first, second):
        sign_on(client, badge="4713", pin="6083")
    page = says(first.get("/sign-in/people"))
    assert "Anna" in page
    assert "Has to wait between tries." in page
    assert "Anna" not in says(second.get("/sign-in/people"))
    person = page.split('name="person" value="')[1].split('"')[0]
    answer = first.post("/sign-in/people", {"person": person, "hand_in": ""})
    assert answer.status_code == 302
    assert "Nobody waits here" in says(first.get("/sign-in/people"))
    again = first.post("/sign-in/people", {"person": person, "hand_in": ""})
    assert "neither waits nor is stopped" in says(again)
    assert lead.name in says(first.get("/sign-in/people"))


@pytest.mark.parametrize(
    ("badge", "said"),
    [("&à'&è", "another keyboard than this tablet (French?)"), ("!)$!&", "another keyboard")],
)
def test_a_badge_through_another_keyboard_is_said_and_signs_nobody_on(
    badge: str, said: str
) -> None:
    factories.person(name="Cleo", pin="2904", badge="10417")
    client = Client()
    answer = sign_on(client, badge=badge, pin="2904")
    assert answer.status_code == 422
    assert said in says(answer)
    assert client.get("/orders").status_code == 302
