"""From counters to a mold's life count."""

from dataclasses import replace
from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from moldcare.core.counting import (
    CounterStay,
    Course,
    KnownBy,
    Opening,
    Preference,
    course_of,
    judge_counter,
    life_points,
    life_segments,
    overlaps,
    source_differences,
    split_by_shift,
    total_at,
)
from moldcare.core.counting.fits import settled_by_second_counter
from moldcare.core.counting.pace import Running
from moldcare.core.counting.values import CounterSetup, Fitted, Removed, RunningSpan
from tests.core.counting.builders import HOUR, at, columns, pace

OWN, NEW, PRESS = 1, 2, 3


def course(*rows, running=None):
    return Course(
        at_us=[at(time) for time, _ in rows],
        totals=[total for _, total in rows],
        running=None if running is None else Running(running),
    )


def stay(counter, from_time, to_time=None):
    return CounterStay(
        counter=counter, from_us=at(from_time), to_us=None if to_time is None else at(to_time)
    )


def life_at(time, *, opening=None, courses, **sources):
    segments = life_segments(opening or Opening(at_us=at("05:00")), courses=courses, **sources)
    return total_at(segments, courses=courses, at_us=at(time))


def test_a_press_counts_while_the_mold_has_no_counter():
    judged = judge_counter(
        columns(("10:00", 88_100), ("14:00", 88_580), ("15:00", 88_698)),
        setup=CounterSetup(digits=7),
        pace=pace(20),
    )
    courses = {
        OWN: course(("05:00", 0), ("10:00", 900)),
        NEW: course(("14:00", 0), ("15:00", 118)),
        PRESS: course_of(judged),
    }
    sources = {
        "own": [stay(OWN, "05:00", "10:00"), stay(NEW, "14:00")],
        "press": [stay(PRESS, "05:00")],
    }
    segments = life_segments(Opening(at_us=at("05:00")), courses=courses, **sources)
    assert [(each.counter, each.is_press) for each in segments] == [
        (OWN, False),
        (PRESS, True),
        (NEW, False),
    ]
    assert [each.cycles_before for each in segments] == [0, 900, 1380]
    assert not any(each.is_estimated for each in segments)
    assert life_at("15:00", courses=courses, **sources).cycles == 900 + 480 + 118
    assert source_differences(**sources, courses=courses) == []


def test_life_before_the_records_counts_from_the_value_shown():
    def life(value_shown):
        judged = judge_counter(
            columns(("12:00", 12_400)),
            setup=CounterSetup(digits=7),
            events=[Fitted(after_reading=0, at_us=at("10:00"), value_shown=value_shown)],
        )
        return life_at(
            "12:00",
            opening=Opening(at_us=at("10:00"), cycles=250_000),
            courses={OWN: course_of(judged)},
            own=[stay(OWN, "10:00")],
        ).cycles

    assert life(12_340) == 250_060
    assert life(None) == 250_000


def test_what_was_read_before_the_opening_adds_nothing():
    courses = {OWN: course(("06:00", 0), ("08:00", 400), ("10:00", 700))}
    opening = Opening(at_us=at("08:00"), cycles=50_000)
    assert (
        life_at("10:00", opening=opening, courses=courses, own=[stay(OWN, "06:00")]).cycles
        == 50_300
    )
    assert life_at("07:00", opening=opening, courses=courses, own=[stay(OWN, "06:00")]) is None


def test_a_change_of_molds_is_split_at_a_reading_taken_there():
    courses = {PRESS: course(("06:00", 0), ("10:00", 700), ("14:00", 1000))}
    first = life_segments(
        Opening(at_us=at("06:00")), press=[stay(PRESS, "06:00", "10:00")], courses=courses
    )
    second = life_segments(
        Opening(at_us=at("06:00")), press=[stay(PRESS, "10:00")], courses=courses
    )
    assert total_at(first, courses=courses, at_us=at("20:00")).cycles == 700
    assert total_at(second, courses=courses, at_us=at("14:00")).cycles == 300
    assert not any(each.is_estimated for each in (*first, *second))


def test_a_change_of_molds_without_a_reading_is_shared_by_running_time():
    # Eight hours on the clock, of which the press ran two before the change and three after it.
    runs = [
        RunningSpan(from_us=at("06:00"), to_us=at("08:00")),
        RunningSpan(from_us=at("11:00"), to_us=at("14:00")),
    ]
    shared = {PRESS: course(("06:00", 0), ("14:00", 1000), running=runs)}
    clock = {PRESS: course(("06:00", 0), ("14:00", 1000))}
    shares = []
    for courses in (shared, clock):
        first = life_segments(
            Opening(at_us=at("06:00")), press=[stay(PRESS, "06:00", "10:00")], courses=courses
        )
        second = life_segments(
            Opening(at_us=at("06:00")), press=[stay(PRESS, "10:00")], courses=courses
        )
        assert first[0].is_estimated
        assert second[-1].is_estimated
        shares.append(
            [
                total_at(segments, courses=courses, at_us=at("14:00")).cycles
                for segments in (first, second)
            ]
        )
    assert shares == [[400, 600], [500, 500]]


def test_a_lead_may_decide_for_the_press_over_a_span():
    courses = {
        OWN: course(("06:00", 0), ("10:00", 100), ("14:00", 200)),
        PRESS: course(("06:00", 0), ("10:00", 700), ("14:00", 1400)),
    }
    sources = {"own": [stay(OWN, "06:00")], "press": [stay(PRESS, "06:00")]}
    decided = [Preference(from_us=at("10:00"), to_us=at("14:00"), is_press=True)]
    assert life_at("14:00", courses=courses, **sources).cycles == 200
    assert life_at("14:00", courses=courses, preferences=decided, **sources).cycles == 800
    decided.append(Preference(from_us=at("06:00"), to_us=None, is_press=False))
    assert life_at("14:00", courses=courses, preferences=decided, **sources).cycles == 200


def test_two_counters_more_than_two_percent_apart_are_reported():
    sources = {"own": [stay(OWN, "06:00")], "press": [stay(PRESS, "06:00")]}

    def differences(own_cycles, press_cycles):
        courses = {
            OWN: course(("06:00", 0), ("14:00", own_cycles)),
            PRESS: course(("06:00", 50), ("14:00", 50 + press_cycles)),
        }
        return source_differences(courses=courses, **sources)

    assert differences(1000, 1020) == []
    assert differences(900, 960) == []
    [found] = differences(1000, 1021)
    assert (found.own_cycles, found.press_cycles) == (1000, 1021)
    assert (found.own_counter, found.press_counter) == (OWN, PRESS)


def test_short_stays_are_compared_together():
    courses = {
        OWN: course(("06:00", 0), ("08:00", 600), ("10:00", 600), ("12:00", 1200)),
        PRESS: course(("06:00", 0), ("08:00", 630), ("10:00", 900), ("12:00", 1530)),
    }
    [found] = source_differences(
        own=[stay(OWN, "06:00")],
        press=[stay(PRESS, "06:00", "08:00"), stay(PRESS, "10:00", "12:00")],
        courses=courses,
    )
    assert (found.own_cycles, found.press_cycles) == (1200, 1260)


def test_a_month_with_an_exchange_is_the_sum_over_both_counters():
    exchange = at("2026-03-10 12:00")
    judged = judge_counter(
        columns(("2026-03-01 00:00", 97_000), ("2026-03-31 23:59", 2300)),
        setup=CounterSetup(digits=5),
        pace=pace(20),
        events=[
            Fitted(after_reading=0, at_us=at("2026-02-01 00:00"), value_shown=97_000),
            Removed(after_reading=1, at_us=exchange, last_value=98_700),
            Fitted(after_reading=1, at_us=exchange, value_shown=0),
        ],
    )
    own = [stay(OWN, "2026-02-01 00:00", "2026-03-10 12:00"), stay(OWN, "2026-03-10 12:00")]
    courses = {OWN: course_of(judged)}
    segments = life_segments(Opening(at_us=at("2026-02-01 00:00")), own=own, courses=courses)
    edges = [at("2026-02-01 00:00"), at("2026-03-01 00:00"), at("2026-04-01 00:00")]
    months = split_by_shift(
        edges, count_at=lambda at_us: total_at(segments, courses=courses, at_us=at_us).cycles
    )
    assert months == [0, 4000]


def test_whole_shots_per_shift_add_up():
    courses = {OWN: course(("2026-03-02 06:00", 0), ("2026-03-03 06:00", 100))}
    segments = life_segments(Opening(at_us=at("06:00")), own=[stay(OWN, "06:00")], courses=courses)
    edges = [at("06:00") + shift * 8 * HOUR for shift in range(4)]
    shifts = split_by_shift(
        edges, count_at=lambda at_us: total_at(segments, courses=courses, at_us=at_us).cycles
    )
    assert sorted(shifts) == [33, 33, 34]


def test_how_a_count_is_known_is_said():
    courses = {OWN: course(("06:00", 0), ("10:00", 401))}
    sources = {"own": [stay(OWN, "06:00", "12:00")]}
    known = {
        time: life_at(time, courses=courses, **sources)
        for time in ("06:00", "08:00", "10:00", "11:00", "13:00")
    }
    assert [each.cycles for each in known.values()] == [0, 200, 401, 401, 401]
    assert [each.known_by for each in known.values()] == [
        KnownBy.READING,
        KnownBy.INTERPOLATED,
        KnownBy.READING,
        KnownBy.AFTER_LAST,
        KnownBy.NO_COUNTER,
    ]
    assert [each.is_estimated for each in known.values()] == [False, True, False, True, False]


def test_unsure_spans_are_flagged_on_the_segments_they_touch():
    unsure = replace(
        course(("06:00", 0), ("10:00", 100), ("14:00", 200)), unsure=[(at("06:00"), at("10:00"))]
    )
    segments = life_segments(
        Opening(at_us=at("06:00")),
        press=[stay(PRESS, "06:00", "10:00"), stay(PRESS, "10:00")],
        courses={PRESS: unsure},
    )
    assert [each.is_unsure for each in segments] == [True, False]


def test_points_of_a_life_end_where_readings_end():
    courses = {
        OWN: course(("06:00", 0), ("08:00", 100)),
        PRESS: course(("07:00", 0), ("12:00", 500)),
    }

    def points(pulled):
        segments = life_segments(
            Opening(at_us=at("05:00"), cycles=1000),
            own=[stay(OWN, "06:00", "09:00")],
            press=[stay(PRESS, "10:00", pulled)],
            courses=courses,
        )
        at_us, counts = life_points(segments, courses=courses)
        assert counts[-1] == total_at(segments, courses=courses, at_us=at("20:00")).cycles
        return list(zip(at_us, counts, strict=True))

    # the mold's own counter was not read after 08:00; the press's was, at 12:00
    known = [("05:00", 1000), ("06:00", 1000), ("08:00", 1100), ("09:00", 1100), ("10:00", 1100)]
    expected = [(at(time), count) for time, count in known]
    assert points("11:00") == [*expected, (at("11:00"), 1200)]
    assert points("12:30") == [*expected, (at("12:00"), 1300)]


def test_a_second_counter_settles_an_unsure_span():
    assert settled_by_second_counter((20, 65_556), other_cycles=65_102) == 65_556
    assert settled_by_second_counter((20, 65_556), other_cycles=21) == 20
    assert settled_by_second_counter((20, 65_556), other_cycles=30_000) is None


def test_a_press_counts_for_a_mold_only_while_both_are_there():
    found = overlaps(
        [stay(PRESS, "06:00", "10:00"), stay(NEW, "10:00")],
        stays=[(at("08:00"), at("12:00")), (at("14:00"), None)],
    )
    assert found == [
        stay(PRESS, "08:00", "10:00"),
        stay(NEW, "10:00", "12:00"),
        stay(NEW, "14:00"),
    ]


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(1, 5), st.integers(0, 900)), min_size=1, max_size=8),
    st.lists(st.integers(0, 40), max_size=6),
)
def test_what_molds_share_of_a_press_adds_up_to_what_it_counted(steps, changes):
    start = at("06:00")
    at_us, totals = [start], [0]
    for hours, cycles in steps:
        at_us.append(at_us[-1] + hours * HOUR)
        totals.append(totals[-1] + cycles)
    courses = {PRESS: Course(at_us=at_us, totals=totals)}
    cuts = sorted({start, at_us[-1], *(start + min(each, 40) * HOUR for each in changes)})
    cuts = [cut for cut in cuts if cut <= at_us[-1]]
    shares = [
        total_at(
            life_segments(
                Opening(at_us=start),
                press=[CounterStay(counter=PRESS, from_us=low, to_us=high)],
                courses=courses,
            ),
            courses=courses,
            at_us=at_us[-1],
        ).cycles
        for low, high in pairwise(cuts)
    ]
    assert sum(shares) == totals[-1]
    assert all(share >= 0 for share in shares)


def test_points_of_a_life_run_through_exchanges_and_counters_without_readings():
    courses = {
        OWN: course(("06:00", 0), ("08:00", 100), ("08:00", 100), ("10:00", 250)),
        PRESS: course(("10:00", 40), ("12:00", 90)),
    }
    sources = {
        "own": [stay(OWN, "06:00", "10:00"), stay(NEW, "13:00", "14:00")],
        "press": [stay(PRESS, "10:00", "11:00"), stay(PRESS, "12:00")],
    }
    segments = life_segments(Opening(at_us=at("06:00")), courses=courses, **sources)
    at_us, counts = life_points(segments, courses=courses)
    assert at_us == [at(time) for time in ("06:00", "08:00", "10:00", "11:00", "12:00")]
    assert counts == [0, 100, 250, 275, 275]
    silent = total_at(segments, courses=courses, at_us=at("13:30"))
    assert (silent.cycles, silent.known_by) == (275, KnownBy.AFTER_LAST)


def test_counters_without_readings_are_not_compared():
    sources = {"own": [stay(OWN, "06:00")], "press": [stay(PRESS, "06:00")]}
    assert source_differences(courses={OWN: course(("06:00", 0))}, **sources) == []


def test_runs_elsewhere_leave_sharing_to_the_clock():
    runs = [RunningSpan(from_us=at("20:00"), to_us=at("21:00"))]
    found = course(("06:00", 0), ("14:00", 800), running=runs).total_at(at("10:00"))
    assert (found.cycles, found.known_by) == (400, KnownBy.INTERPOLATED)


def test_what_a_press_counted_for_another_mold_is_no_difference() -> None:
    """The press is read on Mondays only; on Wednesday this mold was set after a faster one."""
    day = 24 * 3_600_000_000
    courses = {
        1: Course(at_us=[3 * day, 5 * day, 10 * day], totals=[0, 2_000, 7_000]),
        2: Course(at_us=[0, 7 * day, 14 * day], totals=[0, 34_000, 41_000]),
    }
    differ = source_differences(
        own=[CounterStay(counter=1, from_us=3 * day)],
        press=[CounterStay(counter=2, from_us=3 * day)],
        courses=courses,
    )
    assert differ == []
