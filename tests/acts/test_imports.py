"""Files of counter readings, brought in: what is counted, kept, held, asked, and left alone."""

import io
from collections import Counter as Tally
from datetime import UTC, datetime, timedelta
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest

from moldcare.acts.doing import Doing
from moldcare.acts.errors import NotAllowed
from moldcare.acts.readings import ReadingEntry, record_readings
from moldcare.acts.rebuild import first_difference
from moldcare.acts.refresh import refresh_counts
from moldcare.core.counting.values import Note, State
from moldcare.core.errors import TableRefused
from moldcare.counters.models import Counter, Life, Reading, Unassigned, Verdict
from moldcare.feeds.bring_in import bring_in, try_out
from moldcare.feeds.models import ColumnMatch, ImportBatch, ImportRow
from moldcare.feeds.reading_files import ReadingFile, open_reading_file
from moldcare.feeds.tables import RowVerdict
from moldcare.logbook.models import Entry
from moldcare.molds.models import Mold
from moldcare.plant.models import Person
from tests import factories
from tests.feeds.tables.reading import example
from tests.feeds.tables.test_examples import OPEN, REFUSED, TAKEN

BERLIN = ZoneInfo("Europe/Berlin")
SINCE = datetime(2026, 3, 1, 5, 0, tzinfo=UTC)


def opened(content: str | bytes, **answers: str) -> ReadingFile:
    """A file given as text, opened with answers whose keys may have colons written as __."""
    data = content.encode() if isinstance(content, str) else content
    given = {key.replace("__", ":"): value for key, value in answers.items()}
    return open_reading_file(io.BytesIO(data), name="round.csv", zone=BERLIN, answers=given)


def counted(number: str, *, author: Person, shown: int, digits: int | None = 7) -> Counter:
    """A mold with a counter of its own, named as in the example files."""
    mold = factories.mold(number=number, opening_at=SINCE)
    factories.cycle_time(mold, author=author, standard_s="20.0", valid_from=SINCE)
    return factories.counter(
        on=mold, author=author, at=SINCE, value_shown=shown, digits=digits, label=f"C-{number}"
    )


@pytest.fixture
def plant(db: None, lead: Person) -> dict[str, Counter]:
    """The molds of the example files, counters a little behind the first readings."""
    factories.plant()
    shown = {"0001": 312_000, "0002": 88_000, "0003": 1_204_000, "0004": 9_000, "0417": 12_000}
    found = {number: counted(number, author=lead, shown=value) for number, value in shown.items()}
    refresh_counts(counters=[counter.pk for counter in found.values()])
    return found


def told(doing: Doing, file: ReadingFile, *, is_trial: bool = False) -> list[RowVerdict]:
    """Bring a file in, or try it out, and return the verdicts on its rows."""
    rows: list[RowVerdict] = []
    (try_out if is_trial else bring_in)(doing, file=file, tell=rows.append)
    return rows


def words(rows: list[RowVerdict]) -> list[str]:
    return [str(row.verdict) for row in rows]


@pytest.mark.parametrize("name", sorted(TAKEN))
def test_every_kind_of_example_file_is_judged_row_by_row(
    name: str, plant: dict[str, Counter], doing: Doing
) -> None:
    rows = told(doing, opened(example(name)))
    found = Tally(words(rows))
    stored = sum(found[word] for word in ("accepted", "held", "duplicate"))
    left = {word: number for word, number in TAKEN[name].items() if word != "taken"}
    estimates = found["estimated"]
    strange = found["not_ours"] - left.get("not_ours", 0)
    assert stored + estimates + strange == TAKEN[name].get("taken", 0)
    assert {word: found[word] for word in left if word != "not_ours"} == {
        word: number for word, number in left.items() if word != "not_ours"
    }
    assert Reading.objects.count() == found["accepted"] + found["held"]
    assert all(row.reason for row in rows if row.verdict not in ("accepted", "duplicate"))
    kept = Tally(ImportRow.objects.values_list("verdict", flat=True))
    expected = {"refused", "not_ours", "needs_answer", "estimated"}
    assert kept == {word: number for word, number in found.items() if word in expected}


@pytest.mark.parametrize("name", sorted(REFUSED))
def test_a_file_that_cannot_be_read_is_refused_whole(name: str, plant: dict[str, Counter]) -> None:
    with pytest.raises(TableRefused):
        opened(example(name))
    assert not ImportBatch.objects.exists()


@pytest.mark.parametrize("name", sorted(TAKEN))
def test_a_trial_says_the_same_and_writes_nothing(
    name: str, plant: dict[str, Counter], doing: Doing
) -> None:
    before = Entry.objects.count()
    trial = told(doing, opened(example(name)), is_trial=True)
    tables = (Reading, Verdict, ImportBatch, ImportRow, Unassigned, ColumnMatch)
    assert [table.__name__ for table in tables if table.objects.exists()] == []  # type: ignore[attr-defined]
    assert Entry.objects.count() == before
    assert told(doing, opened(example(name))) == trial


def test_readings_that_run_backwards_jump_or_repeat(
    plant: dict[str, Counter], doing: Doing
) -> None:
    plant["0002"].digits = 5
    plant["0002"].save()
    rows = told(doing, opened(example("backwards-jumps-repeats.csv")))
    assert words(rows) == [
        *("accepted", "accepted", "duplicate", "held", "held", "accepted", "held"),
        *("accepted", "accepted"),
    ]
    missing, jump, other = rows[3], rows[4], rows[6]
    assert "goes backwards" in missing.reason
    assert "313,265" in missing.reason
    assert "too fast" in jump.reason
    assert "contradicts" in other.reason
    # 31410 with a figure put in
    assert "314102" in [proposal.value for proposal in missing.proposals] or any(
        "It was" in proposal.text for proposal in missing.proposals
    )
    mold = Mold.objects.get(number="0002")
    assert Life.objects.get(mold=mold).cycles == 11_990 + 650


def test_rows_that_cannot_be_taken_are_kept_as_they_came(
    plant: dict[str, Counter], doing: Doing
) -> None:
    rows = told(doing, opened(example("odd-values.csv")))
    assert Tally(words(rows))["estimated"] == 2
    kept = {row.row: row for row in ImportRow.objects.all()}
    assert kept[4].cells == ["0003", "2026-04-13 06:00", "1.217.40"]
    assert kept[4].verdict == "refused"
    assert "1.217.40" in kept[4].reason
    assert 5 not in kept  # an empty value is skipped and counted, not kept
    assert [(row.subject, row.value, row.at) for row in Unassigned.objects.all()] == [
        ("9999", "100", datetime(2026, 4, 13, 12, tzinfo=UTC))
    ]


def test_estimates_are_offered_and_taken_once_somebody_says_so(
    plant: dict[str, Counter], doing: Doing
) -> None:
    content = "mold;at;reading\n0001;2026-04-13 06:00;ca. 313000\n"
    (row,) = told(doing, opened(content))
    assert (row.verdict, row.value) == ("estimated", 313_000)
    assert [proposal.value for proposal in row.proposals] == ["313000"]
    assert not Reading.objects.exists()
    (row,) = told(doing, opened(content, estimates="take"))
    assert row.verdict == "estimated"
    reading = Reading.objects.get()
    assert (reading.value, reading.source) == (313_000, "estimated")
    assert Verdict.objects.get().note & Note.ESTIMATED


def fifty(*, more: int = 0) -> str:
    lines = [
        f"0001;2026-04-13 06:{minute:02d};{312_000 + 3 * minute}" for minute in range(50 + more)
    ]
    return "\n".join(["mold;at;reading", *lines]) + "\n"


def test_the_same_file_twice_adds_only_what_is_new(plant: dict[str, Counter], doing: Doing) -> None:
    assert Tally(words(told(doing, opened(fifty())))) == {"accepted": 50}
    again = Tally(words(told(doing, opened(fifty(more=2)))))
    assert again == {"duplicate": 50, "accepted": 2}
    assert Reading.objects.count() == 52
    assert Life.objects.get(mold__number="0001").cycles == 3 * 51
    counts = list(ImportBatch.objects.order_by("id").values_list("counts", flat=True))
    assert counts == [{"accepted": 50}, {"duplicate": 50, "accepted": 2}]


def test_two_values_for_one_minute_in_one_file_contradict_and_neither_wins_silently(
    plant: dict[str, Counter], doing: Doing
) -> None:
    content = "mold;at;reading\n0001;2026-04-13 06:00;312440\n0001;2026-04-13 06:00;312450\n"
    assert words(told(doing, opened(content))) == ["accepted", "held"]
    assert Verdict.objects.get(state=State.HELD).reason == "contradicts"


def test_a_repeated_row_is_a_duplicate_wherever_it_stands(
    plant: dict[str, Counter], doing: Doing
) -> None:
    lines = [
        "0001;2026-04-13 06:00;312440",
        "0001;2026-04-13 14:00;313265",
        "0001;2026-04-13 06:00;312440",
        "0001;2026-04-13 14:00;313265",
        "0001;2026-04-13 10:00;312800",
    ]
    content = "\n".join(["mold;at;reading", *lines])
    expected = ["accepted", "accepted", "duplicate", "duplicate", "accepted"]
    assert words(told(doing, opened(content))) == expected
    assert words(told(doing, opened(content))) == ["duplicate"] * 5


def test_a_held_row_that_comes_again_is_a_duplicate(
    plant: dict[str, Counter], doing: Doing
) -> None:
    content = "mold;at;reading\n0001;2026-04-13 06:00;11\n"
    assert words(told(doing, opened(content))) == ["held"]
    assert words(told(doing, opened(content))) == ["duplicate"]


def test_a_hand_in_that_comes_twice_is_answered_and_not_done_again(
    plant: dict[str, Counter], lead: Person, now: datetime
) -> None:
    doing = Doing(person=lead, now=now, hand_in=uuid4())
    first = bring_in(doing, file=opened(fifty()))
    second = bring_in(doing, file=opened(fifty()))
    assert first == second
    assert ImportBatch.objects.count() == 1


def test_a_technician_brings_in_no_files(
    plant: dict[str, Counter], technician: Person, now: datetime
) -> None:
    with pytest.raises(NotAllowed):
        bring_in(Doing(person=technician, now=now), file=opened(fifty()))
    with pytest.raises(NotAllowed):
        try_out(Doing(person=technician, now=now), file=opened(fifty()))


def test_what_a_file_brings_counts_like_what_people_type(
    plant: dict[str, Counter], lead: Person, now: datetime
) -> None:
    values = [(6, 312_440), (14, 313_265), (22, 31_410), (30, 315_100), (38, 2), (46, 316_900)]
    start = datetime(2026, 4, 13, tzinfo=UTC)
    lines = [f"0001;{(start + timedelta(hours=h)).isoformat()};{v}" for h, v in values]
    bring_in(Doing(person=lead, now=now), file=opened("\n".join(["mold;at;reading", *lines])))
    typed = counted("0005", author=lead, shown=312_000)
    refresh_counts(counters=[typed.pk])
    for hour, value in values:
        entry = ReadingEntry(counter=typed, at=start + timedelta(hours=hour), value=value)
        record_readings(Doing(person=lead, now=now), [entry])
    columns = ("state", "note", "reason", "cycles", "counter_total")

    def verdicts(counter: Counter) -> list[tuple[object, ...]]:
        rows = Verdict.objects.filter(reading__counter=counter).order_by("reading_id")
        return list(rows.values_list(*columns))

    assert verdicts(plant["0001"]) == verdicts(typed)
    lives = Life.objects.filter(mold__number__in=["0001", "0005"])
    assert len(set(lives.values_list("cycles", "held_count"))) == 1
    assert first_difference() is None


def test_a_reading_goes_to_the_counter_that_sat_there_then(
    plant: dict[str, Counter], lead: Person, doing: Doing
) -> None:
    press = factories.spot(number="3")
    mold = factories.mold(number="0300")
    start = datetime(2026, 4, 1, tzinfo=UTC)
    factories.set_in_press(mold, press=press, author=lead, at=start)
    counter = factories.counter(on=press, author=lead, at=start, value_shown=100, label="P-3")
    lines = ["0300;;2026-04-02 06:00;500", ";press 3;2026-04-02 14:00;700", ";3;2026-04-03;900"]
    content = "\n".join(["mold;press;at;reading", *lines])
    rows = told(doing, opened(content, time_of_day="06:00"))
    assert words(rows) == ["accepted"] * 3
    assert {row.counter for row in rows} == {"P-3"}
    assert Reading.objects.filter(counter=counter).count() == 3


def test_a_mold_that_nothing_counted_is_said(plant: dict[str, Counter], doing: Doing) -> None:
    factories.mold(number="0301")
    (row,) = told(doing, opened("mold;at;reading\n0301;2026-04-13 06:00;5\n"))
    assert row.verdict == "not_ours"
    assert "Nothing counted for mold 0301" in row.reason


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        ("0001;2026-04-13 06:00;12345678", "it ends at 9999999"),
        ("0001;2026-11-26 06:00;313000", "in the future"),
        ("0001;2026-02-13 06:00;312000", "before this counter was fitted"),
    ],
)
def test_what_cannot_be_a_reading_is_refused_and_the_rest_goes_in(
    line: str, sentence: str, plant: dict[str, Counter], doing: Doing
) -> None:
    content = f"mold;at;reading\n{line}\n0001;2026-04-13 14:00;313265\n"
    rows = told(doing, opened(content))
    assert words(rows) == ["refused", "accepted"]
    assert sentence in rows[0].reason


def test_a_text_that_is_not_ours_can_be_assigned(plant: dict[str, Counter], doing: Doing) -> None:
    content = "mold;at;reading\nWZ 17;2026-04-13 06:00;312440\n"
    assert words(told(doing, opened(content))) == ["not_ours"]
    answers = {"is:mold:WZ 17": "0001"}
    file = open_reading_file(
        io.BytesIO(content.encode()), name="x.csv", zone=BERLIN, answers=answers
    )
    assert words(told(doing, file)) == ["accepted"]
    # the value that waited is known: it is kept once
    assert Unassigned.objects.count() == 1


def test_how_columns_were_matched_is_remembered(plant: dict[str, Counter], doing: Doing) -> None:
    content = "WZ-Code;wann;Gesamt\n0001;2026-04-13 06:00;312440\n"
    keys = {"column:wz-code": "mold", "column:wann": "at", "column:gesamt": "value"}
    file = open_reading_file(io.BytesIO(content.encode()), name="x.csv", zone=BERLIN, answers=keys)
    assert words(told(doing, file)) == ["accepted"]
    later = content.replace("04-13", "04-14").replace("312440", "313000")
    assert words(told(doing, opened(later))) == ["accepted"]


def test_an_import_is_written_into_the_plants_logbook(
    plant: dict[str, Counter], doing: Doing
) -> None:
    answer = bring_in(doing, file=opened(fifty()))
    entry = Entry.objects.get(pk=answer.entry_id)
    assert entry.kind == "readings imported"
    assert "50 accepted" in entry.sentence


def test_questions_that_are_open_keep_their_rows_waiting(
    plant: dict[str, Counter], doing: Doing
) -> None:
    for name in OPEN:
        file = opened(example(name))
        waiting = Tally(words(told(doing, file, is_trial=True)))["needs_answer"]
        assert waiting == TAKEN[name]["needs_answer"]


def test_an_answer_lets_the_rows_in(plant: dict[str, Counter], doing: Doing) -> None:
    rows = told(doing, opened(example("day-or-month.csv"), dates="day_first"))
    assert "needs_answer" not in words(rows)


def test_both_mark_and_old_readings_are_judged_in_the_files_order(
    plant: dict[str, Counter], doing: Doing
) -> None:
    """Late rows that fit split a span, those that do not are held; the count stays the same."""
    late = [
        "0001;2026-04-13 14:00;313265",
        "0001;2026-04-13 10:00;312800",
        "0001;2026-04-13 11:00;313300",
    ]
    rows = told(doing, opened("\n".join(["mold;at;reading", *late])))
    assert words(rows) == ["accepted", "accepted", "held"]
    assert Life.objects.get(mold__number="0001").cycles == 1_265
