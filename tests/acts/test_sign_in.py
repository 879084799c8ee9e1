import re
from datetime import datetime, timedelta
from importlib import import_module
from typing import Any
from uuid import uuid4

import pytest
from django.contrib.auth.hashers import check_password
from django.test import override_settings

from moldcare.acts.doing import Doing
from moldcare.acts.errors import DoesNotFit, NotAllowed
from moldcare.acts.people import pin_hash, set_pin
from moldcare.acts.sign_in import (
    FREE_TRIES,
    UNKNOWN_DEVICE,
    SignInRefused,
    Stopped,
    TooManyTries,
    check_pin,
    check_sign_in,
    let_try_again,
    tried_here,
)
from moldcare.logbook.models import Entry
from moldcare.plant.models import Person
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def anna() -> Person:
    return factories.person(pin="2904", badge="4711")


@pytest.fixture
def ben() -> Person:
    return factories.person(pin="7391", badge="4712")


def settings_of_the_product() -> Any:
    """The settings that a plant runs with: tests hash faster."""
    return import_module("moldcare.settings")


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


def stop(badge: str, *, device: str, now: datetime) -> tuple[list[int], datetime]:
    """Try wrongly until no try is looked at; the waits on the way, and when it came to that."""
    wrong_tries(badge, tries=FREE_TRIES, device=device, now=now)
    waits = []
    while True:
        with pytest.raises(TooManyTries) as refused:
            check_pin(badge, pin="0000", device=device, now=now)
        if isinstance(refused.value, Stopped):
            return waits, now
        waits.append(refused.value.wait_s)
        now += timedelta(seconds=refused.value.wait_s)
        wrong_tries(badge, tries=1, device=device, now=now)


def test_each_further_wrong_try_doubles_the_wait_and_the_tenth_stops(
    anna: Person, ben: Person, now: datetime
) -> None:
    waits, stopped = stop("4711", device="tablet 1", now=now)
    assert waits == [30, 60, 120, 240, 480]

    # the right PIN does not help, nor does a month: a lead has to come
    for later in (timedelta(0), timedelta(days=1), timedelta(days=30)):
        with pytest.raises(Stopped, match="A lead signs in on this tablet"):
            check_pin("4711", pin="2904", device="tablet 1", now=stopped + later)
    assert check_pin("4712", pin="7391", device="tablet 1", now=stopped) == ben
    assert check_pin("4711", pin="2904", device="tablet 2", now=stopped) == anna


def test_a_lead_lets_somebody_try_again_on_that_tablet(
    anna: Person, ben: Person, now: datetime
) -> None:
    _waits, stopped = stop("4711", device="tablet 1", now=now)
    wrong_tries("4712", tries=2, device="tablet 1", now=stopped)
    stop("4711", device="tablet 2", now=now)
    lead = factories.person(role="lead")
    [here] = tried_here("tablet 1", now=stopped)
    assert (here.person, here.tries.is_stopped) == (anna, True)

    doing = Doing(person=lead, now=stopped, hand_in=uuid4())
    for _tap in range(2):
        answer = let_try_again(doing, person=anna, device="tablet 1")
    assert tried_here("tablet 1", now=stopped) == []
    assert check_pin("4711", pin="2904", device="tablet 1", now=stopped) == anna
    entry = Entry.objects.get(pk=answer.entry_id)
    assert entry.chain.kind == "plant"
    assert "may try again at a tablet after 10 wrong tries" in entry.sentence
    with pytest.raises(Stopped):
        check_pin("4711", pin="2904", device="tablet 2", now=stopped)
    with pytest.raises(DoesNotFit, match="neither waits nor is stopped"):
        let_try_again(Doing(person=lead, now=stopped), person=anna, device="tablet 1")


def test_who_may_not_reset_a_pin_lets_nobody_try_again(
    anna: Person, ben: Person, now: datetime
) -> None:
    _waits, stopped = stop("4711", device="tablet 1", now=now)
    with pytest.raises(NotAllowed):
        let_try_again(Doing(person=ben, now=stopped), person=anna, device="tablet 1")
    assert tried_here("tablet 1", now=stopped)


def test_another_pin_begins_anew_everywhere(anna: Person, now: datetime) -> None:
    _waits, stopped = stop("4711", device="tablet 1", now=now)
    set_pin(Doing(person=factories.person(role="lead"), now=stopped), person=anna, pin="6083")
    assert check_pin("4711", pin="6083", device="tablet 1", now=stopped) == anna


def test_devices_without_a_name_are_not_stopped_for_ever(anna: Person, now: datetime) -> None:
    # nobody can walk up to a device without a name, and somebody far away may try one
    _waits, stopped = stop("4711", device=UNKNOWN_DEVICE, now=now)
    assert tried_here(UNKNOWN_DEVICE, now=stopped) == []
    with pytest.raises(Stopped):
        check_pin("4711", pin="2904", device=UNKNOWN_DEVICE, now=stopped + timedelta(hours=11))
    later = stopped + timedelta(hours=13)
    assert check_pin("4711", pin="2904", device=UNKNOWN_DEVICE, now=later) == anna


@pytest.mark.parametrize("typed", ["*4711*", "]C14711", "4711\r\n", "4711\t"])
def test_marks_of_a_badge_reader_are_no_part_of_the_number(
    anna: Person, now: datetime, typed: str
) -> None:
    assert check_pin(typed, pin="2904", device="tablet 1", now=now) == anna


def test_pins_are_kept_as_argon2_hashes() -> None:
    # RFC 9106: argon2id; the form of the text is that of its reference implementation
    with override_settings(PASSWORD_HASHERS=settings_of_the_product().PASSWORD_HASHERS):
        kept = pin_hash("2904")
        assert re.fullmatch(r"argon2\$argon2id\$v=19\$m=\d+,t=\d+,p=\d+\$\S+\$\S+", kept)
        assert "2904" not in kept
        assert check_password("2904", kept)
        assert not check_password("2905", kept)
        assert pin_hash("2904") != kept


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
