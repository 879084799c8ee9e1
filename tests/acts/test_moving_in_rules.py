"""Maintenance sheets brought in through the acts: rules, when they were last done, differences."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any
from uuid import uuid4

import pytest

from moldcare.acts.doing import Doing
from moldcare.acts.errors import Incomplete, NotAllowed
from moldcare.acts.rebuild import first_difference
from moldcare.acts.refresh import refresh_counts
from moldcare.acts.starting_sets import load_starting_sets
from moldcare.care.models import CareRule, Completion, Family, RuleVersion, Standing, Step
from moldcare.feeds.models import BroughtIn, ImportBatch, ImportRow
from moldcare.feeds.register.bring_in import bring_in_register, try_out_register
from moldcare.feeds.register.rows import CareRow
from moldcare.feeds.tables import RowVerdict, Verdict
from moldcare.feeds.undo import undo_import
from moldcare.logbook.models import Entry
from moldcare.logbook.verify import verify_logbook
from moldcare.molds.models import Mold
from moldcare.plant.models import Person
from tests import factories
from tests.acts.registers import brought_in, register_of

WHY = "The vents of this resin foul sooner than was thought."
VENTS = CareRow(
    row=2,
    column="B",
    number="0417",
    task="Clean the vents by hand",
    family="vents",
    count_interval=15_000,
    count_basis="shots",
    period_n=3,
    period_unit="month",
    last_done=date(2026, 11, 2),
    last_count=171_000,
)


@pytest.fixture(autouse=True)
def mold(db: None) -> Mold:
    """A mold that has run before, without rules."""
    factories.plant()
    row = factories.mold(number="0417", cavity_count=1, opening_count=182_400)
    refresh_counts(molds=[row.pk])
    return row


@pytest.fixture
def vents(mold: Mold) -> CareRow:
    """A row of its sheet."""
    return replace(VENTS, mold=mold.pk)


def words(rows: list[RowVerdict]) -> list[str]:
    return [str(row.verdict) for row in rows]


def test_a_task_becomes_a_rule_with_its_interval_and_when_it_was_last_done(
    doing: Doing, mold: Mold, vents: CareRow
) -> None:
    _done, told = brought_in(doing, [vents], name="sheet.xlsx")
    assert words(told) == ["accepted"]
    rule = CareRule.objects.select_related("family").get()
    assert (rule.name, rule.family.key, rule.mold) == (vents.task, "vents", mold)
    assert (rule.count_base, rule.count_basis) == (15_000, "shots")
    assert (rule.period_n, rule.period_unit) == (3, "month")
    assert rule.reason == "maintenance sheet sheet.xlsx"
    done = Completion.objects.get()
    assert (done.rule, done.happened_at) == (rule, None)
    assert (done.declared_on, done.declared_count) == (date(2026, 11, 2), 171_000)
    standing = Standing.objects.get()
    # 171,000 and 15,000 more; it stands at 182,400
    assert (standing.due_count, standing.since_count) == (186_000, 11_400)
    assert first_difference() is None


def test_hours_and_events_become_limits_of_the_rule(
    doing: Doing, mold: Mold, vents: CareRow
) -> None:
    bare = replace(
        vents, count_interval=None, period_n=None, period_unit="", last_done=None, last_count=None
    )
    hours = replace(bare, hours_limit=200)
    event = replace(bare, row=3, task="Wipe faces", family="inspection", event="end_of_run")
    _done, told = brought_in(doing, [hours, event])
    assert words(told) == ["accepted", "accepted"]
    assert list(CareRule.objects.order_by("pk").values_list("hours_limit", "event")) == [
        (200, ""),
        (None, "end_of_run"),
    ]
    entry = Entry.objects.get(chain=mold.chain)
    assert entry.sentence == (
        "Care brought in from the file register.csv: “Clean the vents by hand” every 200 running "
        "hours; “Wipe faces” at the end of a run."
    )
    assert '"hours":200' in entry.facts
    assert '"event":"end_of_run"' in entry.facts
    assert first_difference() is None
    _done, told = brought_in(doing, [hours, event], sha256="b" * 64)
    assert words(told) == ["duplicate", "duplicate"]


def test_other_hours_and_another_event_are_taken_only_where_chosen(
    doing: Doing, mold: Mold, vents: CareRow
) -> None:
    first = replace(vents, hours_limit=200, event="end_of_run")
    brought_in(doing, [first])
    other = replace(first, hours_limit=300, event="set")
    _done, told = brought_in(doing, [other], sha256="b" * 64)
    assert words(told) == ["differs"]
    assert told[0].reason.startswith("every: 200 running hours here, 300 running hours in the file")
    assert "at the end of a run here, at each set in the file" in told[0].reason
    assert CareRule.objects.get().hours_limit == 200
    done, told = brought_in(doing, [other], sha256="c" * 64, changes="take", reason=WHY)
    assert words(told) == ["changed"]
    rule = CareRule.objects.get()
    assert (rule.hours_limit, rule.event, rule.count_base) == (300, "set", 15_000)
    undo_import(
        replace(doing, hand_in=None),
        batch=ImportBatch.objects.get(pk=done.batch_id),
        reason="The sheet was an old one.",
    )
    rule = CareRule.objects.get()
    assert (rule.hours_limit, rule.event) == (200, "end_of_run")
    assert first_difference() is None


def test_steps_and_work_come_from_the_starting_rule_of_the_family(
    doing: Doing, vents: CareRow
) -> None:
    load_starting_sets(doing)
    brought_in(doing, [vents, replace(vents, row=3, task="Clean vents", last_count=None)])
    for rule in CareRule.objects.select_related("family"):
        assert Step.objects.filter(rule=rule).count() > 1
        assert list(Step.objects.filter(rule=rule).values_list("place", flat=True)) == list(
            range(1, Step.objects.filter(rule=rule).count() + 1)
        )
        version = RuleVersion.objects.get(rule=rule)
        assert version.terms["count_base"] == 15_000
        assert len(version.terms["steps"]) == Step.objects.filter(rule=rule).count()
        assert (rule.factor_resin, rule.factor_filler, rule.factor_finish) == (1, 1, 1)


def test_the_families_of_the_trade_are_loaded_where_a_sheet_needs_one(
    doing: Doing, vents: CareRow
) -> None:
    assert not Family.objects.exists()
    brought_in(doing, [vents])
    assert Family.objects.filter(key="vents").exists()


def test_a_mold_has_one_entry_for_all_its_rules_and_the_plant_one(
    doing: Doing, mold: Mold, vents: CareRow
) -> None:
    grease = replace(
        vents, row=3, task="Grease pins", family="lubrication", last_done=None, last_count=None
    )
    done, _told = brought_in(doing, [vents, grease])
    entry = Entry.objects.get(chain=mold.chain)
    assert entry.kind == "rules_brought_in"
    assert entry.sentence == (
        "Care brought in from the file register.csv: “Clean the vents by hand” every 15,000 shots "
        "or every 3 months, last done on 2026-11-02 at a count of 171,000 shots; “Grease pins” "
        "every 15,000 shots or every 3 months."
    )
    assert set(RuleVersion.objects.values_list("entry", flat=True)) == {entry.pk}
    assert Completion.objects.get().entry == entry
    batch = Entry.objects.get(pk=done.entry_id)
    assert batch.sentence == "Care rules brought in from the file register.csv: 2 accepted."
    assert verify_logbook().is_whole


def test_the_same_sheet_twice_writes_nothing_twice_and_says_so(
    doing: Doing, vents: CareRow
) -> None:
    brought_in(doing, [vents])
    _done, told = brought_in(doing, [vents])
    assert words(told) == ["duplicate"]
    assert (CareRule.objects.count(), Completion.objects.count()) == (1, 1)


def test_one_hand_in_is_done_once(doing: Doing, vents: CareRow) -> None:
    twice = replace(doing, hand_in=uuid4())
    first = bring_in_register(twice, file=register_of([vents]))
    assert bring_in_register(twice, file=register_of([vents])) == first
    assert ImportBatch.objects.count() == 1


def test_a_task_that_the_mold_has_is_offered_as_a_change_of_its_interval(
    doing: Doing, mold: Mold, vents: CareRow
) -> None:
    rule = factories.care_rule(mold=mold, name="clean the VENTS by hand", count_base=20_000)
    refresh_counts(molds=[mold.pk])
    _done, (told,) = brought_in(doing, [vents])
    assert told.verdict is Verdict.DIFFERS
    assert "every: 20,000 shots here, 15,000 shots in the file" in told.reason
    rule.refresh_from_db()
    assert (rule.count_base, CareRule.objects.count()) == (20_000, 1)
    # when it was last done is no change of the rule
    assert Completion.objects.get().rule == rule
    _done, (told,) = brought_in(
        doing, [vents], **{told.choice_key.replace(":", "__"): "take", "reason": WHY}
    )
    assert told.verdict is Verdict.CHANGED
    rule.refresh_from_db()
    assert (rule.count_base, rule.period_n, rule.period_unit) == (15_000, 3, "month")
    version = RuleVersion.objects.get(rule=rule)
    assert version.entry.kind == "rule_changed"
    assert version.reason == f"{WHY} (maintenance sheet register.csv)"
    assert WHY in version.entry.sentence
    assert Completion.objects.count() == 1
    assert first_difference() is None


def test_an_interval_does_not_change_without_a_reason(
    doing: Doing, mold: Mold, vents: CareRow
) -> None:
    rule = factories.care_rule(mold=mold, name=vents.task, count_base=20_000)
    other = replace(vents, row=3, task="Wipe the faces", family="vents")
    before = Entry.objects.count()
    with pytest.raises(Incomplete, match="Say why intervals that are here change"):
        brought_in(doing, [vents, other], changes="take", reason=" ")
    rule.refresh_from_db()
    assert (rule.count_base, CareRule.objects.count()) == (20_000, 1)
    assert (Entry.objects.count(), ImportBatch.objects.count()) == (before, 0)


def test_care_of_the_same_kind_by_another_name_is_asked_about(
    doing: Doing, mold: Mold, vents: CareRow
) -> None:
    rule = factories.care_rule(mold=mold, name="Vents", count_base=20_000)
    _done, (told,) = brought_in(doing, [vents])
    assert told.verdict is Verdict.DIFFERS
    assert "“Vents”" in told.reason
    assert [each.value for each in told.proposals] == ["take", "new"]
    assert not Completion.objects.exists()
    key = told.choice_key.replace(":", "__")
    _done, (told,) = brought_in(doing, [vents], **{key: "take", "reason": WHY})
    assert told.verdict is Verdict.CHANGED
    rule.refresh_from_db()
    assert rule.count_base == 15_000
    assert Completion.objects.get().rule == rule
    other = replace(vents, task="Polish the vents", count_interval=90_000)
    _done, (told,) = brought_in(doing, [other], **{"change__2__polish the vents": "new"})
    assert told.verdict is Verdict.ACCEPTED
    assert CareRule.objects.filter(name="Polish the vents", count_base=90_000).exists()


def test_work_in_our_own_logbook_is_newer_than_a_sheet(
    doing: Doing, lead: Person, mold: Mold, vents: CareRow
) -> None:
    rule = factories.care_rule(
        mold=mold, name=vents.task, count_base=15_000, period_n=3, period_unit="month"
    )
    factories.completion(rule, author=lead, at=doing.now - timedelta(days=1))
    refresh_counts(molds=[mold.pk])
    _done, told = brought_in(doing, [vents])
    assert words(told) == ["duplicate"]
    assert Completion.objects.count() == 1


def test_a_later_last_time_of_a_later_sheet_is_written_down(doing: Doing, vents: CareRow) -> None:
    brought_in(doing, [vents])
    later = replace(vents, last_done=date(2026, 11, 20), last_count=180_000)
    _done, (told,) = brought_in(doing, [later])
    assert (told.verdict, told.reason) == (Verdict.ACCEPTED, "Last done is written down.")
    assert Standing.objects.get().due_count == 195_000
    _done, (told,) = brought_in(doing, [vents])
    assert told.verdict is Verdict.DUPLICATE


def test_a_rule_by_calendar_alone_leaves_the_count_out_and_says_so(
    doing: Doing, vents: CareRow
) -> None:
    _done, (told,) = brought_in(doing, [replace(vents, count_interval=None)])
    assert told.verdict is Verdict.ACCEPTED
    assert "the count at which it was last done is left out" in told.reason
    assert Completion.objects.get().declared_count is None


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"last_done": date(2027, 1, 1)}, "in the future"),
        ({"last_count": 190_000}, "the mold stands at 182,400"),
        ({"count_interval": 0}, "not possible"),
        ({"count_interval": 3_000_000_000}, "not possible"),
        ({"period_n": 40_000}, "not possible"),
        ({"period_n": 400, "period_unit": "year"}, "100 years"),
        ({"count_interval": None, "period_n": None, "period_unit": ""}, "no interval"),
        ({"task": ""}, "a name"),
        ({"task": "x" * 121}, "a name"),
    ],
)
def test_what_cannot_stand_is_refused_in_a_sentence_and_kept(
    doing: Doing, vents: CareRow, changes: dict[str, Any], said: str
) -> None:
    good = replace(vents, row=3, task="Grease pins", family="lubrication")
    _done, told = brought_in(doing, [replace(vents, **changes), good])
    assert words(told) == ["refused", "accepted"]
    assert said in told[0].reason
    assert list(CareRule.objects.values_list("name", flat=True)) == ["Grease pins"]
    assert ImportRow.objects.get().row == 2


def test_an_interval_that_contradicts_the_rule_of_a_mold_is_refused(
    doing: Doing, mold: Mold, vents: CareRow
) -> None:
    factories.care_rule(mold=mold, name=vents.task, count_base=10_000, hard_count=12_000)
    _done, (told,) = brought_in(doing, [vents], changes="take")
    assert told.verdict is Verdict.REFUSED
    assert "hard limit of 12,000" in told.reason
    assert CareRule.objects.get().count_base == 10_000


def test_a_task_of_no_known_kind_is_asked_and_brought_in_once_it_is_said(
    doing: Doing, vents: CareRow
) -> None:
    odd = replace(vents, task="Look at the thing", family="")
    _done, (told,) = brought_in(doing, [odd])
    assert told.verdict is Verdict.NEEDS_ANSWER
    assert not CareRule.objects.exists()
    _done, (told,) = brought_in(doing, [odd], **{"family__look at the thing": "inspection"})
    assert told.verdict is Verdict.ACCEPTED
    assert CareRule.objects.get().family.key == "inspection"


def test_a_mold_that_is_not_ours_is_kept(doing: Doing, vents: CareRow) -> None:
    _done, told = brought_in(doing, [replace(vents, mold=None, number="8888")])
    assert words(told) == ["not_ours"]
    assert "“8888”" in ImportRow.objects.get().reason


def test_the_same_task_twice_in_one_sheet_is_taken_once(doing: Doing, vents: CareRow) -> None:
    _done, told = brought_in(doing, [vents, replace(vents, row=7)])
    assert words(told) == ["accepted", "refused"]
    assert "stands in row 2 already" in told[1].reason
    assert CareRule.objects.count() == 1


def test_trying_out_writes_nothing_and_says_the_same(doing: Doing, vents: CareRow) -> None:
    rows = [vents, replace(vents, row=3, number="8888", mold=None)]
    tried: list[RowVerdict] = []
    try_out_register(doing, file=register_of(rows), tell=tried.append)
    assert not CareRule.objects.exists()
    assert not ImportBatch.objects.exists()
    assert not Entry.objects.exists()
    _done, told = brought_in(doing, rows)
    assert tried == told


def test_what_every_row_brought_is_kept(doing: Doing, mold: Mold, vents: CareRow) -> None:
    done, _told = brought_in(doing, [vents])
    (kept,) = BroughtIn.objects.filter(batch=done.batch_id)
    assert (kept.act, kept.row, kept.mold) == ("rule_added", 2, mold)
    assert kept.rule == CareRule.objects.get()
    assert kept.completion == Completion.objects.get()


def test_only_who_leads_brings_rules_in(technician: Person, doing: Doing, vents: CareRow) -> None:
    with pytest.raises(NotAllowed):
        brought_in(replace(doing, person=technician), [vents])
    assert not CareRule.objects.exists()
