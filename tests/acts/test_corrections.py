import json
from datetime import date, datetime, timedelta
from uuid import uuid4

import pytest

from moldcare.acts import refresh
from moldcare.acts.corrections import correct_entry, take_back_completion
from moldcare.acts.doing import Doing
from moldcare.acts.errors import DoesNotFit, Incomplete, NotAllowed
from moldcare.care.models import Completion, TakenBack
from moldcare.logbook.models import Entry
from moldcare.logbook.queries import correction_of
from moldcare.logbook.verify import verify_logbook
from moldcare.molds.models import Mold
from moldcare.plant.models import Person, ShiftPattern, ShiftSlot
from moldcare.plant.queries import forget_calendars
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def refreshed(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The molds that were derived again."""
    seen: list[int] = []
    monkeypatch.setattr(refresh, "refresh_care", lambda *, molds: seen.extend(molds))
    return seen


@pytest.fixture
def mold(now: datetime) -> Mold:
    """A mold of a plant that works 06:00 to 14:00 and 14:00 to 22:00."""
    factories.plant()
    pattern = ShiftPattern.objects.create(valid_from=date(2026, 1, 1), written_at=now)
    for weekday in range(7):
        for name, starts, ends in (("early", "06:00", "14:00"), ("late", "14:00", "22:00")):
            ShiftSlot.objects.create(
                pattern=pattern, weekday=weekday, name=name, starts=starts, ends=ends
            )
    forget_calendars()
    return factories.mold(number="M-2041")


@pytest.fixture
def entry(mold: Mold, technician: Person, now: datetime) -> Entry:
    return factories.entry(
        mold.chain,
        author=technician,
        at=now - timedelta(minutes=30),
        sentence="Flow of circuit B2: 11.9 l/min.",
        facts={"flow_l_min": "11.9", "circuit": "B2"},
    )


def test_a_correction_is_a_further_entry_and_both_stay(
    doing: Doing, entry: Entry, mold: Mold
) -> None:
    answer = correct_entry(
        doing,
        entry=entry,
        sentence="Flow of circuit B2: 10.9 l/min.",
        facts={"flow_l_min": "10.9"},
        reason="digits swapped",
    )
    first, second = Entry.objects.filter(chain=mold.chain).order_by("number")
    assert first.sentence == "Flow of circuit B2: 11.9 l/min."
    assert (second.number, second.corrects) == (answer.entry_number, first)
    assert second.sentence == (
        "Corrects entry 1: Flow of circuit B2: 10.9 l/min. Reason: digits swapped."
    )
    facts = json.loads(second.facts)
    assert facts["changed"] == ["flow_l_min"]
    assert facts["facts"] == {"flow_l_min": "10.9", "circuit": "B2"}
    assert second.happened_at == first.happened_at
    assert correction_of(first) == second
    assert verify_logbook().is_whole


def test_a_correction_is_corrected_in_its_turn(doing: Doing, entry: Entry, mold: Mold) -> None:
    correct_entry(doing, entry=entry, facts={"flow_l_min": "10.9"}, reason="digits swapped")
    with pytest.raises(DoesNotFit, match="corrected by entry 2"):
        correct_entry(doing, entry=entry, facts={"flow_l_min": "9.9"}, reason="again")
    second = Entry.objects.get(chain=mold.chain, number=2)
    correct_entry(doing, entry=second, facts={"circuit": "B1"}, reason="the other circuit")
    third = Entry.objects.get(chain=mold.chain, number=3)
    facts = json.loads(third.facts)
    assert facts["facts"] == {"flow_l_min": "10.9", "circuit": "B1"}
    assert (facts["corrected_kind"], third.corrects) == ("note", second)


def test_a_correction_needs_a_reason_and_something_to_change(doing: Doing, entry: Entry) -> None:
    with pytest.raises(Incomplete):
        correct_entry(doing, entry=entry, sentence="Otherwise.", reason=" ")
    with pytest.raises(DoesNotFit, match="Nothing would change"):
        correct_entry(doing, entry=entry, facts={"circuit": "B2"}, reason="looked again")
    assert Entry.objects.count() == 1


def test_the_same_hand_in_twice_is_one_correction(doing: Doing, entry: Entry) -> None:
    named = Doing(person=doing.person, now=doing.now, hand_in=uuid4())
    first = correct_entry(named, entry=entry, sentence="Otherwise.", reason="wrong")
    assert correct_entry(named, entry=entry, sentence="Otherwise.", reason="wrong") == first
    assert Entry.objects.count() == 2


def test_technicians_correct_their_own_in_the_shift_that_runs(
    entry: Entry, technician: Person, now: datetime
) -> None:
    other = factories.person(name="Nils Ortega")
    with pytest.raises(NotAllowed, match="Tomas Breuer wrote"):
        correct_entry(Doing(person=other, now=now), entry=entry, sentence="-", reason="wrong")
    # the early shift ends at 14:00, which is 13:00 UTC
    late = Doing(person=technician, now=datetime.fromisoformat("2026-11-25T13:00Z"))
    with pytest.raises(NotAllowed, match="not written in the shift"):
        correct_entry(late, entry=entry, sentence="-", reason="wrong")
    in_time = Doing(person=technician, now=datetime.fromisoformat("2026-11-25T12:59:59Z"))
    assert correct_entry(in_time, entry=entry, sentence="-", reason="wrong").entry_number == 2


def test_next_day_at_the_same_time_is_another_shift(
    entry: Entry, technician: Person, now: datetime
) -> None:
    tomorrow = Doing(person=technician, now=now + timedelta(days=1))
    with pytest.raises(NotAllowed):
        correct_entry(tomorrow, entry=entry, sentence="-", reason="wrong")


def test_outside_all_shifts_only_a_lead_corrects(
    doing: Doing, mold: Mold, technician: Person, reader: Person
) -> None:
    night = datetime.fromisoformat("2026-11-25T02:00Z")
    row = factories.entry(mold.chain, author=technician, at=night)
    for person in (technician, reader):
        with pytest.raises(NotAllowed):
            correct_entry(Doing(person=person, now=night), entry=row, sentence="-", reason="x")
    assert correct_entry(doing, entry=row, sentence="-", reason="x").entry_number == 2


def completion(entry: Entry, mold: Mold, *, covering: Completion | None = None) -> Completion:
    return Completion.objects.create(
        rule=factories.care_rule(mold=mold),
        happened_at=entry.happened_at,
        covering=covering,
        person=entry.author,
        entry=entry,
        written_at=entry.written_at,
    )


def test_a_completion_is_taken_back_with_what_it_covered(
    doing: Doing, entry: Entry, mold: Mold, refreshed: list[int]
) -> None:
    own = completion(entry, mold)
    under = completion(entry, mold, covering=own)
    other = completion(entry, mold)
    answer = take_back_completion(doing, completion=own, reason="wrong mold was ticked")
    row = Entry.objects.get(pk=answer.entry_pk)
    assert row.corrects == entry
    assert own.rule.name in row.sentence
    assert under.rule.name in row.sentence
    assert set(TakenBack.objects.values_list("completion", flat=True)) == {own.pk, under.pk}
    assert refreshed == [mold.pk]
    with pytest.raises(DoesNotFit, match="already"):
        take_back_completion(doing, completion=own, reason="again")
    take_back_completion(doing, completion=other, reason="this one too")
    # the entry's words may still be corrected
    assert correct_entry(doing, entry=entry, sentence="Not done.", reason="wrong mold")


def test_a_technician_takes_back_only_their_own(entry: Entry, mold: Mold, now: datetime) -> None:
    row = completion(entry, mold)
    other = factories.person(name="Nils Ortega")
    with pytest.raises(NotAllowed):
        take_back_completion(Doing(person=other, now=now), completion=row, reason="not done")
    assert not TakenBack.objects.exists()
