import json
from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from moldcare.core.recurrence import week_of

REFERENCE = json.loads((Path(__file__).parents[2] / "reference" / "calendar.json").read_text())


@pytest.mark.parametrize("row", REFERENCE["iso_weeks"], ids=lambda row: row["date"])
def test_weeks_after_iso_8601(row):
    week = week_of(date.fromisoformat(row["date"]))
    assert [week.year, week.number] == row["expected"]


@pytest.mark.parametrize(
    ("on", "label"),
    [
        (date(2024, 12, 30), "2025-W01"),
        (date(2026, 12, 31), "2026-W53"),
        (date(2027, 1, 3), "2026-W53"),
        (date(2027, 1, 4), "2027-W01"),
    ],
)
def test_weeks_around_the_new_year_carry_their_own_year(on, label):
    assert week_of(on).label == label


def test_one_step_back_from_week_one_is_week_53():
    first = week_of(date(2027, 1, 4))
    assert week_of(first.starts_on - timedelta(days=1)).label == "2026-W53"


def test_weeks_that_begin_on_sunday_name_their_rule():
    week = week_of(date(2027, 1, 3), week_starts_on=6)
    assert week.label == "2027 week 01 (Sunday weeks)"
    assert week.starts_on == date(2027, 1, 3)
    assert week_of(date(2027, 1, 2), week_starts_on=6).number == 52


@given(on=st.dates(min_value=date(1950, 1, 1), max_value=date(2100, 1, 1)))
def test_weeks_agree_with_the_standard_library(on):
    assert (week_of(on).year, week_of(on).number) == tuple(on.isocalendar())[:2]


@given(on=st.dates(min_value=date(1950, 1, 1), max_value=date(2100, 1, 1)))
def test_sunday_weeks_are_counted_from_the_one_that_holds_4_january(on):
    week = week_of(on, week_starts_on=6)
    fourth = date(week.year, 1, 4)
    first = fourth - timedelta(days=fourth.isoweekday() % 7)
    assert week.starts_on.isoweekday() == 7
    assert week.number == (week.starts_on - first).days // 7 + 1
    assert 1 <= week.number <= 53


@given(
    on=st.dates(min_value=date(1950, 1, 1), max_value=date(2100, 1, 1)),
    starts=st.sampled_from([0, 6]),
)
def test_stepping_by_weeks_leaves_none_out(on, starts):
    week = week_of(on, week_starts_on=starts)
    following = week_of(week.starts_on + timedelta(days=7), week_starts_on=starts)
    assert week.starts_on <= on < following.starts_on
    assert following.number == week.number + 1 or (
        following.number == 1 and week.number in {52, 53} and following.year == week.year + 1
    )
