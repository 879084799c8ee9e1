from datetime import datetime, timedelta

import pytest

from moldcare.acts.sign_in import (
    FREE_TRIES,
    UNKNOWN_DEVICE,
    SignInRefused,
    TooManyTries,
    check_pin,
    check_sign_in,
)
from moldcare.plant.models import Person
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def anna() -> Person:
    return factories.person(pin="2904", badge="4711")


@pytest.fixture
def ben() -> Person:
    return factories.person(pin="7391", badge="4712")


def wrong_tries(badge: str, *, tries: int, device: str, now: datetime) -> None:
    for _each in range(tries):
        with pytest.raises(SignInRefused):
            check_pin(badge, pin="0000", device=device, now=now)


def test_badge_and_pin_belong_together(anna: Person, ben: Person, now: datetime) -> None:
    assert check_pin(" 4711 ", pin="2904", device="tablet 1", now=now) == anna
    for badge, pin in (("4711", "7391"), ("4712", "2904"), ("9999", "2904"), ("4711", "")):
        with pytest.raises(SignInRefused):
            check_pin(badge, pin=pin, device="tablet 1", now=now)


@pytest.mark.parametrize(
    "fields", [{"is_active": False}, {"role": "feed"}, {"badge": None}, {"pin": ""}]
)
def test_who_may_not_sign_is_refused_like_anybody_else(
    now: datetime, fields: dict[str, object]
) -> None:
    factories.person(**{"pin": "2904", "badge": "4711", **fields})  # type: ignore[arg-type]
    with pytest.raises(SignInRefused, match="do not belong together"):
        check_pin("4711", pin="2904", device="tablet 1", now=now)
    with pytest.raises(SignInRefused, match="do not belong together"):
        check_pin("", pin="2904", device="tablet 1", now=now)


def test_wrong_tries_slow_one_person_on_one_device(
    anna: Person, ben: Person, now: datetime
) -> None:
    # six wrong PINs of one person on one tablet of a plant behind one address
    wrong_tries("4711", tries=FREE_TRIES, device="tablet 1", now=now)
    with pytest.raises(TooManyTries) as refused:
        check_pin("4711", pin="2904", device="tablet 1", now=now)
    assert refused.value.wait_s == 30

    assert check_pin("4712", pin="7391", device="tablet 1", now=now) == ben
    assert check_pin("4711", pin="2904", device="tablet 2", now=now) == anna
    assert check_pin("4711", pin="2904", device=UNKNOWN_DEVICE, now=now) == anna
    later = now + timedelta(seconds=30)
    assert check_pin("4711", pin="2904", device="tablet 1", now=later) == anna
    wrong_tries("4711", tries=FREE_TRIES, device="tablet 1", now=later)


def test_each_further_wrong_try_doubles_the_wait_up_to_a_quarter_of_an_hour(
    anna: Person, now: datetime
) -> None:
    wrong_tries("4711", tries=FREE_TRIES, device="tablet 1", now=now)
    waits = []
    for _each in range(7):
        with pytest.raises(TooManyTries) as refused:
            check_pin("4711", pin="0000", device="tablet 1", now=now)
        waits.append(refused.value.wait_s)
        now += timedelta(seconds=refused.value.wait_s)
        wrong_tries("4711", tries=1, device="tablet 1", now=now)

    assert waits == [30, 60, 120, 240, 480, 900, 900]


def test_old_wrong_tries_are_forgotten(anna: Person, now: datetime) -> None:
    wrong_tries("4711", tries=FREE_TRIES, device="tablet 1", now=now)
    next_day = now + timedelta(hours=13)
    wrong_tries("4711", tries=FREE_TRIES, device="tablet 1", now=next_day)


def test_a_badge_that_nobody_has_is_slowed_like_any_other(now: datetime) -> None:
    wrong_tries("9999", tries=FREE_TRIES, device="tablet 1", now=now)
    with pytest.raises(TooManyTries):
        check_pin("9999", pin="0000", device="tablet 1", now=now)


def test_name_and_password_are_slowed_too(now: datetime) -> None:
    person = factories.person(username="tbreuer")
    person.set_password("nine wet gray stones")
    person.save()
    signing = {"device": "desk", "now": now}
    assert check_sign_in("tbreuer", password="nine wet gray stones", **signing) == person  # type: ignore[arg-type]
    for _each in range(FREE_TRIES):
        with pytest.raises(SignInRefused):
            check_sign_in("tbreuer", password="wrong", **signing)  # type: ignore[arg-type]
    with pytest.raises(TooManyTries):
        check_sign_in("tbreuer", password="nine wet gray stones", **signing)  # type: ignore[arg-type]
    with pytest.raises(SignInRefused):
        check_sign_in("nobody", password="x", **signing)  # type: ignore[arg-type]
