from decimal import Decimal

import pytest

from moldcare.acts.doing import Doing
from moldcare.acts.errors import NotAllowed
from moldcare.acts.starting_sets import load_starting_sets
from moldcare.care.families import FAMILIES
from moldcare.care.models import Family, Reach, RuleSet, SetRule, StepKind, WhereDone
from moldcare.care.starting_rules import STARTING_REASON, STARTING_SETS, starting_factors
from moldcare.core.due.covering import check_covers
from moldcare.logbook.models import Entry
from moldcare.paper.cautions import FAMILIES as CAUTIONED
from moldcare.plant.models import Person

pytestmark = pytest.mark.django_db

RULES = [rule for each in STARTING_SETS for rule in each.rules]


def test_thirteen_families_are_loaded_with_signs_and_grades_in_their_own_words(
    doing: Doing,
) -> None:
    load_starting_sets(doing)

    families = list(Family.objects.all())
    assert [row.key for row in families] == list(CAUTIONED)
    for row in families:
        words = [row.grade_clean, row.grade_light, row.grade_heavy, row.grade_failed]
        assert row.signs
        assert len(set(words)) == 4
        assert all(words)
    assert [row.key for row in families if row.is_inspection] == ["inspection"]
    assert len({grade for each in FAMILIES for grade in each.grades[:3]}) > 30


def test_every_starting_rule_says_that_it_is_to_be_checked(doing: Doing) -> None:
    loaded = load_starting_sets(doing)

    assert loaded.rules == SetRule.objects.count() == len(RULES)
    for rule in SetRule.objects.all():
        rule.full_clean(exclude=["rule_set", "family", "steps", "covers"])
        assert rule.reason.startswith(STARTING_REASON)
        assert rule.steps
    assert "to be checked by the plant" in Entry.objects.get().sentence


def test_starting_values_are_those_of_the_trade(doing: Doing) -> None:
    # from memory of the trade: reach, counts, days, minutes and what it counts on
    load_starting_sets(doing)
    kept = {
        rule.name: (rule.reach, rule.count_base, rule.period_n, rule.minutes, rule.count_basis)
        for rule in SetRule.objects.all()
    }

    assert kept["Wipe the vents"] == ("faces", 10_000, 1, 10, "shots")
    assert kept["Clean the vents, inserts out"] == ("plates", 100_000, 180, 150, "shots")
    assert kept["Grease slides and lifters"] == ("faces", 20_000, 1, 10, "cycles")
    assert kept["Change the springs, whole set"] == ("parts", 500_000, 1095, 60, "cycles")
    assert kept["Take tips and valve pins out"] == ("parts", 500_000, 730, 480, "shots")


def test_covers_name_rules_of_their_set_and_never_go_in_a_circle() -> None:
    for each in STARTING_SETS:
        names = {rule.name for rule in each.rules}
        covers = {rule.name: rule.covers for rule in each.rules}
        assert {name for covered in covers.values() for name in covered} <= names
        check_covers(covers)


def test_no_cleaning_rule_covers_what_stands_alone() -> None:
    # common practice: descaling, springs, electrical checks and polish are done for themselves
    alone = {
        "Descale the circuits",
        "Change the springs, whole set",
        "Check the hot runner electrically",
        "Look at the finish",
    }
    assert alone <= {rule.name for rule in RULES}
    assert not alone & {name for rule in RULES for name in rule.covers}


def test_every_step_asks_for_something_that_a_sheet_can_ask_for() -> None:
    for rule in RULES:
        assert rule.reach in Reach.values
        assert rule.where_done in WhereDone.values
        for step in rule.steps:
            assert step.kind in StepKind.values
            assert bool(step.choices) == (step.kind == "choice")
            assert bool(step.unit) == (step.kind == "value")
            assert len(step.text) <= 400


def test_resin_and_filler_shorten_what_they_wear() -> None:
    # from memory of the trade: factors multiply, and act on vents and finish, or on steel
    def factors(family: str, basis: str) -> tuple[Decimal, Decimal]:
        return starting_factors(
            family=family, count_basis=basis, resin_group="corrosive", filler="glass"
        )

    assert factors("vents", "shots") == (Decimal("0.5"), Decimal("1.0"))
    assert factors("hot_runner", "shots") == (Decimal("1.0"), Decimal("0.6"))
    assert factors("leak_test", "cycles") == (Decimal("1.0"), Decimal("1.0"))


def test_to_load_again_changes_nothing_that_is_there(doing: Doing) -> None:
    load_starting_sets(doing)
    Family.objects.filter(key="vents").update(name="venting")
    SetRule.objects.filter(name="Wipe the vents").update(count_base=7_000)
    SetRule.objects.filter(name="Check the counter").delete()
    RuleSet.objects.filter(name="hot runner").update(note="ours")

    again = load_starting_sets(doing)

    assert (again.families, again.rule_sets, again.rules) == (0, 0, 0)
    assert Family.objects.get(key="vents").name == "venting"
    assert SetRule.objects.get(name="Wipe the vents").count_base == 7_000
    assert not SetRule.objects.filter(name="Check the counter").exists()
    assert Entry.objects.count() == 1


def test_a_technician_loads_nothing(technician: Person, doing: Doing) -> None:
    with pytest.raises(NotAllowed):
        load_starting_sets(Doing(person=technician, now=doing.now))
