"""What the setup asks of the plant: spots in order, who is qualified, what lapses."""

from datetime import UTC, date, datetime

import pytest

from moldcare.facts import as_written_by
from moldcare.plant.models import Person, Qualification, ShiftException
from moldcare.plant.queries import (
    days_that_differ,
    lapsing,
    qualifications_on,
    spots_in_order,
    the_calendar,
    the_plant,
)
from tests import factories

pytestmark = pytest.mark.django_db

AT = datetime(2026, 1, 5, 6, tzinfo=UTC)
LATER = datetime(2026, 2, 5, 6, tzinfo=UTC)


def qualify(person: Person, subject: str, *, start: date, end: date | None, **more: object) -> None:
    Qualification.objects.create(
        person=person,
        subject=subject,
        evidence="course",
        valid_from=start,
        valid_to=end,
        written_at=AT,
        **more,
    )


def test_spots_stand_by_kind_and_as_people_count() -> None:
    for kind, number in (
        ("rack", "R10"),
        ("rack", "R2"),
        ("press", "10"),
        ("press", "9"),
        ("away", "polisher"),
        ("bench", "1"),
        ("rack", "R2b"),
    ):
        factories.spot(kind=kind, number=number)
    assert [spot.number for spot in spots_in_order()] == [
        *("9", "10"),
        "1",
        *("R2", "R2b", "R10"),
        "polisher",
    ]


def test_the_newest_word_on_a_qualification_counts(technician: Person) -> None:
    start = date(2025, 1, 1)
    qualify(technician, "hot runner", start=start, end=date(2026, 1, 31))
    qualify(technician, "hot runner", start=date(2026, 1, 10), end=date(2028, 1, 10))
    qualify(technician, "lifting gear", start=start, end=None)
    qualify(technician, "welding", start=start, end=date(2026, 2, 1))
    qualify(technician, "welding", start=date(2026, 1, 5), end=None, is_withdrawn=True)

    def on(day: date) -> dict[str, date | None]:
        return {row.subject: row.ends_on for row in qualifications_on(day)}

    assert on(date(2026, 1, 4)) == {
        "hot runner": date(2026, 1, 31),
        "lifting gear": None,
        "welding": date(2026, 2, 1),
    }
    assert on(date(2026, 1, 20)) == {"hot runner": date(2028, 1, 10), "lifting gear": None}
    assert qualifications_on(date(2026, 1, 20), people=[technician.pk + 1]) == []


def test_what_lapses_comes_in_the_order_of_its_end_and_only_of_who_is_there(
    technician: Person,
) -> None:
    gone = factories.person(is_active=False)
    start = date(2025, 1, 1)
    qualify(technician, "welding", start=start, end=date(2026, 3, 1))
    qualify(technician, "lifting gear", start=start, end=date(2026, 1, 1))
    qualify(technician, "hot runner", start=start, end=date(2027, 1, 1))
    qualify(gone, "welding", start=start, end=date(2026, 1, 20))
    found = lapsing(date(2026, 1, 10), within_days=60)
    assert [row.subject for row in found] == ["lifting gear", "welding"]


def test_what_was_taken_back_later_still_held_before(now: datetime) -> None:
    factories.plant()
    factories.three_shifts()
    holiday = date(2026, 5, 1)
    row = ShiftException.objects.create(
        on=holiday, is_worked=False, reason="holiday", written_at=AT
    )
    ShiftException.objects.create(
        on=holiday, is_worked=True, reason="no holiday", takes_back=row, written_at=LATER
    )
    assert not days_that_differ().exists()
    assert len(the_calendar(the_plant()).shifts_of(holiday)) == 3
    with as_written_by(AT):
        assert list(days_that_differ()) == [row]
        assert the_calendar(the_plant()).shifts_of(holiday) == ()
