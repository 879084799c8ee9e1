from dataclasses import dataclass
from decimal import Decimal

import pytest

from moldcare.acts.doing import Doing
from moldcare.acts.errors import NotAllowed
from moldcare.acts.starting_sets import load_starting_sets
from moldcare.care.families import FAMILIES
from moldcare.care.models import Family, Reach, RuleSet, SetRule, StepKind, WhereDone
from moldcare.care.starting_rules import STARTING_REASON, STARTING_SETS, factors_of
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


@dataclass(frozen=True, kw_only=True)
class Row:
    """One row of the trade's table: the rule that holds it, and what the table says.

    Common practice without a source, and from memory: proposals that each plant has to check.
    """

    rule: str
    reach: str
    minutes: int
    counts_on: str
    cycles: int | None = None
    days: int | None = None
    event: str = ""
    measured: str = ""
    sign: str


ROWS = [
    Row(rule="Wipe the vents", reach="faces", cycles=10_000, days=1, minutes=10,
        counts_on="shots", sign="burn"),
    Row(rule="Clean the vents, inserts out", reach="plates", cycles=100_000, days=180, minutes=150,
        counts_on="shots", sign="short shot"),
    Row(rule="Measure the vent depths", reach="parts", cycles=500_000, days=365, minutes=90,
        counts_on="shots", sign="flash"),
    Row(rule="Grease slides and lifters", reach="faces", cycles=20_000, days=1, minutes=10,
        counts_on="cycles", sign="squeak"),
    Row(rule="Grease the guides", reach="faces", cycles=50_000, days=7, minutes=10,
        counts_on="cycles", sign="scored"),
    Row(rule="Inspect, quick", reach="faces", days=30, minutes=15, event="end_of_run",
        counts_on="cycles", sign="flash"),
    Row(rule="Inspect, full", reach="parts", cycles=250_000, days=365, minutes=180,
        counts_on="cycles", sign="dimension"),
    Row(rule="Look at the finish", reach="faces", cycles=50_000, days=90, minutes=15,
        counts_on="shots", sign="gloss"),
    Row(rule="Polish again", reach="parts", minutes=480, measured="roughness",
        counts_on="shots", sign="haze"),
    Row(rule="Test the flow of the circuits", reach="closed", cycles=100_000, days=90, minutes=30,
        counts_on="hours", sign="cycle that had to be made longer"),
    Row(rule="Descale the circuits", reach="closed", days=365, minutes=240, counts_on="hours",
        measured="flow coefficient", sign="warpage"),
    Row(rule="Take bubblers and baffles out", reach="parts", cycles=500_000, days=365, minutes=120,
        counts_on="hours", sign="hot core"),
    Row(rule="Change the O-rings", reach="plates", days=730, minutes=30, event="mold_opened",
        counts_on="days", sign="leak"),
    Row(rule="Test for leaks", reach="closed", days=180, minutes=15, event="mold_opened",
        counts_on="days", sign="water marks"),
    Row(rule="Check the hot runner electrically", reach="closed", days=30, minutes=20, event="set",
        counts_on="heat-ups", sign="zone"),
    Row(rule="Take tips and valve pins out", reach="parts", cycles=500_000, days=730, minutes=480,
        counts_on="shots", sign="drool"),
    Row(rule="Take the ejector pins out", reach="plates", cycles=100_000, days=365, minutes=120,
        counts_on="cycles", sign="flash round the pins"),
    Row(rule="Change the springs, whole set", reach="parts", cycles=500_000, days=1095, minutes=60,
        counts_on="cycles", sign="plate that does not come back"),
    Row(rule="Protect against rust", reach="faces", days=180, minutes=30, event="into_storage",
        counts_on="storage days", sign="rust"),
    Row(rule="Check the counter", reach="closed", days=90, minutes=5, event="each_service",
        counts_on="-", sign="gap to what the press counted"),
]  # fmt: skip
# where the trade counts hours of water, running hours stand for cycles of 20 s: ours
CYCLE_S = 20


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.rule)
def test_each_row_of_the_trades_table_is_a_starting_value(doing: Doing, row: Row) -> None:
    load_starting_sets(doing)
    rule = SetRule.objects.filter(name=row.rule).order_by("id")[0]

    assert (rule.reach, rule.minutes, rule.event) == (row.reach, row.minutes, row.event)
    assert (rule.period_n, rule.period_unit) == (row.days, "day" if row.days else "")
    if row.counts_on == "hours" and row.cycles is not None:
        assert rule.count_base is None
        assert rule.hours_limit == pytest.approx(row.cycles * CYCLE_S / 3600, rel=0.01)
    else:
        assert (rule.count_base, rule.hours_limit) == (row.cycles, None)
    if row.counts_on in ("cycles", "shots"):
        assert rule.count_basis == row.counts_on
    assert (rule.calendar_counts == "only_while_stored") == (row.counts_on == "storage days")
    assert row.measured in rule.measured_quantity
    assert bool(row.measured) == (rule.measured_limit is not None)
    assert row.sign in rule.signs_known[0]
    assert rule.reason.startswith(STARTING_REASON)
    assert rule.steps[0]["text"].startswith("Look ")
    assert rule.family.key in CAUTIONED


def test_the_table_has_twenty_rows_and_no_rule_is_beside_it_unsaid() -> None:
    assert len({row.rule for row in ROWS}) == 20
    beside = {rule.name for rule in RULES} - {row.rule for row in ROWS}
    assert beside == {"Protect the cavity at the end of a run"}
    assert all("Common practice" in rule.reason for rule in RULES if rule.name in beside)


def test_every_starting_rule_says_what_to_have_at_hand_and_who_may_do_it() -> None:
    # common practice: who polishes, descales, measures heaters or opens a hot runner is trained
    assert [rule.name for rule in RULES if not rule.supplies] == []
    assert {rule.name: rule.qualification for rule in RULES if rule.qualification} == {
        "Descale the circuits": "descaling",
        "Polish again": "polishing",
        "Check the hot runner electrically": "electrical work",
        "Take tips and valve pins out": "hot runner",
    }


def test_what_a_measurement_asks_for_has_the_trades_figures(doing: Doing) -> None:
    # from memory of the trade: descaling is planned at a fifth less flow coefficient; A-2 is about
    # 0.025 µm Ra and A-3 about 0.05
    load_starting_sets(doing)
    rules = SetRule.objects.filter(measured_limit__isnull=False).order_by("id")
    found = {rule.name: (rule.measured_baseline, rule.measured_limit) for rule in rules}
    assert found == {
        "Descale the circuits": (100, 80),
        "Polish again": (Decimal("0.025"), Decimal("0.05")),
    }


def test_sets_say_for_which_molds_they_are_meant(doing: Doing) -> None:
    load_starting_sets(doing)
    sets = {row.name: row for row in RuleSet.objects.all()}
    assert sets["A-grade finish"].finishes == ["A-1", "A-2", "A-3"]
    assert sets["PVC and flame-retardant resins"].resin_groups == ["corrosive"]
    assert sets["classes 104 and 105, the few that matter"].mold_classes == ["104", "105"]
    assert {row.equipment for row in sets.values()} == {"", "slides", "bubblers", "hot_runner"}
    assert sets["every mold"].equipment == ""


def test_covers_name_rules_of_their_set_and_never_go_in_a_circle() -> None:
    for each in STARTING_SETS:
        names = {rule.name for rule in each.rules}
        covers = {rule.name: rule.covers for rule in each.rules}
        assert {name for covered in covers.values() for name in covered} <= names
        check_covers(covers)


def test_no_cleaning_rule_covers_what_stands_alone() -> None:
    # common practice: descaling, springs, electrical checks and polish are done for themselves
    alone = {
        "Polish again",
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


def test_resin_shortens_what_is_counted_in_shots_and_filler_gates_guides_and_tips() -> None:
    # from memory of the trade: the resin acts on vent and finish rows, glass and mineral on gates
    # (they are looked at in the full inspection), guides and tips
    assert {rule.name for rule in RULES if rule.by_resin} == {
        "Wipe the vents",
        "Clean the vents, inserts out",
        "Measure the vent depths",
        "Look at the finish",
        "Polish again",
    }
    assert all(rule.count_basis == "shots" for rule in RULES if rule.by_resin)
    assert {rule.name for rule in RULES if rule.by_filler} == {
        "Grease the guides",
        "Grease slides and lifters",
        "Inspect, full",
        "Take tips and valve pins out",
    }


@pytest.mark.parametrize(
    ("resin_group", "filler", "factors"),
    [
        ("mild", "none", ("1.0", "1.0")),  # unfilled PE, PP, PS
        ("medium", "none", ("0.8", "1.0")),  # ABS, PC, PA
        ("gassy", "none", ("0.6", "1.0")),  # POM, gassy, rich in regrind
        ("corrosive", "none", ("0.5", "1.0")),  # flame retardant, PVC
        ("mild", "glass", ("1.0", "0.6")),
    ],
)
def test_factors_are_those_of_the_trade(
    resin_group: str, filler: str, factors: tuple[str, str]
) -> None:
    found = factors_of(by_resin=True, by_filler=True, resin_group=resin_group, filler=filler)
    assert found == tuple(map(Decimal, factors))
    neither = factors_of(by_resin=False, by_filler=False, resin_group=resin_group, filler=filler)
    assert neither == (1, 1)


def test_to_load_again_changes_nothing_that_is_there(doing: Doing) -> None:
    load_starting_sets(doing)
    Family.objects.filter(key="vents").update(name="venting")
    SetRule.objects.filter(name="Wipe the vents").update(count_base=7_000)
    SetRule.objects.filter(name="Check the counter").delete()
    RuleSet.objects.filter(name="hot runner").update(note="ours")

    again = load_starting_sets(doing)

    assert (again.families, again.rule_sets, again.rules) == (0, 0, 0)
    assert Family.objects.get(key="vents").name == "venting"
    assert SetRule.objects.filter(count_base=7_000).count() == 2
    assert not SetRule.objects.filter(name="Check the counter").exists()
    assert Entry.objects.count() == 1


def test_a_technician_loads_nothing(technician: Person, doing: Doing) -> None:
    with pytest.raises(NotAllowed):
        load_starting_sets(Doing(person=technician, now=doing.now))
