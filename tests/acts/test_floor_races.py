"""Two people at one moment: on both engines one wins and the other gets a sentence."""

from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta
from threading import Barrier
from typing import Any
from uuid import UUID

import pytest
from django.db import connection

from moldcare.acts.doing import Doing
from moldcare.acts.errors import DoesNotFit, Incomplete
from moldcare.acts.floor import set_mold
from moldcare.acts.molds import add_mold
from moldcare.acts.sign_in import FREE_TRIES, SignInRefused, TooManyTries, check_pin
from moldcare.logbook.models import Entry
from moldcare.molds.models import Mold, Move
from moldcare.molds.queries import set_events_now
from tests import factories

pytestmark = [pytest.mark.slow, pytest.mark.usefixtures("fresh_db")]


def at_once(*calls: Any) -> list[Any]:
    """Make calls from threads that start together; return answers and refusals in order."""
    gate = Barrier(len(calls))

    def run(call: Any) -> Any:
        try:
            gate.wait(timeout=30)
            return call()
        except (DoesNotFit, Incomplete, SignInRefused, TooManyTries) as refused:
            return refused
        finally:
            connection.close()

    with ThreadPoolExecutor(len(calls)) as pool:
        return list(pool.map(run, calls))


def test_two_molds_set_in_one_press_at_once_leave_one_there(now: datetime) -> None:
    doing = Doing(person=factories.person(role="lead"), now=now)
    press = factories.spot()
    molds = [factories.counted_mold() for _each in range(4)]

    answers = at_once(
        *(lambda mold=mold: set_mold(doing, mold=mold, press=press, at=now) for mold in molds)
    )

    assert sum(isinstance(answer, DoesNotFit) for answer in answers) == 3
    assert set_events_now().count() == 1
    assert Move.objects.count() == Entry.objects.count() == 1


def test_one_mold_set_in_two_presses_at_once_is_in_one(now: datetime) -> None:
    doing = Doing(person=factories.person(role="lead"), now=now)
    presses = [factories.spot() for _each in range(4)]
    mold = factories.counted_mold()

    answers = at_once(
        *(
            lambda press=press, early=early: set_mold(
                doing, mold=mold, press=press, at=now - timedelta(minutes=early)
            )
            for early, press in enumerate(presses)
        )
    )

    assert sum(isinstance(answer, DoesNotFit) for answer in answers) == 3
    assert Move.objects.filter(mold=mold).count() == 1


def test_one_hand_in_from_two_connections_sets_a_mold_once(now: datetime) -> None:
    doing = Doing(person=factories.person(role="lead"), now=now, hand_in=UUID(int=4))
    press, mold = factories.spot(), factories.counted_mold()

    def call() -> object:
        return set_mold(doing, mold=mold, press=press, at=now)

    first, second = at_once(call, call)

    assert first == second
    assert Move.objects.count() == Entry.objects.count() == 1


def test_one_number_given_twice_at_once_makes_one_mold(now: datetime) -> None:
    doing = Doing(person=factories.person(role="lead"), now=now)

    answers = at_once(*(lambda: add_mold(doing, number="M-1", name="lid") for _each in range(4)))

    assert sum(isinstance(answer, (DoesNotFit, Incomplete)) for answer in answers) == 3
    assert Mold.objects.count() == 1


def test_wrong_pins_at_once_are_all_counted(now: datetime) -> None:
    factories.person(pin="2904", badge="4711")

    answers = at_once(
        *(
            lambda: check_pin("4711", pin="0000", device="tablet 1", now=now)
            for _each in range(FREE_TRIES + 3)
        )
    )

    assert sum(isinstance(answer, TooManyTries) for answer in answers) == 3
