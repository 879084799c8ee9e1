from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from moldcare.core.due import KnotCourse, RunningSpans, Span, instant_of, microseconds

START = datetime(2026, 11, 1, tzinfo=UTC)
HOUR = timedelta(hours=1)


@st.composite
def courses(draw, *, with_runs):
    at = sorted(draw(st.sets(st.integers(0, 10**9), min_size=1, max_size=6)))
    counts = [draw(st.integers(0, 50))]
    for _ in at[1:]:
        counts.append(counts[-1] + draw(st.integers(0, 3000)))
    runs = None
    if with_runs:
        ends = sorted(draw(st.sets(st.integers(0, 10**9), max_size=7)))
        spans = [
            Span(from_at=instant_of(a), to_at=instant_of(b))
            for a, b in zip(ends[0::2], ends[1::2], strict=False)
        ]
        if len(ends) % 2:
            spans.append(Span(from_at=instant_of(ends[-1])))
        runs = RunningSpans(spans)
    return KnotCourse(at_us=at, counts=counts, running=runs), at, counts


@given(given=st.booleans().flatmap(lambda runs: courses(with_runs=runs)), data=st.data())
def test_a_count_is_passed_at_the_first_microsecond_that_shows_it(given, data):
    course, _, counts = given
    count = data.draw(st.integers(counts[0], counts[-1]))
    passed = course.passed_at(count)
    assert course.count_at(passed) >= count
    before = course.count_at(passed - timedelta(microseconds=1))
    assert before is None or before < count


@given(
    given=st.booleans().flatmap(lambda runs: courses(with_runs=runs)),
    moments=st.lists(st.integers(0, 11 * 10**8), min_size=2, max_size=2),
)
def test_counts_never_fall_and_hit_every_reading(given, moments):
    course, at, counts = given
    early, late = sorted(moments)
    first = course.count_at(instant_of(early))
    assert first is None or first <= course.count_at(instant_of(late))
    for at_us, count in zip(at, counts, strict=True):
        assert course.count_at(instant_of(at_us)) == count


def test_counts_rise_only_while_the_mold_ran():
    runs = RunningSpans([Span(from_at=START + 2 * HOUR, to_at=START + 4 * HOUR)])
    course = KnotCourse(
        at_us=[microseconds(START), microseconds(START + 10 * HOUR)],
        counts=[100, 300],
        running=runs,
    )
    assert course.count_at(START + 2 * HOUR) == 100
    assert course.count_at(START + 3 * HOUR) == 200
    assert course.count_at(START + 5 * HOUR) == 300
    assert course.passed_at(200) == START + 3 * HOUR
    assert course.passed_at(300) == START + 4 * HOUR


def test_outside_the_records_a_count_was_never_passed():
    course = KnotCourse(at_us=[microseconds(START)], counts=[100])
    assert course.passed_at(99) is None
    assert course.passed_at(101) is None
    assert course.count_at(START - HOUR) is None
    assert (course.newest_count, course.newest_at) == (100, START)


@pytest.mark.parametrize(("hours", "expected"), [(0, 1), (1, 2), (2, 3), (3, 6), (4, 7), (99, 102)])
def test_running_hours_are_reached_inside_the_spans(hours, expected):
    spans = RunningSpans(
        [Span(from_at=START + HOUR, to_at=START + 3 * HOUR), Span(from_at=START + 5 * HOUR)]
    )
    reached = spans.reached_us(hours * 3_600_000_000)
    assert instant_of(reached) == START + expected * HOUR


def test_running_hours_of_closed_spans_are_not_reached_later():
    spans = RunningSpans([Span(from_at=START, to_at=START + HOUR)])
    assert spans.reached_us(3_600_000_001) is None
    assert RunningSpans().reached_us(1) is None
    assert RunningSpans().sum_us(microseconds(START)) == 0
