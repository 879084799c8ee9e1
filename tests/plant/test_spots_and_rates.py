"""Spots, rates and qualifications: which row counts on a date."""

from datetime import date, datetime

import pytest
from django.db import IntegrityError, transaction

from moldcare.plant.models import Qualification
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


def test_an_old_month_keeps_the_rate_that_it_had() -> None:
    for valid_from, amount in ((JULY, "80.00"), (NOVEMBER, "95.00")):
        factories.rate(kind="press", valid_from=valid_from, amount=amount)
    of_august, of_november = rate_on(AUGUST, kind="press"), rate_on(NOVEMBER, kind="press")
    assert of_august is not None
    assert of_november is not None
    assert (str(of_august.amount), str(of_november.amount)) == ("80.00", "95.00")
    assert rate_on(date(2026, 6, 30), kind="press") is None
    assert rate_on(AUGUST, kind="repair") is None


def test_a_press_of_its_own_rate_goes_before_the_general_one() -> None:
    press, other = factories.spot(), factories.spot()
    factories.rate(kind="press", valid_from=AUGUST, amount="80")
    own = factories.rate(kind="press", spot=press, valid_from=JULY, amount="120")
    assert rate_on(NOVEMBER, kind="press", spot=press) == own
    general = rate_on(NOVEMBER, kind="press", spot=other)
    assert general is not None
    assert general.spot is None


def test_of_two_rates_from_one_date_the_later_word_counts() -> None:
    press = factories.spot()
    for amount in ("40", "41"):
        factories.rate(kind="press", valid_from=JULY, amount=amount)
        factories.rate(kind="press", valid_from=JULY, amount=f"1{amount}", spot=press)
    general, own = rate_on(JULY, kind="press"), rate_on(JULY, kind="press", spot=press)
    assert general is not None
    assert own is not None
    assert (general.amount, own.amount) == (41, 141)


@pytest.mark.parametrize("wrong", [{"amount": "-1"}, {"currency": ""}])
def test_a_rate_is_never_negative_and_has_a_currency(wrong: dict[str, str]) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        factories.rate(kind="crew", valid_from=JULY, **wrong)


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
