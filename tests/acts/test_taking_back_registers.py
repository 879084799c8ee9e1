"""Whole imports taken back by facts: what has later facts on it stays and is listed."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest

from moldcare.acts.doing import Doing
from moldcare.acts.errors import DoesNotFit, Incomplete, NotAllowed
from moldcare.acts.molds import edit_mold, withdraw_mold
from moldcare.acts.moving_in import MovedIn
from moldcare.acts.rebuild import first_difference
from moldcare.acts.rules import change_rule
from moldcare.acts.taking_back import Undone
from moldcare.care.models import CareRule, Completion, Standing, TakenBack
from moldcare.feeds.models import ImportBatch, ImportUndone
from moldcare.feeds.register.rows import CareRow, MoldRow
from moldcare.feeds.undo import undo_import
from moldcare.handin.models import HandIn
from moldcare.logbook.models import Entry
from moldcare.logbook.verify import verify_logbook
from moldcare.molds.models import Mold
from moldcare.plant.models import Person
from tests import factories
from tests.acts.registers import brought_in

WHY = "wrong file"


@pytest.fixture(autouse=True)
def plant(db: None) -> None:
    """The plant, with nothing in it."""
    factories.plant()


@pytest.fixture
def molds(doing: Doing) -> MovedIn:
    """Two molds of a register, brought in."""
    rows = [
        MoldRow(row=2, number="0417", name="lid", opening_count=9_000, storage_place="R-1"),
        MoldRow(row=3, number="0418", name="cap", cycle_time_s=Decimal("20")),
    ]
    return brought_in(doing, rows)[0]


@pytest.fixture
def rules(molds: MovedIn, doing: Doing) -> MovedIn:
    """A rule of each of the two, brought in with when it was last done."""
    rows = [
        CareRow(
            row=row,
            column="B",
            number=mold.number,
            mold=mold.pk,
            task="Clean vents",
            family="vents",
            period_n=3,
            period_unit="month",
            last_done=date(2026, 11, 2),
        )
        for row, mold in enumerate(Mold.objects.order_by("number"), start=2)
    ]
    return brought_in(doing, rows)[0]


def undone(doing: Doing, done: MovedIn, *, reason: str = WHY) -> Undone:
    """The answer to taking an import back, some minutes later."""
    later = replace(doing, now=doing.now + timedelta(minutes=5))
    return undo_import(later, batch=ImportBatch.objects.get(pk=done.batch_id), reason=reason)


def test_molds_of_a_wrong_register_are_withdrawn_and_their_numbers_free(
    doing: Doing, molds: MovedIn
) -> None:
    answer = undone(doing, molds)
    assert answer.counts == {"molds_withdrawn": 2, "racks_out_of_use": 1}
    assert answer.stayed == []
    assert not Mold.objects.filter(withdrawn_at__isnull=True).exists()
    for mold in Mold.objects.all():
        entry = Entry.objects.filter(chain=mold.chain).latest("number")
        assert entry.kind == "mold_withdrawn"
        assert WHY in entry.sentence
    row = ImportUndone.objects.get()
    assert (row.batch_id, row.reason, row.counts) == (molds.batch_id, WHY, answer.counts)
    assert Entry.objects.get(pk=answer.entry_id).chain.kind == "plant"
    assert verify_logbook().is_whole
    assert first_difference() is None
    _done, told = brought_in(doing, [MoldRow(row=2, number="0417", name="lid")])
    assert [str(each.verdict) for each in told] == ["accepted"]


def test_a_mold_that_was_written_to_since_stays_and_is_listed(doing: Doing, molds: MovedIn) -> None:
    mold = Mold.objects.get(number="0417")
    edit_mold(doing, mold=mold, changes={"name": "lid, 38 mm"})
    answer = undone(doing, molds)
    assert answer.counts == {"molds_withdrawn": 1}
    assert answer.stayed[0] == {"row": 2, "what": "0417", "why": "Its logbook goes on."}
    mold.refresh_from_db()
    assert mold.withdrawn_at is None
    assert ImportUndone.objects.get().stayed == answer.stayed


def test_a_mold_with_a_counter_or_rules_stays(doing: Doing, lead: Person, molds: MovedIn) -> None:
    first, second = Mold.objects.order_by("number")
    factories.counter(on=first, author=lead)
    factories.care_rule(mold=second)
    with pytest.raises(DoesNotFit) as refused:
        undone(doing, molds)
    assert str(refused.value) == (
        "Nothing of it can be taken back. 0417: It has a counter. "
        "0418: It has care rules. Take the import of those back first. "
        "Rack R-1: Mold 0417 is or was there."
    )
    # nothing was written, so that it can be taken back once they are gone
    assert not ImportUndone.objects.exists()


def test_rules_of_a_wrong_sheet_are_withdrawn_and_their_last_times_taken_back(
    doing: Doing, rules: MovedIn
) -> None:
    answer = undone(doing, rules)
    assert answer.counts == {"rules_withdrawn": 2, "completions_taken_back": 2}
    assert not CareRule.objects.filter(withdrawn_at__isnull=True).exists()
    assert set(TakenBack.objects.values_list("completion", flat=True)) == set(
        Completion.objects.values_list("pk", flat=True)
    )
    assert not Standing.objects.exists()
    entry = Entry.objects.filter(chain__label="0417").latest("number")
    assert entry.sentence == (
        "The import of the file register.csv was taken back: “Clean vents” withdrawn. "
        "Reason: wrong file."
    )
    assert verify_logbook().is_whole
    assert first_difference() is None


def test_the_sheet_goes_first_and_then_the_register(
    doing: Doing, molds: MovedIn, rules: MovedIn
) -> None:
    with pytest.raises(DoesNotFit, match="Take the import of those back first"):
        undone(doing, molds)
    undone(doing, rules)
    assert not CareRule.objects.filter(withdrawn_at__isnull=True).exists()
    # a sheet that was taken back is no later fact of its molds
    assert undone(doing, molds).counts == {"molds_withdrawn": 2, "racks_out_of_use": 1}


def test_a_rule_that_was_changed_or_done_since_stays(
    doing: Doing, lead: Person, rules: MovedIn
) -> None:
    first, second = CareRule.objects.order_by("id")
    change_rule(doing, rule=first, changes={"period_n": 6}, reason="runs little")
    factories.completion(second, author=lead, at=doing.now)
    with pytest.raises(DoesNotFit, match=r"The rule was changed since\..*It was done since\."):
        undone(doing, rules)
    assert not TakenBack.objects.exists()


def test_a_change_of_a_rule_is_put_back(doing: Doing, rules: MovedIn) -> None:
    mold = Mold.objects.get(number="0417")
    row = CareRow(
        row=2,
        column="B",
        number="0417",
        mold=mold.pk,
        task="Clean vents",
        family="vents",
        period_n=6,
        period_unit="month",
    )
    done, _told = brought_in(doing, [row], changes="take", reason="It fouls slowly.")
    rule = CareRule.objects.get(mold=mold)
    assert rule.period_n == 6
    answer = undone(doing, done)
    assert answer.counts == {"rules_put_back": 1}
    rule.refresh_from_db()
    assert (rule.period_n, rule.withdrawn_at) == (3, None)
    assert first_difference() is None


def test_undoing_twice_says_so_and_one_hand_in_is_answered_the_same(
    doing: Doing, molds: MovedIn
) -> None:
    twice = replace(doing, hand_in=uuid4())
    first = undone(twice, molds)
    assert undone(twice, molds) == first
    with pytest.raises(DoesNotFit, match="taken back already"):
        undone(doing, molds)
    assert ImportUndone.objects.count() == 1
    assert HandIn.objects.count() == 1


def test_what_was_withdrawn_by_hand_is_left(doing: Doing, molds: MovedIn) -> None:
    withdraw_mold(doing, mold=Mold.objects.get(number="0417"), reason="scrapped")
    answer = undone(doing, molds)
    assert [row["why"] for row in answer.stayed] == ["The mold was withdrawn since."]
    assert answer.counts == {"molds_withdrawn": 1, "racks_out_of_use": 1}


def test_it_needs_a_reason_and_somebody_who_leads(
    doing: Doing, technician: Person, molds: MovedIn
) -> None:
    with pytest.raises(Incomplete):
        undone(doing, molds, reason=" ")
    with pytest.raises(NotAllowed):
        undone(replace(doing, person=technician), molds)
    assert not ImportUndone.objects.exists()
