"""An import of counter readings taken back as a whole; what somebody decided since stays."""

import io
from dataclasses import replace
from datetime import datetime, timedelta
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest

from moldcare.acts.doing import Doing
from moldcare.acts.errors import DoesNotFit, Incomplete, NotAllowed
from moldcare.acts.readings import accept_reading, correct_reading, set_reading_aside
from moldcare.acts.rebuild import first_difference
from moldcare.acts.refresh import refresh_counts
from moldcare.acts.taking_back import Undone
from moldcare.core.counting.values import State
from moldcare.counters.models import Counter, CounterTotal, Life, Reading, ReadingDecision, Verdict
from moldcare.feeds.bring_in import bring_in, try_out
from moldcare.feeds.models import ImportBatch, ImportRow, ImportUndone
from moldcare.feeds.reading_files import open_reading_file
from moldcare.feeds.tables import RowVerdict
from moldcare.feeds.undo import undo_import
from moldcare.logbook.models import Entry
from moldcare.logbook.verify import verify_logbook
from moldcare.molds.models import Mold
from moldcare.plant.models import Person
from tests import factories

BERLIN = ZoneInfo("Europe/Berlin")
HEADING = "Mold;Read at;Count\n"
RIGHT = HEADING + "0417;2026-11-23 06:00;1100\n0418;2026-11-23 06:00;5100\n"
#: The list of a month in which the counters were further on.
WRONG = (
    HEADING
    + "0417;2026-11-23 14:00;1400\n0417;2026-11-23 22:00;1900\n"
    + "0418;2026-11-23 14:00;5900\n0418;2026-11-23 22:00;20\n"
)


@pytest.fixture
def counters(lead: Person, now: datetime) -> dict[str, Counter]:
    """Two molds with counters of their own."""
    factories.plant()
    since = now - timedelta(days=10)
    found = {}
    for number, shown in (("0417", 1_000), ("0418", 5_000)):
        mold = factories.mold(number=number, opening_at=since)
        factories.cycle_time(mold, author=lead, standard_s="20.0", valid_from=since)
        found[number] = factories.counter(
            on=mold, author=lead, at=since, value_shown=shown, digits=7, label=f"C-{number}"
        )
    refresh_counts(counters=[counter.pk for counter in found.values()])
    return found


def imported(
    doing: Doing, content: str, *, mends: ImportRow | None = None
) -> tuple[int, list[str]]:
    """Bring a file in; return the number of the import, and the verdict on each row."""
    told: list[RowVerdict] = []
    file = open_reading_file(io.BytesIO(content.encode()), name="list.csv", zone=BERLIN)
    done = bring_in(doing, file=file, tell=told.append, mends=mends)
    return done.batch_id, [str(row.verdict) for row in told]


def undone(doing: Doing, batch: int, *, reason: str = "the wrong month") -> Undone:
    later = replace(doing, now=doing.now + timedelta(minutes=5))
    return undo_import(later, batch=ImportBatch.objects.get(pk=batch), reason=reason)


def cycles(number: str) -> int:
    return Life.objects.get(mold__number=number).cycles


def reading(value: int) -> Reading:
    return Reading.objects.get(value=value)


def test_the_wrong_month_goes_as_a_whole_and_counts_are_as_they_were(
    doing: Doing, counters: dict[str, Counter]
) -> None:
    imported(doing, RIGHT)
    before = cycles("0417"), cycles("0418")
    wrong, told = imported(doing, WRONG)
    assert told == ["accepted", "accepted", "accepted", "held"]
    assert cycles("0417") == before[0] + 800
    answer = undone(doing, wrong)
    assert answer.counts == {"readings_set_aside": 4}
    assert answer.stayed == []
    assert (cycles("0417"), cycles("0418")) == before
    states = Verdict.objects.filter(reading__batch_id=wrong).values_list("state", flat=True)
    assert set(states) == {State.SET_ASIDE}
    assert not Life.objects.filter(held_count__gt=0).exists()
    # nothing was deleted, and deriving all of it again says the same
    assert Reading.objects.filter(batch_id=wrong).count() == 4
    assert first_difference() is None
    assert verify_logbook().is_whole


def test_each_mold_has_one_entry_and_the_plant_one(
    doing: Doing, counters: dict[str, Counter]
) -> None:
    wrong, _told = imported(doing, WRONG)
    answer = undone(doing, wrong)
    for number in counters:
        entry = Entry.objects.filter(chain__label=number).latest("number")
        assert entry.sentence == (
            "The import of the file list.csv was taken back: 2 readings of counter "
            f"C-{number} set aside, from 2026-11-23 14:00 to 2026-11-23 22:00. "
            "Reason: the wrong month."
        )
        decisions = ReadingDecision.objects.filter(reading__counter=counters[number])
        assert set(decisions.values_list("entry", "batch_id")) == {(entry.pk, wrong)}
    entry = Entry.objects.get(pk=answer.entry_id)
    assert entry.chain.kind == "plant"
    assert "4 readings set aside" in entry.sentence
    assert ImportUndone.objects.get().reason == "the wrong month"


def test_a_press_s_counter_stands_in_the_plant_s_entry(doing: Doing, lead: Person) -> None:
    factories.plant()
    press = factories.spot(kind="press", number="7")
    since = doing.now - timedelta(days=10)
    counter = factories.counter(on=press, author=lead, at=since, value_shown=0, label="C-P7")
    refresh_counts(counters=[counter.pk])
    batch, told = imported(doing, "Press;Read at;Count\n7;2026-11-23 14:00;40\n")
    assert told == ["accepted"]
    answer = undone(doing, batch)
    entry = Entry.objects.get(pk=answer.entry_id)
    assert "1 reading of counter C-P7 set aside" in entry.sentence
    assert ReadingDecision.objects.get().entry == entry
    assert first_difference() is None


def test_what_somebody_decided_since_stays_and_is_listed(
    doing: Doing, counters: dict[str, Counter]
) -> None:
    wrong, _told = imported(doing, WRONG)
    accept_reading(doing, reading=reading(20), reason="it was reset")
    correct_reading(doing, reading=reading(1_900), value=1_500, reason="misread")
    set_reading_aside(doing, reading=reading(5_900), reason="misread")
    answer = undone(doing, wrong)
    assert answer.counts == {"readings_set_aside": 1}
    assert [(row["what"], row["why"]) for row in answer.stayed] == [
        (
            "1,900 of counter C-0417, 2026-11-23 22:00",
            "Somebody corrected it since: the corrected reading stays.",
        ),
        (
            "20 of counter C-0418, 2026-11-23 22:00",
            "Somebody decided about it since: accepted as it is.",
        ),
    ]
    assert Verdict.objects.get(pk=reading(20).pk).state == State.ACCEPTED
    assert Verdict.objects.get(reading__value=1_500).state == State.ACCEPTED
    assert first_difference() is None


def test_an_import_of_which_all_was_decided_is_not_taken_back(
    doing: Doing, counters: dict[str, Counter]
) -> None:
    batch, _told = imported(doing, HEADING + "0417;2026-11-23 14:00;20\n")
    accept_reading(doing, reading=reading(20), reason="it was reset")
    with pytest.raises(DoesNotFit, match=r"Nothing of it can be taken back\. 20 of counter"):
        undone(doing, batch)
    assert not ImportUndone.objects.exists()


def test_the_right_file_has_readings_judged_that_it_shares_with_the_wrong_one(
    doing: Doing, counters: dict[str, Counter]
) -> None:
    wrong, _told = imported(doing, WRONG)
    undone(doing, wrong)
    right = WRONG.replace("1900", "1600").replace("5900", "5600")
    file = open_reading_file(io.BytesIO(right.encode()), name="list.csv", zone=BERLIN)
    tried: list[RowVerdict] = []
    try_out(doing, file=file, tell=tried.append)
    batch, told = imported(doing, right)
    # 1,400 and 20 came with the wrong file already, and are no mere repetition
    assert told == ["accepted", "accepted", "accepted", "held"]
    assert [str(row.verdict) for row in tried] == told
    assert ImportBatch.objects.get(pk=batch).counts == {"accepted": 3, "held": 1}
    assert Reading.objects.filter(value=1_400).count() == 1
    assert (cycles("0417"), cycles("0418")) == (600, 600)
    assert CounterTotal.objects.get(counter=counters["0417"]).newest_value == 1_600
    assert first_difference() is None
    # a third time it is here already
    assert imported(doing, right)[1] == ["duplicate"] * 4
    # and the second import is taken back as the first was, what it had judged anew included
    assert undone(doing, batch).counts == {"readings_set_aside": 4}
    assert (cycles("0417"), cycles("0418")) == (0, 0)
    assert first_difference() is None


def test_what_a_lead_set_aside_stays_so_when_a_file_brings_it_again(
    doing: Doing, counters: dict[str, Counter]
) -> None:
    imported(doing, WRONG)
    set_reading_aside(doing, reading=reading(1_900), reason="misread")
    assert imported(doing, WRONG)[1] == ["duplicate"] * 4
    assert Verdict.objects.get(pk=reading(1_900).pk).state == State.SET_ASIDE


def test_rows_that_were_mended_since_go_with_their_import(
    doing: Doing, counters: dict[str, Counter]
) -> None:
    first, told = imported(doing, HEADING + "0417;2026-11-23 14:00;1400\n0417;tomorrow;1500\n")
    assert told[1] not in {"accepted", "held"}
    kept = ImportRow.objects.get()
    mend, _told = imported(doing, HEADING + "0417;2026-11-23 22:00;1500\n", mends=kept)
    assert undone(doing, first).counts == {"readings_set_aside": 2}
    assert set(ImportUndone.objects.values_list("batch", flat=True)) == {first, mend}
    assert cycles("0417") == 0


def test_twice_says_so_and_one_hand_in_is_answered_the_same(
    doing: Doing, counters: dict[str, Counter]
) -> None:
    wrong, _told = imported(doing, WRONG)
    twice = replace(doing, hand_in=uuid4())
    assert undone(twice, wrong) == undone(twice, wrong)
    with pytest.raises(DoesNotFit, match="taken back already"):
        undone(doing, wrong)
    assert ReadingDecision.objects.count() == 4


def test_it_needs_a_reason_and_somebody_who_leads(
    doing: Doing, technician: Person, counters: dict[str, Counter]
) -> None:
    wrong, _told = imported(doing, WRONG)
    with pytest.raises(Incomplete):
        undone(doing, wrong, reason=" ")
    with pytest.raises(NotAllowed):
        undone(replace(doing, person=technician), wrong)
    assert not ImportUndone.objects.exists()
    assert Mold.objects.filter(withdrawn_at__isnull=True).count() == 2
