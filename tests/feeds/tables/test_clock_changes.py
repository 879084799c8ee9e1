from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from moldcare.feeds.tables import answers_from_command
from moldcare.feeds.tables.clock import Never, Twice, day_of, instant_of
from tests.feeds.tables.reading import BERLIN, plan_of, rows_of, verdicts_of

# In Berlin the clock goes back from 03:00 to 02:00 on 25 October 2026 at 01:00 UTC, and forward
# from 02:00 to 03:00 on 29 March 2026 at 01:00 UTC (directive 2000/84/EC: last Sundays).


def file_with(*rows: tuple[str, str, int]) -> str:
    return "mold;at;reading\n" + "".join(f"{mold};{at};{value}\n" for mold, at, value in rows)


def instants_of(content: str, **options: object) -> list[str | None]:
    return [row.at.strftime("%H:%M") if row.at else None for row in rows_of(content, **options)]


def test_a_time_that_comes_twice_is_asked_with_both_instants() -> None:
    content = file_with(("0001", "2026-10-25 02:30", 5))
    (question,) = plan_of(content).open_questions
    assert question.key == "clock_twice"
    assert [choice.text for choice in question.choices] == [
        "2026-10-25 02:30 CEST",
        "2026-10-25 02:30 CET",
    ]
    (row,) = rows_of(content)
    assert row.problem is not None
    assert row.problem.verdict == "needs_answer"
    assert [proposal.value for proposal in row.problem.proposals] == ["first", "second"]


def test_a_time_that_never_was_is_asked_with_both_instants_around_the_gap() -> None:
    content = file_with(("0001", "2026-03-29 02:30", 5))
    (question,) = plan_of(content).open_questions
    assert question.key == "clock_never"
    assert [choice.text for choice in question.choices] == [
        "2026-03-29 03:30 CEST",
        "2026-03-29 01:30 CET",
    ]
    assert verdicts_of(content) == ["needs_answer"]


@pytest.mark.parametrize(
    ("answers", "expected"),
    [
        (answers_from_command(dates="summer, moved-on"), ["00:30", "01:30"]),
        (answers_from_command(dates="winter, moved-back"), ["01:30", "00:30"]),
        ({"clock:2": "second", "clock:3": "moved_on"}, ["01:30", "01:30"]),
    ],
)
def test_the_answer_is_followed(answers: dict[str, str], expected: list[str]) -> None:
    content = file_with(("0001", "2026-10-25 02:30", 5), ("0002", "2026-03-29 02:30", 5))
    assert instants_of(content, answers=answers) == expected


def test_order_and_values_settle_what_they_can() -> None:
    content = file_with(
        ("0001", "2026-10-25 01:50", 100),
        ("0001", "2026-10-25 02:40", 200),
        ("0001", "2026-10-25 02:20", 280),
        ("0001", "2026-10-25 03:10", 380),
    )
    assert plan_of(content).open_questions == ()
    assert instants_of(content) == ["23:50", "00:40", "01:20", "02:10"]


def test_the_same_time_twice_with_a_higher_value_is_both_instants() -> None:
    content = file_with(("0001", "2026-10-25 02:30", 5), ("0001", "2026-10-25 02:30", 60))
    assert instants_of(content) == ["00:30", "01:30"]


def test_a_file_that_runs_backward_settles_too() -> None:
    content = file_with(
        ("0001", "2026-10-25 03:10", 380),
        ("0001", "2026-10-25 02:20", 280),
        ("0001", "2026-10-25 02:40", 200),
        ("0001", "2026-10-25 01:50", 100),
    )
    assert instants_of(content) == ["02:10", "01:20", "00:40", "23:50"]


def test_the_rows_of_other_molds_settle_nothing() -> None:
    content = file_with(
        ("0001", "2026-10-25 02:40", 200),
        ("0002", "2026-10-25 02:20", 280),
    )
    assert verdicts_of(content) == ["needs_answer", "needs_answer"]


def test_one_reading_between_others_is_not_settled() -> None:
    content = file_with(
        ("0001", "2026-10-25 01:00", 100),
        ("0001", "2026-10-25 02:30", 200),
        ("0001", "2026-10-25 04:00", 300),
    )
    assert verdicts_of(content) == [None, "needs_answer", None]


def test_an_order_that_no_instants_obey_settles_nothing() -> None:
    content = file_with(
        ("0001", "2026-10-25 04:00", 100),
        ("0001", "2026-10-25 02:40", 200),
        ("0001", "2026-10-25 01:00", 300),
    )
    assert verdicts_of(content) == [None, "needs_answer", None]


def test_one_instant_for_all_rows_may_come_twice_too() -> None:
    content = "mold;reading\n0001;5\n"
    answers = answers_from_command(dates="2026-10-25T02:30")
    assert verdicts_of(content, answers=answers) == ["needs_answer"]
    assert instants_of(content, answers={**answers, "clock_twice": "second"}) == ["01:30"]
    instant = answers_from_command(dates="2026-10-25T02:30+01:00")
    assert instants_of(content, answers=instant) == ["01:30"]


def test_values_that_rise_and_fall_settle_nothing() -> None:
    content = file_with(
        ("0001", "2026-10-25 02:40", 200),
        ("0001", "2026-10-25 02:20", 280),
        ("0001", "2026-10-25 02:50", 240),
    )
    assert verdicts_of(content) == ["needs_answer"] * 3


def test_times_around_the_change_are_real_time_apart() -> None:
    content = file_with(
        ("0001", "2026-10-24 22:00", 100),
        ("0001", "2026-10-25 06:00", 900),
        ("0002", "2026-03-28 22:00", 100),
        ("0002", "2026-03-29 06:00", 900),
    )
    ats = [row.at for row in rows_of(content)]
    assert all(ats)
    first, second, third, fourth = (at for at in ats if at)
    assert second - first == timedelta(hours=9)
    assert fourth - third == timedelta(hours=7)


ZONES = ["Europe/Berlin", "America/Chicago", "Australia/Lord_Howe", "Asia/Kolkata", "UTC"]


@given(
    wall=st.datetimes(datetime.fromisoformat("2000-01-01"), datetime.fromisoformat("2037-12-31")),
    zone=st.sampled_from(ZONES).map(ZoneInfo),
)
def test_an_instant_reads_back_as_its_wall_time(wall: datetime, zone: ZoneInfo) -> None:
    found = instant_of(wall, zone=zone)
    if isinstance(found, datetime):
        assert found.astimezone(zone).replace(tzinfo=None) == wall
    elif isinstance(found, Twice):
        assert found.first < found.second
        for instant in (found.first, found.second):
            assert instant.astimezone(zone).replace(tzinfo=None, fold=0) == wall
    else:
        assert isinstance(found, Never)
        assert found.moved_on.astimezone(zone).replace(tzinfo=None) > wall
        assert found.moved_back.astimezone(zone).replace(tzinfo=None) < wall


@given(
    on=st.dates(date(2000, 1, 1), date(2037, 12, 31)),
    seconds=st.integers(0, 86_400),
    zone=st.sampled_from(ZONES).map(ZoneInfo),
)
def test_a_plain_day_counts_from_its_midnight(on: date, seconds: int, zone: ZoneInfo) -> None:
    day = day_of(on, zone=zone)
    if day.is_plain:
        wall = datetime.combine(day.date, datetime.min.time()) + timedelta(seconds=seconds)
        assert day.midnight + timedelta(seconds=seconds) == instant_of(wall, zone=zone)


def test_berlins_two_odd_days_of_2026_are_not_plain() -> None:
    odd = [
        on
        for number in range(365)
        if not day_of(on := date(2026, 1, 1) + timedelta(number), zone=BERLIN).is_plain
    ]
    assert [on.isoformat() for on in odd] == ["2026-03-29", "2026-10-25"]
    assert day_of(odd[0], zone=BERLIN).midnight == datetime(2026, 3, 28, 23, tzinfo=UTC)
