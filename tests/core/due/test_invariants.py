from dataclasses import replace
from datetime import timedelta

from hypothesis import assume, given
from hypothesis import strategies as st

from moldcare.core.due import (
    WORSENING,
    RuleHistory,
    State,
    covered_by,
    standing,
    state_at,
)
from tests.core.due.random_cases import (
    calendar_of,
    cases,
    deferral_of,
    history_of,
    terms_of,
    usage_of,
)

AT_WORK = {State.DUE, State.OVERDUE, State.PAST_LIMIT}


def standing_of(case, *, history=None):
    return standing(
        terms_of(case),
        history=history or history_of(case),
        usage=usage_of(case),
        calendar=calendar_of(case),
        deferral=deferral_of(case),
    )


def rank(state):
    return WORSENING.index(state)


@given(
    case=cases(with_deferral=False),
    hours=st.lists(st.integers(min_value=0, max_value=10000), min_size=2, max_size=5),
)
def test_later_is_never_better(case, hours):
    case.unsure_at = None
    found = standing_of(case)
    assume(not found.is_waiting)
    states = [state_at(found, at=case.newest_at + timedelta(hours=h)) for h in sorted(hours)]
    assert states == sorted(states, key=rank)


@given(
    case=cases(with_deferral=False),
    more=st.integers(min_value=1, max_value=5000),
    hours=st.integers(min_value=0, max_value=2000),
)
def test_more_cycles_are_never_better(case, more, hours):
    case.unsure_at = None
    newest_at, newest = case.readings[-1]
    assume(case.done_count is None or case.done_count <= newest)
    with_more = replace(case, readings=[*case.readings[:-1], (newest_at, newest + more)])
    before, after = standing_of(case), standing_of(with_more)
    at = case.newest_at + timedelta(hours=hours)
    assume(not before.is_waiting and not after.is_waiting)
    assert rank(state_at(before, at=at)) <= rank(state_at(after, at=at))
    if before.since_count is not None:
        assert before.since_count <= after.since_count


@given(case=cases())
def test_work_starts_every_limit_again(case):
    case.is_in_press = True
    done = RuleHistory(entered_on=case.entered_on, done_at=case.newest_at)
    found = standing_of(case, history=done)
    assert state_at(found, at=case.newest_at) not in AT_WORK
    assert found.share == 0
    assert found.since_count in {0, None}
    assert found.deferred_from_at is None
    assert not found.no_record_yet


@given(case=cases(), hours=st.integers(min_value=0, max_value=10000))
def test_sums_and_shares_are_never_negative(case, hours):
    found = standing_of(case)
    assert found.share >= 0
    assert found.since_days >= 0
    assert found.since_count is None or found.since_count >= 0


@given(case=cases())
def test_a_deferral_keeps_what_was_reached(case):
    assume(case.deferral is not None)
    found = standing_of(case)
    assume(found.deferred_from_at is not None)
    case.deferral = None
    plain = standing_of(case)
    assert found.undeferred.due_at == plain.due_at
    assert found.undeferred.past_limit_at == plain.past_limit_at
    assert (found.due_at, found.overdue_at) == (None, None)


@given(
    rules=st.lists(cases(with_deferral=False), min_size=3, max_size=4),
    arrows=st.sets(st.tuples(st.integers(0, 3), st.integers(0, 3))),
)
def test_a_signed_covering_rule_leaves_no_ticked_rule_due(rules, arrows):
    # Arrows point upward only, so that no rule covers itself.
    covers = {low: [high for one, high in arrows if one == low and high > low] for low in range(4)}
    signed_at = max(case.newest_at for case in rules)
    ticked = {0, *covered_by(0, covers=covers)}
    for index, case in enumerate(rules):
        if index in ticked:
            done = RuleHistory(entered_on=case.entered_on, done_at=signed_at)
            found = standing_of(case, history=done)
            assert state_at(found, at=signed_at) not in AT_WORK
