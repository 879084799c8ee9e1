"""The plant's rows as a calendar of shifts, and what is kept of it between questions."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from moldcare.plant.models import Plant, ShiftException, ShiftSlot
from moldcare.plant.queries import pattern_on, the_calendar, the_plant, the_plant_with_shifts
from tests import factories

pytestmark = pytest.mark.django_db

WEDNESDAY = date(2026, 11, 25)


def test_an_empty_database_has_a_plant_with_the_defaults_and_no_shift(now: datetime) -> None:
    plant = the_plant()
    assert plant.clock_error_s == 300
    assert the_calendar(plant).shift_at(now) is None
    assert not Plant.objects.exists()


def test_there_is_one_plant_only() -> None:
    factories.plant()
    with pytest.raises(IntegrityError), transaction.atomic():
        Plant.objects.create(id=2, name="another")


def test_the_shift_is_told_in_the_plant_s_zone(now: datetime) -> None:
    factories.plant(zone="Europe/Berlin")
    factories.three_shifts()
    shift = the_calendar(the_plant()).shift_at(now)
    assert shift is not None
    assert (shift.name, shift.belongs_to) == ("early", WEDNESDAY)
    # winter time is an hour ahead of UTC
    assert shift.starts_at == datetime(2026, 11, 25, 5, tzinfo=UTC)


def test_a_night_belongs_to_the_day_it_begins_on() -> None:
    factories.plant()
    factories.three_shifts()
    shift = the_calendar(the_plant()).shift_at(datetime(2026, 11, 26, 2, tzinfo=UTC))
    assert shift is not None
    assert (shift.name, shift.belongs_to) == ("night", WEDNESDAY)


def test_a_new_exception_is_seen_at_once(now: datetime) -> None:
    factories.plant()
    factories.three_shifts()
    assert the_calendar(the_plant()).shift_at(now) is not None
    ShiftException.objects.create(
        on=WEDNESDAY, is_worked=False, reason="stocktaking", written_at=now
    )
    assert the_calendar(the_plant()).shift_at(now) is None
    ShiftException.objects.create(
        on=WEDNESDAY, shift_name="early", is_worked=True, reason="rush order", written_at=now
    )
    # the newest row counts
    assert the_calendar(the_plant()).shift_at(now) is not None


def test_a_new_pattern_counts_from_its_date_on(now: datetime) -> None:
    factories.plant()
    old = factories.three_shifts(valid_from=date(2026, 1, 1))
    new = factories.three_shifts(valid_from=date(2026, 12, 1))
    assert pattern_on(date(2025, 12, 31)) is None
    assert pattern_on(date(2026, 11, 30)) == old
    assert pattern_on(date(2026, 12, 1)) == new


def test_asking_again_costs_one_small_query() -> None:
    factories.plant()
    factories.three_shifts()
    first = the_calendar(the_plant())
    with CaptureQueriesContext(connection) as queries:
        again = the_calendar(the_plant_with_shifts())
    assert len(queries) == 1
    assert again is first


def test_a_shift_is_there_once_and_on_a_day_of_the_week() -> None:
    pattern = factories.three_shifts()
    slot = pattern.slots.first()
    for weekday in (slot.weekday, 7):
        with pytest.raises(IntegrityError), transaction.atomic():
            ShiftSlot.objects.create(
                pattern=pattern,
                weekday=weekday,
                name="again",
                starts=slot.starts,
                ends=slot.ends,
            )


def test_a_plant_far_from_utc_has_its_own_days(now: datetime) -> None:
    factories.plant(zone="Pacific/Auckland")
    factories.three_shifts()
    calendar = the_calendar(the_plant())
    # 06:12 in London is 19:12 of the same Wednesday in Auckland, in summer time: the late shift
    shift = calendar.shift_at(now)
    assert shift is not None
    assert (shift.name, shift.belongs_to) == ("late", WEDNESDAY)
    assert calendar.date_of(now + timedelta(hours=6)) == date(2026, 11, 26)
