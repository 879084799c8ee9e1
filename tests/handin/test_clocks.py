"""When work was done, by a tablet whose clock may be off."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from moldcare.handin.clocks import ClockChanged, TabletTime, corrected

NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)
TOLERANCE = timedelta(minutes=5)
HOURS = 3_600_000
offsets = st.integers(-400 * 24 * HOURS, 400 * 24 * HOURS)


@given(offset_ms=offsets, ago_s=st.integers(0, 10 * 24 * 3600))
def test_a_clock_that_is_off_by_the_same_all_the_time_changes_nothing(
    offset_ms: int, ago_s: int
) -> None:
    done_at = NOW - timedelta(seconds=ago_s)
    shown = done_at - timedelta(milliseconds=offset_ms)
    time = TabletTime(worked_at=shown, offset_ms=offset_ms, offset_then_ms=offset_ms)
    assert corrected(time, now=NOW, tolerance=TOLERANCE) == done_at


@given(now_ms=offsets, then_ms=st.none() | offsets, ago_s=st.integers(-86_400, 864_000))
def test_nothing_is_ever_done_in_the_future(now_ms: int, then_ms: int | None, ago_s: int) -> None:
    time = TabletTime(
        worked_at=NOW - timedelta(seconds=ago_s), offset_ms=now_ms, offset_then_ms=then_ms
    )
    try:
        found: tuple[datetime, ...] = (corrected(time, now=NOW, tolerance=TOLERANCE),)
    except ClockChanged as error:
        found = error.candidates
    assert all(each <= NOW + TOLERANCE for each in found)


def test_a_clock_that_was_set_in_between_asks_for_the_time_by_both() -> None:
    time = TabletTime(worked_at=NOW + timedelta(hours=4), offset_ms=0, offset_then_ms=-5 * HOURS)
    with pytest.raises(ClockChanged) as asked:
        corrected(time, now=NOW, tolerance=TOLERANCE)
    assert asked.value.candidates == (NOW - timedelta(hours=1),)


def test_what_a_person_says_counts() -> None:
    said = NOW - timedelta(hours=2)
    time = TabletTime(worked_at=NOW, offset_ms=0, offset_then_ms=-5 * HOURS, confirmed_at=said)
    assert corrected(time, now=NOW, tolerance=TOLERANCE) == said


def test_a_clock_that_drifted_by_less_than_the_plant_allows_is_right() -> None:
    time = TabletTime(worked_at=NOW - timedelta(hours=1), offset_ms=1_000, offset_then_ms=200_000)
    assert corrected(time, now=NOW, tolerance=TOLERANCE) == NOW - timedelta(minutes=59, seconds=59)
