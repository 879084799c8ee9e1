import json
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from dateutil import tz
from hypothesis import given
from hypothesis import strategies as st

from moldcare.core.shifts import (
    Never,
    ShiftCalendar,
    Twice,
    Unique,
    local_instant,
    resolve_local,
)

BERLIN = ZoneInfo("Europe/Berlin")
NEW_YORK = ZoneInfo("America/New_York")


def wall(*parts):
    return datetime(*parts)  # noqa: DTZ001 - a wall time has no zone of its own


REFERENCE = json.loads((Path(__file__).parents[2] / "reference" / "calendar.json").read_text())


def test_a_typed_time_that_the_clocks_jumped_over_never_was():
    found = resolve_local(wall(2026, 3, 29, 2, 30), zone=BERLIN)
    assert found == Never(after_gap_at=datetime(2026, 3, 29, 1, tzinfo=UTC))


def test_a_typed_time_when_the_clocks_went_back_was_twice():
    found = resolve_local(wall(2026, 10, 25, 2, 30), zone=BERLIN)
    assert found == Twice(
        first_at=datetime(2026, 10, 25, 0, 30, tzinfo=UTC),
        second_at=datetime(2026, 10, 25, 1, 30, tzinfo=UTC),
    )


@pytest.mark.parametrize("hour", [1, 3])
def test_the_hours_around_a_clock_change_are_unique(hour):
    for on in (date(2026, 3, 29), date(2026, 10, 25)):
        naive = wall(on.year, on.month, on.day, hour, 30)
        assert isinstance(resolve_local(naive, zone=BERLIN), Unique)


def test_a_computed_time_takes_the_first_of_two_and_the_first_after_a_gap():
    assert local_instant(wall(2026, 10, 25, 2, 30), zone=BERLIN) == datetime(
        2026, 10, 25, 0, 30, tzinfo=UTC
    )
    assert local_instant(wall(2026, 3, 29, 2, 59, 59), zone=BERLIN) == datetime(
        2026, 3, 29, 1, tzinfo=UTC
    )


def test_a_day_without_midnight_begins_with_its_first_instant():
    # Clocks in Sao Paulo went from 00:00 to 01:00 on 4 November 2018 (IANA time zone data).
    zone = ZoneInfo("America/Sao_Paulo")
    began = ShiftCalendar(zone=zone).midnight(date(2018, 11, 4))
    assert began == datetime(2018, 11, 4, 3, tzinfo=UTC)
    assert began.astimezone(zone).hour == 1


def test_a_date_that_a_zone_left_out_ends_in_the_next_one():
    # Samoa had no 30 December 2011 (IANA time zone data).
    zone = ZoneInfo("Pacific/Apia")
    found = resolve_local(wall(2011, 12, 30, 12), zone=zone)
    assert found == Never(after_gap_at=datetime(2011, 12, 30, 10, tzinfo=UTC))


def test_wall_time_stays_and_the_offset_changes():
    # RFC 5545, section 3.8.5.3: the first Fridays at 09:00 with their EDT and EST labels.
    row = REFERENCE["wall_time_offsets_h"]
    offsets = []
    for text in row["dates"]:
        wall = datetime.fromisoformat(f"{text}T09:00")
        instant = local_instant(wall, zone=NEW_YORK)
        offsets.append((wall - instant.replace(tzinfo=None)) // timedelta(hours=1))
    assert offsets == row["expected"]


@pytest.mark.parametrize(
    "row", REFERENCE["day_hours"], ids=lambda row: f"{row['zone']} {row['date']}"
)
def test_local_days_have_their_real_length(row):
    calendar = ShiftCalendar(zone=ZoneInfo(row["zone"]))
    on = date.fromisoformat(row["date"])
    length = calendar.midnight(on + timedelta(days=1)) - calendar.midnight(on)
    assert length == timedelta(hours=row["expected"])


@given(
    naive=st.datetimes(min_value=wall(1975, 1, 1), max_value=wall(2037, 1, 1)),
    name=st.sampled_from(
        ["Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "Asia/Tokyo"]
    ),
)
def test_wall_times_agree_with_a_second_library(naive, name):
    found = resolve_local(naive, zone=ZoneInfo(name))
    other = tz.gettz(name)
    if not tz.datetime_exists(naive, tz=other):
        assert isinstance(found, Never)
    elif tz.datetime_ambiguous(naive, tz=other):
        assert isinstance(found, Twice)
    else:
        assert found == Unique(at=naive.replace(tzinfo=other).astimezone(UTC))


@given(naive=st.datetimes(min_value=wall(2026, 3, 29), max_value=wall(2026, 3, 29, 6)))
def test_computed_instants_never_run_backward(naive):
    later = local_instant(naive + timedelta(minutes=1), zone=BERLIN)
    assert local_instant(naive, zone=BERLIN) <= later
