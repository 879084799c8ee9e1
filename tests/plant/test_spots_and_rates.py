"""Spots, rates and qualifications: which row counts on a date."""

from datetime import date, datetime

import pytest
from django.db import IntegrityError, transaction

from moldcare.plant.models import Qualification, Rate
from moldcare.plant.queries import qualified, rate_on, spots_in_use
from tests import factories

pytestmark = pytest.mark.django_db

JULY, AUGUST, NOVEMBER = date(2026, 7, 1), date(2026, 8, 1), date(2026, 11, 25)


def test_the_same_number_may_be_a_press_and_a_bench_and_not_two_presses() -> None:
    factories.spot(kind="press", number="7")
    factories.spot(kind="bench", number="7")
    with pytest.raises(IntegrityError), transaction.atomic():
        factories.spot(kind="press", number="7")


def test_spots_out_of_use_are_not_offered() -> None:
    press = factories.spot(kind="press")
    bench = factories.spot(kind="bench")
    factories.spot(kind="press", is_in_use=False)
    assert list(spots_in_use(kinds=["press"])) == [press]
    assert set(spots_in_use()) == {press, bench}


def test_an_old_month_keeps_the_rate_that_it_had(now: datetime) -> None:
    for valid_from, amount in ((JULY, "80.00"), (NOVEMBER, "95.00")):
        Rate.objects.create(kind="press", valid_from=valid_from, amount=amount, written_at=now)
    of_august, of_november = rate_on(AUGUST, kind="press"), rate_on(NOVEMBER, kind="press")
    assert of_august is not None
    assert of_november is not None
    assert (str(of_august.amount), str(of_november.amount)) == ("80.00", "95.00")
    assert rate_on(date(2026, 6, 30), kind="press") is None
    assert rate_on(AUGUST, kind="repair") is None


def test_a_press_of_its_own_rate_goes_before_the_general_one(now: datetime) -> None:
    press, other = factories.spot(), factories.spot()
    Rate.objects.create(kind="press", valid_from=AUGUST, amount="80", written_at=now)
    own = Rate.objects.create(
        kind="press", spot=press, valid_from=JULY, amount="120", written_at=now
    )
    assert rate_on(NOVEMBER, kind="press", spot=press) == own
    general = rate_on(NOVEMBER, kind="press", spot=other)
    assert general is not None
    assert general.spot is None


def test_there_is_one_general_rate_a_date_and_no_negative_one(now: datetime) -> None:
    Rate.objects.create(kind="crew", valid_from=JULY, amount="40", written_at=now)
    for valid_from, amount in ((JULY, "41"), (AUGUST, "-1")):
        with pytest.raises(IntegrityError), transaction.atomic():
            Rate.objects.create(kind="crew", valid_from=valid_from, amount=amount, written_at=now)


def test_a_qualification_counts_from_its_first_day_to_its_last(now: datetime) -> None:
    person = factories.person()
    Qualification.objects.create(
        person=person,
        subject="hot runner",
        evidence="course 12",
        valid_from=JULY,
        valid_to=AUGUST,
        written_at=now,
    )
    assert not qualified(person, subject="hot runner", on=date(2026, 6, 30))
    assert qualified(person, subject="hot runner", on=JULY)
    assert qualified(person, subject="hot runner", on=AUGUST)
    assert not qualified(person, subject="hot runner", on=date(2026, 8, 2))
    assert not qualified(person, subject="polishing", on=JULY)
    assert not qualified(factories.person(), subject="hot runner", on=JULY)


def test_a_withdrawn_qualification_no_longer_counts(now: datetime) -> None:
    person = factories.person()
    for is_withdrawn in (False, True):
        Qualification.objects.create(
            person=person,
            subject="lifting",
            evidence="card",
            valid_from=JULY,
            is_withdrawn=is_withdrawn,
            written_at=now,
        )
    assert not qualified(person, subject="lifting", on=NOVEMBER)


def test_a_qualification_does_not_end_before_it_begins(now: datetime) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        Qualification.objects.create(
            person=factories.person(),
            subject="lifting",
            evidence="card",
            valid_from=AUGUST,
            valid_to=JULY,
            written_at=now,
        )
