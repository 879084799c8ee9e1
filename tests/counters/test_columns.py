"""Readings as columns: the database's own sums of microseconds, on either engine."""

from datetime import UTC, datetime, timedelta

import pytest

from moldcare.counters.columns import columns_after, columns_of
from moldcare.counters.models import Counter, Reading
from tests import factories

# POSIX time of 2000-01-01T00:00:00Z (IEEE Std 1003.1, seconds since the Epoch)
NEW_YEAR = datetime(2000, 1, 1, tzinfo=UTC)
NEW_YEAR_S = 946_684_800


@pytest.fixture
def counter(db: None) -> Counter:
    return factories.CounterFactory()


def read(counter: Counter, *instants: datetime) -> list[Reading]:
    lead = factories.person(role="lead")
    rows = [(at, place) for place, at in enumerate(instants)]
    return factories.readings(counter, rows=rows, author=lead)


@pytest.mark.parametrize("fraction_us", [0, 1, 999_999, 500_000, 120_000, 7_000])
def test_an_instant_is_its_posix_time_to_the_microsecond(
    counter: Counter, fraction_us: int
) -> None:
    read(counter, NEW_YEAR + timedelta(microseconds=fraction_us))
    columns = columns_of(counter.pk)
    assert columns.at_us == [NEW_YEAR_S * 1_000_000 + fraction_us]
    assert columns.written_us == columns.at_us


def test_columns_are_in_the_order_of_arrival(counter: Counter) -> None:
    rows = read(counter, NEW_YEAR + timedelta(days=1), NEW_YEAR, NEW_YEAR + timedelta(hours=1))
    columns = columns_of(counter.pk)
    assert columns.ids == [row.pk for row in rows]
    assert columns.values == [0, 1, 2]
    assert columns.at_us == [(NEW_YEAR_S + s) * 1_000_000 for s in (86_400, 0, 3_600)]
    assert columns.sources == ["typed"] * 3


def test_a_counter_without_readings_has_empty_columns(counter: Counter) -> None:
    assert columns_of(counter.pk).ids == []
    assert columns_after({counter.pk: 0})[counter.pk].ids == []


def test_only_what_arrived_after_each_counters_number_is_read(counter: Counter) -> None:
    other = factories.CounterFactory()
    first, second, _third = read(counter, *(NEW_YEAR + timedelta(hours=n) for n in range(3)))
    (strange,) = factories.readings(other, rows=[(NEW_YEAR, 5)], author=second.person)
    found = columns_after({counter.pk: second.pk, other.pk: first.pk})
    assert found[counter.pk].values == [2]
    assert found[other.pk].ids == [strange.pk]
    assert columns_after({}) == {}
