import pytest
from hypothesis import given
from hypothesis import strategies as st

from moldcare.core.due import check_covers, covered_by
from moldcare.core.errors import CoversInCircle

COVERS = {
    "Vent clean, inserts out": ["Vent wipe"],
    "Inspection, full": ["Inspection, quick", "Vent clean, inserts out"],
}
rules = st.integers(min_value=0, max_value=7)
some_covers = st.dictionaries(rules, st.lists(rules, max_size=4))


def test_covering_goes_through_rules_that_cover_others():
    assert covered_by("Inspection, full", covers=COVERS) == {
        "Inspection, quick",
        "Vent clean, inserts out",
        "Vent wipe",
    }
    assert covered_by("Vent wipe", covers=COVERS) == frozenset()


def test_a_circle_is_refused_with_the_rules_in_it():
    with pytest.raises(CoversInCircle) as refused:
        check_covers({"a": ["b"], "b": ["c"], "c": ["b"]})
    assert str(refused.value) == "A rule cannot cover itself: b covers c covers b."


def test_a_rule_that_covers_itself_is_a_circle():
    with pytest.raises(CoversInCircle):
        check_covers({"a": ["a"]})


def test_two_ways_to_one_rule_are_no_circle():
    check_covers({"a": ["b", "c"], "b": ["d"], "c": ["d"]})


def reaches(start, goal, covers):
    """Whether one rule leads to another, by as many rounds as there are rules."""
    found = set(covers.get(start, ()))
    for _ in range(8):
        found |= {rule for one in found for rule in covers.get(one, ())}
    return goal in found


@given(covers=some_covers)
def test_covered_rules_are_those_that_can_be_reached(covers):
    for start in range(8):
        expected = {rule for rule in range(8) if rule != start and reaches(start, rule, covers)}
        assert covered_by(start, covers=covers) == expected


@given(covers=some_covers)
def test_circles_are_found_exactly_where_a_rule_reaches_itself(covers):
    if any(reaches(rule, rule, covers) for rule in range(8)):
        with pytest.raises(CoversInCircle):
            check_covers(covers)
    else:
        check_covers(covers)
