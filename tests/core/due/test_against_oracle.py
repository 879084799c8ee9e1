import ast
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from moldcare.core.due import standing, state_at
from tests.core.due.random_cases import (
    calendar_of,
    cases,
    deferral_of,
    history_of,
    terms_of,
    usage_of,
)
from tests.core.oracles import due_oracle


def standing_of(case):
    return standing(
        terms_of(case),
        history=history_of(case),
        usage=usage_of(case),
        calendar=calendar_of(case),
        deferral=deferral_of(case),
    )


def test_the_oracle_shares_nothing_with_what_it_checks():
    tree = ast.parse(Path(due_oracle.__file__).read_text())
    imported = {
        node.module if isinstance(node, ast.ImportFrom) else name.name
        for node in ast.walk(tree)
        if isinstance(node, ast.Import | ast.ImportFrom)
        for name in node.names
    }
    assert imported == {"__future__", "dataclasses", "datetime", "zoneinfo"}


@given(case=cases(with_deferral=False))
def test_each_state_begins_when_the_slow_way_says(case):
    found, slow = standing_of(case), due_oracle.answer_of(case)
    assert (found.due_soon_at, found.due_at) == (slow.soon_at, slow.due_at)
    assert (found.overdue_at, found.past_limit_at) == (slow.overdue_at, slow.past_at)
    assert found.forecast_soon_at == slow.forecast_soon_at
    assert found.forecast_due_at == slow.forecast_due_at
    assert (found.is_waiting, found.due_on) == (slow.is_waiting, slow.due_on)
    assert found.share == pytest.approx(slow.share)


@given(case=cases(), hours=st.integers(min_value=0, max_value=24 * 400))
def test_the_state_is_what_the_slow_way_says(case, hours):
    at = case.newest_at + timedelta(hours=hours)
    assert state_at(standing_of(case), at=at) == due_oracle.state(case, at)


@given(case=cases())
def test_a_state_changes_exactly_at_its_instant(case):
    found = standing_of(case)
    marks = (
        found.due_soon_at,
        found.forecast_soon_at,
        found.due_at,
        found.overdue_at,
        found.past_limit_at,
        found.unsure_at,
    )
    for mark in marks:
        if mark is not None and mark > case.newest_at:
            for at in (mark - timedelta(microseconds=1), mark):
                assert state_at(found, at=at) == due_oracle.state(case, at)
