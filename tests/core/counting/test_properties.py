"""What holds for every history of a counter."""

from hypothesis import given, settings
from hypothesis import strategies as st

from moldcare.core.counting import extend, judge_counter
from moldcare.core.counting.values import (
    CounterSetup,
    DecisionKind,
    PaceStep,
    Readings,
    State,
)
from tests.core.counting.builders import HOUR, MINUTE, SECOND, decision, histories

SHORTEST = 20 * SECOND


@st.composite
def shuffled_true_readings(draw):
    """Readings of a counter that only counts, arriving in any order, with its true total."""
    wrap = draw(st.sampled_from([None, 10_000]))
    instant, total = 1000 * HOUR, draw(st.integers(0, 9_999))
    start, rows = total, []
    for place in range(draw(st.integers(1, 9))):
        elapsed = draw(st.integers(1, 120)) * MINUTE
        instant += elapsed if place else 0
        total += draw(st.integers(0, elapsed * SECOND // (SHORTEST * SECOND) + 2)) if place else 0
        rows.append((instant, total if wrap is None else total % wrap))
    return wrap, draw(st.permutations(rows)), total - start


def of_rows(rows):
    return Readings(
        ids=list(range(1, len(rows) + 1)),
        at_us=[row[0] for row in rows],
        values=[row[1] for row in rows],
    )


def pace_20_s():
    return (PaceStep(from_us=0, shortest_us=SHORTEST),)


def newest_total(judged):
    return judged.point_totals[-1] if judged.point_totals else 0


@settings(max_examples=60, deadline=None)
@given(shuffled_true_readings())
def test_order_never_matters_for_readings_that_all_fit_one_another(case):
    wrap, rows, cycles = case
    in_time = judge_counter(
        of_rows(sorted(rows)), setup=CounterSetup(rollover=wrap), pace=pace_20_s()
    )
    assert set(in_time.states) == {State.ACCEPTED}
    assert newest_total(in_time) == cycles
    shuffled = judge_counter(of_rows(rows), setup=CounterSetup(rollover=wrap), pace=pace_20_s())
    assert set(shuffled.states) == {State.ACCEPTED}
    assert shuffled.point_totals == in_time.point_totals


@settings(max_examples=60, deadline=None)
@given(shuffled_true_readings(), st.data())
def test_order_never_matters_once_people_decided_the_contradictions(case, data):
    wrap, rows, cycles = case
    in_time = judge_counter(
        of_rows(sorted(rows)), setup=CounterSetup(rollover=wrap), pace=pace_20_s()
    )
    assert set(in_time.states) == {State.ACCEPTED}
    assert newest_total(in_time) == cycles
    wrong = data.draw(
        st.lists(
            st.tuples(
                st.sampled_from([row[0] for row in rows]).map(lambda at_us: at_us + SECOND),
                st.integers(0, 9_999),
            ),
            min_size=1,
            max_size=3,
            unique=True,
        )
    )
    mixed = data.draw(st.permutations([*rows, *wrong]))
    events = [
        decision(number, DecisionKind.SET_ASIDE, after=len(mixed))
        for number, row in enumerate(mixed, start=1)
        if row in wrong
    ]
    judged = judge_counter(
        of_rows(mixed), setup=CounterSetup(rollover=wrap), pace=pace_20_s(), events=events
    )
    assert not judged.held
    assert judged.point_at_us == in_time.point_at_us
    assert judged.point_totals == in_time.point_totals


@settings(max_examples=60, deadline=None)
@given(histories(has_events=False))
def test_a_total_never_falls_by_new_readings(history):
    readings, terms = history
    before = 0
    for size in range(1, len(readings.ids) + 1):
        part = Readings(
            ids=readings.ids[:size],
            at_us=readings.at_us[:size],
            values=readings.values[:size],
            written_us=readings.written_us[:size],
        )
        judged = judge_counter(part, **terms)
        assert judged.point_totals == sorted(judged.point_totals)
        assert newest_total(judged) >= before
        before = newest_total(judged)


@settings(max_examples=60, deadline=None)
@given(histories(), st.integers(1, 500), st.integers(1, 100))
def test_more_cycles_on_a_new_reading_never_lower_the_total(history, minutes, more):
    readings, terms = history
    judged = judge_counter(readings, **{**terms, "setup": CounterSetup()})
    if judged.resume is None:
        return
    instant = max(judged.resume.newest_at_us, *readings.at_us) + minutes * MINUTE
    totals = []
    for value in (judged.resume.newest_value, judged.resume.newest_value + more):
        longer = judge_counter(
            Readings(
                ids=[*readings.ids, readings.ids[-1] + 1],
                at_us=[*readings.at_us, instant],
                values=[*readings.values, value],
                written_us=[*readings.written_us, instant],
            ),
            **{**terms, "setup": CounterSetup()},
        )
        if longer.states[-1] != State.ACCEPTED:
            return
        totals.append(newest_total(longer))
    assert newest_total(judged) <= totals[0] <= totals[1]


@settings(max_examples=60, deadline=None)
@given(histories(has_events=False), st.data())
def test_going_on_from_the_newest_point_equals_the_whole_replay(history, data):
    readings, terms = history
    whole = judge_counter(readings, **terms)
    verdicts = {}
    cut = data.draw(st.integers(0, len(readings.ids)))
    judged = judge_counter(_part(readings, 0, cut), **terms)
    for place in range(cut, len(readings.ids)):
        _keep(verdicts, judged)
        longer = judged.resume and extend(
            judged.resume,
            readings=_part(readings, place, place + 1),
            setup=terms["setup"],
            pace=terms["pace"],
            running=terms["running"],
        )
        judged = longer or judge_counter(_part(readings, 0, place + 1), **terms)
    _keep(verdicts, judged)
    assert newest_total(judged) == newest_total(whole)
    assert judged.resume == whole.resume
    for place, number in enumerate(whole.ids):
        assert verdicts[number] == (
            whole.states[place],
            whole.notes[place],
            whole.reasons[place],
            whole.cycles[place],
            whole.totals[place],
        )


def _part(readings, start, stop):
    return Readings(
        ids=readings.ids[start:stop],
        at_us=readings.at_us[start:stop],
        values=readings.values[start:stop],
        written_us=readings.written_us[start:stop],
    )


def _keep(verdicts, judged):
    for place, number in enumerate(judged.ids):
        verdicts[number] = (
            judged.states[place],
            judged.notes[place],
            judged.reasons[place],
            judged.cycles[place],
            judged.totals[place],
        )
