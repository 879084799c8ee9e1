"""Readings through the acts: rounds, devices, decisions, and that going on equals starting over."""

import io
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest
from django.db import transaction
from hypothesis import given, settings
from hypothesis import strategies as st

from moldcare.acts.counters import say_rollover
from moldcare.acts.doing import Doing
from moldcare.acts.errors import DoesNotFit, HandedInDifferently, Incomplete, NotAllowed
from moldcare.acts.molds import change_cycle_time
from moldcare.acts.readings import (
    ReadingEntry,
    accept_reading,
    correct_reading,
    record_readings,
    restart_from_reading,
    set_reading_aside,
)
from moldcare.acts.rebuild import first_difference
from moldcare.acts.refresh import refresh_counts
from moldcare.core.counting.values import Note, State
from moldcare.core.errors import ReadingRefused
from moldcare.counters.doubts import doubt_about, proposals_for
from moldcare.counters.models import Counter, Life, Reading, Verdict
from moldcare.counters.queries import verdict_on
from moldcare.feeds.bring_in import bring_in
from moldcare.feeds.reading_files import open_reading_file
from moldcare.logbook.models import Entry
from moldcare.molds.models import Mold
from moldcare.plant.models import Person
from tests import factories

START = datetime(2026, 4, 13, 4, tzinfo=UTC)


def counted(
    author: Person, *, digits: int | None = 6, shown: int | None = 0, cycle: str = "30.0"
) -> Counter:
    """A mold with a counter of its own since the beginning of April."""
    since = START - timedelta(days=12)
    mold = factories.mold(opening_at=since)
    factories.cycle_time(mold, author=author, standard_s=cycle, valid_from=since)
    counter = factories.counter(on=mold, author=author, at=since, value_shown=shown, digits=digits)
    refresh_counts(counters=[counter.pk])
    return counter


def mold_of(counter: Counter) -> Mold:
    mold = counter.fittings.get().mold
    assert mold is not None
    return mold


def life(counter: Counter) -> Life:
    return Life.objects.get(mold=mold_of(counter))


def read(
    author: Person, counter: Counter, value: int, *, hours: float, **more: object
) -> Verdict | None:
    """Read a counter so many hours after the start, and return what became of it."""
    at = START + timedelta(hours=hours)
    entry = ReadingEntry(counter=counter, at=at, value=value, **more)  # type: ignore[arg-type]
    (answer,) = record_readings(Doing(person=author, now=at), [entry])
    return verdict_on(answer.reading_id)


@pytest.fixture
def counter(lead: Person) -> Counter:
    factories.plant()
    return counted(lead)


def states(counter: Counter) -> list[State]:
    rows = Verdict.objects.filter(reading__counter=counter).order_by("reading_id")
    return [State(row.state) for row in rows]


ACCEPTED, HELD, SET_ASIDE = State.ACCEPTED, State.HELD, State.SET_ASIDE


def test_answers_stand_in_the_order_of_the_entries(
    lead: Person, counter: Counter, now: datetime
) -> None:
    other = counted(lead)
    doing = Doing(person=lead, now=now)
    first = ReadingEntry(counter=counter, at=START, value=500)
    record_readings(doing, [first])
    answers = record_readings(
        doing, [ReadingEntry(counter=other, at=START, value=40), first, first]
    )
    assert [(each.counter_id, each.verdict) for each in answers] == [
        (other.pk, "accepted"),
        (counter.pk, "duplicate"),
        (counter.pk, "duplicate"),
    ]
    assert answers[1].reading_id == Reading.objects.get(counter=counter).pk


def test_one_that_cannot_be_a_reading_refuses_all_unless_the_good_ones_are_kept(
    lead: Person, counter: Counter, now: datetime
) -> None:
    doing = Doing(person=lead, now=now)
    entries = [
        ReadingEntry(counter=counter, at=START, value=10**6),
        ReadingEntry(counter=counter, at=START + timedelta(hours=1), value=90),
    ]
    with pytest.raises(ReadingRefused, match="ends at 999999"):
        record_readings(doing, entries)
    assert not Reading.objects.exists()
    refused, taken = record_readings(doing, entries, keep_good=True)
    assert (refused.verdict, refused.reading_id) == ("refused", 0)
    assert "ends at 999999" in refused.reason
    assert taken.verdict == "accepted"


def test_a_device_whose_clock_is_off_is_held_with_the_time_put_right_as_proposal(
    lead: Person, counter: Counter
) -> None:
    """A tablet three hours ahead hands in what it queued: never stuck, never lost."""
    at = START + timedelta(hours=11)
    arrived = START + timedelta(hours=8)
    entry = ReadingEntry(counter=counter, at=at, value=900, source=Reading.Source.DEVICE)
    (answer,) = record_readings(Doing(person=lead, now=arrived), [entry])
    assert (answer.verdict, answer.reason) == ("held", "clock_is_off")
    verdict = verdict_on(answer.reading_id)
    assert verdict is not None
    (proposal,) = proposals_for([verdict])[verdict.pk]
    assert proposal.at_us is not None
    correct_reading(
        Doing(person=lead, now=arrived), reading=verdict.reading, at=arrived, reason="clock"
    )
    assert life(counter).cycles == 900
    assert states(counter) == [SET_ASIDE, ACCEPTED]


def test_a_wrong_reading_that_was_possible_is_named_by_the_later_ones(
    lead: Person,
) -> None:
    factories.plant()
    counter = counted(lead, digits=5, shown=40_000, cycle="20.0")
    read(lead, counter, 40_120, hours=0)
    wrong = read(lead, counter, 48_120, hours=60)
    later = [read(lead, counter, value, hours=h) for value, h in ((40_290, 61), (40_460, 62))]
    assert states(counter) == [ACCEPTED, ACCEPTED, HELD, HELD]
    assert wrong is not None
    for verdict in (wrong, *later):
        assert verdict is not None
        doubt = doubt_about(Verdict.objects.select_related("reading__counter").get(pk=verdict.pk))
        assert doubt.odd is not None
        assert (doubt.odd.reading.value, doubt.odd.witnesses) == (48_120, 2)
    doing = Doing(person=lead, now=START + timedelta(hours=63))
    set_reading_aside(doing, reading=wrong.reading, reason="the press stood")
    assert states(counter) == [ACCEPTED, SET_ASIDE, ACCEPTED, ACCEPTED]
    assert life(counter).cycles == 120 + 340
    assert Reading.objects.count() == 4


def test_a_stale_cycle_is_said_with_the_pace_and_a_new_one_judges_again(
    lead: Person, counter: Counter
) -> None:
    # 20 s a cycle is 1,440 in 8 h; 30 s allow 1,131
    for n in range(5):
        read(lead, counter, 500 + 1_440 * n, hours=8 * n)
    assert states(counter) == [ACCEPTED, HELD, HELD, HELD, HELD]
    newest = Verdict.objects.select_related("reading__counter").latest("reading_id")
    doubt = doubt_about(newest)
    assert doubt.stale_cycle_s == pytest.approx(20.0, rel=0.01)
    assert doubt.stale_readings == 3
    change_cycle_time(
        Doing(person=lead, now=START + timedelta(hours=33)),
        mold=mold_of(counter),
        standard_s=Decimal("20.0"),
        shortest_s=None,
        valid_from=START - timedelta(days=12),
        reason="faster since the new controller",
    )
    assert HELD not in states(counter)
    assert life(counter).cycles == 500 + 1_440 * 4


def test_where_a_counter_begins_again_can_be_said_and_judges_again(lead: Person) -> None:
    factories.plant()
    counter = counted(lead, digits=None, shown=65_400, cycle="20.0")
    read(lead, counter, 65_500, hours=6)
    low = read(lead, counter, 40, hours=6.5)
    assert low is not None
    assert low.state == HELD
    kinds = {(each.kind, each.wrap) for each in proposals_for([low])[low.pk]}
    assert ("wrap", 65_536) in kinds
    doing = Doing(person=lead, now=START + timedelta(hours=7))
    with pytest.raises(Incomplete):
        say_rollover(doing, counter=counter, rollover=65_536, reason=" ")
    with pytest.raises(DoesNotFit, match="showed 65500 once"):
        say_rollover(doing, counter=counter, rollover=10_000, reason="four wheels")
    say_rollover(doing, counter=counter, rollover=65_536, reason="a 16-bit register")
    verdict = Verdict.objects.get(pk=low.pk)
    assert (State(verdict.state), verdict.cycles) == (ACCEPTED, 76)
    assert Note.ROLLED_OVER in Note(verdict.note)
    entry = Entry.objects.get(kind="counter_rollover")
    assert entry.chain == mold_of(counter).chain
    assert "65536" in entry.sentence
    assert first_difference() is None


def test_a_page_opened_before_a_rollover_was_said_judges_by_what_is_known_now(
    lead: Person,
) -> None:
    counter = counted(lead, digits=None, shown=65_000)
    read(lead, counter, 65_400, hours=8)
    doing = Doing(person=lead, now=START + timedelta(hours=9))
    say_rollover(doing, counter=counter, rollover=65_536, reason="a 16-bit register")
    opened_before = Counter.objects.get(pk=counter.pk)
    say_rollover(doing, counter=counter, rollover=100_000, reason="it has five wheels")
    verdict = read(lead, opened_before, 300, hours=16)
    assert verdict is not None
    assert verdict.state == HELD
    assert first_difference() is None


def test_only_who_may_exchange_counters_says_where_one_begins_again(
    lead: Person, technician: Person, counter: Counter, now: datetime
) -> None:
    with pytest.raises(NotAllowed):
        say_rollover(
            Doing(person=technician, now=now), counter=counter, rollover=65_536, reason="so"
        )


def test_decisions_need_a_lead_and_a_reason(
    lead: Person, technician: Person, counter: Counter, now: datetime
) -> None:
    read(lead, counter, 500, hours=6)
    held = read(lead, counter, 50, hours=7)
    assert held is not None
    with pytest.raises(NotAllowed):
        accept_reading(Doing(person=technician, now=now), reading=held.reading, reason="so")
    with pytest.raises(Incomplete):
        accept_reading(Doing(person=lead, now=now), reading=held.reading, reason=" ")
    restart_from_reading(Doing(person=lead, now=now), reading=held.reading, reason="power cut")
    read(lead, counter, 110, hours=8)
    assert life(counter).cycles == 560


def test_the_same_hand_in_with_other_content_is_refused(
    lead: Person, counter: Counter, now: datetime
) -> None:
    doing = Doing(person=lead, now=now, hand_in=uuid4())
    first = [ReadingEntry(counter=counter, at=START, value=100)]
    assert record_readings(doing, first) == record_readings(doing, first)
    with pytest.raises(HandedInDifferently):
        record_readings(doing, [ReadingEntry(counter=counter, at=START, value=101)])
    assert Reading.objects.count() == 1


KINDS = ("true", "slip", "zero", "jump", "late", "same", "estimated")
ROUNDS = st.lists(
    st.tuples(
        st.integers(1, 30),
        st.booleans(),
        st.lists(st.tuples(st.integers(0, 2), st.sampled_from(KINDS)), min_size=1, max_size=4),
        st.sampled_from(["", "", "accept", "aside", "restart", "correct"]),
    ),
    min_size=1,
    max_size=7,
)


def _value(true: int, kind: str) -> int:
    return {
        "slip": int(str(true)[:-1] or "0"),
        "zero": 0,
        "jump": true + 90_000,
        "late": max(0, true - 40),
    }.get(kind, true)


@settings(max_examples=30)
@given(rounds=ROUNDS)
@pytest.mark.django_db
def test_going_on_from_what_is_derived_equals_deriving_it_all(
    rounds: list[tuple[int, bool, list[tuple[int, str]], str]],
) -> None:
    """Rounds typed or brought in as files, good and bad, with decisions between them."""
    with transaction.atomic():
        factories.begin_again()
        _go_through(rounds)
        transaction.set_rollback(True)


def _go_through(rounds: list[tuple[int, bool, list[tuple[int, str]], str]]) -> None:
    factories.plant()
    lead = factories.person(role="lead")
    counters = [counted(lead), counted(lead, shown=None), counted(lead, digits=4, shown=9_500)]
    hours, true = 0, [0, 300, 9_500]
    for elapsed, is_file, values, decision in rounds:
        hours += elapsed
        now = START + timedelta(hours=hours)
        doing = Doing(person=lead, now=now)
        true = [each + elapsed * 60 for each in true]
        entries = []
        for place, kind in values:
            value = _value(true[place], kind) % (10**4 if place == 2 else 10**6)
            at = now - timedelta(hours=elapsed / 2) if kind == "late" else now
            source = "estimated" if kind == "estimated" and not is_file else "typed"
            entries.append(ReadingEntry(counter=counters[place], at=at, value=value, source=source))
        if is_file:
            lines = [f"{each.counter.label};{each.at.isoformat()};{each.value}" for each in entries]
            content = "\n".join(["counter;at;reading", *lines]).encode()
            file = open_reading_file(
                io.BytesIO(content), name="x.csv", zone=ZoneInfo("Europe/Berlin")
            )
            bring_in(doing, file=file)
        else:
            record_readings(doing, entries)
        _decide(doing, decision)
    difference = first_difference()
    assert difference is None, str(difference)


def _decide(doing: Doing, decision: str) -> None:
    held = Verdict.objects.filter(state=State.HELD).order_by("-reading_id").first()
    verdict = held and verdict_on(held.pk)
    if not decision or verdict is None:
        return
    reading = verdict.reading
    if decision == "accept":
        accept_reading(doing, reading=reading, reason="looked at")
    elif decision == "aside":
        set_reading_aside(doing, reading=reading, reason="misread")
    elif decision == "restart":
        restart_from_reading(doing, reading=reading, reason="reset")
    else:
        proposals = [each for each in proposals_for([verdict])[verdict.pk] if each.kind == "slip"]
        if proposals and proposals[0].value is not None:
            correct_reading(doing, reading=reading, value=proposals[0].value, reason="slip")
