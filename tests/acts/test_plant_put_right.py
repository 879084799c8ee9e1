"""What was entered wrong of shifts and rates is put right by a later word; what is over stays."""

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction

from moldcare.acts.doing import Doing
from moldcare.acts.errors import DoesNotFit, Incomplete, NotAllowed, NotFound
from moldcare.acts.plant import add_rate, add_shift_pattern, set_plant, take_back_pattern
from moldcare.core.shifts import ShiftSlot as Slot
from moldcare.facts import as_written_by
from moldcare.logbook.models import Entry
from moldcare.plant.models import Person, Rate, ShiftPattern, Spot
from moldcare.plant.queries import pattern_on, patterns_in_force, rate_on, the_calendar, the_plant
from tests import factories

pytestmark = pytest.mark.django_db

# the day of `now`: a Wednesday
TODAY = date(2026, 11, 25)
AHEAD = date(2026, 12, 7)
EARLIER = date(2026, 1, 5)


def week(*names: str) -> Sequence[Slot]:
    starts = (time(6), time(14), time(22))
    ends = (time(14), time(22), time(6))
    return [
        Slot(weekday=weekday, name=name, starts=starts[place], ends=ends[place])
        for weekday in range(5)
        for place, name in enumerate(names)
    ]


def names_on(on: date) -> list[str]:
    return [shift.name for shift in the_calendar(the_plant()).shifts_of(on)]


@pytest.fixture
def plant(doing: Doing) -> None:
    factories.plant(zone="Europe/Berlin", currency="EUR")
    add_shift_pattern(doing, valid_from=EARLIER, slots=week("early", "late"))


@pytest.mark.usefixtures("plant")
@pytest.mark.parametrize("begins_on", [TODAY, AHEAD])
def test_a_week_that_no_day_was_worked_by_is_written_again(doing: Doing, begins_on: date) -> None:
    add_shift_pattern(doing, valid_from=begins_on, slots=week("erly"))
    add_shift_pattern(doing, valid_from=begins_on, slots=week("early", "late", "night"))

    assert names_on(begins_on) == ["early", "late", "night"]
    assert names_on(begins_on - timedelta(days=7)) == ["early", "late"]
    # both rows stay, and one of them counts
    assert ShiftPattern.objects.filter(valid_from=begins_on).count() == 2
    assert [row.valid_from for row in patterns_in_force()] == [EARLIER, begins_on]
    entry = Entry.objects.latest("id")
    assert "take the place of those that were entered before" in entry.sentence


@pytest.mark.usefixtures("plant")
@pytest.mark.parametrize("begins_on", [TODAY, AHEAD])
def test_a_week_that_no_day_was_worked_by_is_taken_back(doing: Doing, begins_on: date) -> None:
    written = add_shift_pattern(doing, valid_from=begins_on, slots=week("early"))
    row = ShiftPattern.objects.get(pk=written.row_id)
    with pytest.raises(Incomplete, match="reason"):
        take_back_pattern(doing, pattern=row, reason=" ")
    assert names_on(begins_on) == ["early"]

    twice = Doing(person=doing.person, now=doing.now, hand_in=uuid4())
    first = take_back_pattern(twice, pattern=row, reason="the order was called off")
    assert take_back_pattern(twice, pattern=row, reason="the order was called off") == first
    assert names_on(begins_on) == ["early", "late"]
    assert "the order was called off" in Entry.objects.latest("id").sentence
    with pytest.raises(NotFound, match="already"):
        take_back_pattern(doing, pattern=row, reason="once more")

    add_shift_pattern(doing, valid_from=begins_on, slots=week("early", "late", "night"))
    assert names_on(begins_on) == ["early", "late", "night"]


@pytest.mark.usefixtures("plant")
def test_a_week_that_was_worked_is_not_taken_back(doing: Doing, technician: Person) -> None:
    row = pattern_on(TODAY)
    assert row is not None
    with pytest.raises(DoesNotFit, match="were worked by this week"):
        take_back_pattern(doing, pattern=row, reason="wrong")
    with pytest.raises(NotAllowed):
        take_back_pattern(Doing(person=technician, now=doing.now), pattern=row, reason="wrong")
    assert pattern_on(TODAY) == row


@pytest.mark.usefixtures("plant")
def test_what_was_known_before_a_week_was_taken_back_is_still_known(doing: Doing) -> None:
    written = add_shift_pattern(doing, valid_from=AHEAD, slots=week("early"))
    later = Doing(person=doing.person, now=doing.now + timedelta(hours=1))
    row = ShiftPattern.objects.get(pk=written.row_id)
    take_back_pattern(later, pattern=row, reason="called off")
    with as_written_by(doing.now):
        assert pattern_on(AHEAD) == row
    found = pattern_on(AHEAD)
    assert found is not None
    assert found.valid_from == EARLIER


def amount(on: date, spot: Spot | None = None) -> str:
    rate = rate_on(on, kind="press", spot=spot)
    return f"{rate.amount} {rate.currency}" if rate else "none"


@pytest.mark.usefixtures("plant")
def test_a_rate_of_this_month_is_put_right_and_months_before_stay(managing: Doing) -> None:
    add_rate(managing, kind="press", amount=Decimal("80.00"), valid_from=date(2026, 1, 1))
    month = date(2026, 11, 1)
    for typed in ("820.00", "82.00"):
        add_rate(managing, kind="press", amount=Decimal(typed), valid_from=month)
    assert amount(TODAY) == "82.00 EUR"
    assert amount(date(2026, 10, 31)) == "80.00 EUR"
    assert Rate.objects.count() == 3
    assert "in place of what was written before" in Entry.objects.latest("id").sentence
    with pytest.raises(DoesNotFit, match="there already"):
        add_rate(managing, kind="press", amount=Decimal("82.00"), valid_from=month)


@pytest.mark.usefixtures("plant")
def test_a_press_has_a_rate_of_its_own_until_it_has_none(managing: Doing) -> None:
    press = factories.spot(number="7")
    for spot in (press, None):
        with pytest.raises(DoesNotFit, match="could end"):
            add_rate(managing, kind="press", amount=None, valid_from=AHEAD, spot=spot)
    add_rate(managing, kind="press", amount=Decimal("80.00"), valid_from=EARLIER)
    add_rate(managing, kind="press", amount=Decimal("95.00"), valid_from=TODAY, spot=press)
    add_rate(managing, kind="press", amount=None, valid_from=AHEAD, spot=press)
    assert [amount(on, press) for on in (EARLIER, TODAY, AHEAD)] == [
        "80.00 EUR",
        "95.00 EUR",
        "80.00 EUR",
    ]
    with pytest.raises(DoesNotFit, match="could end"):
        add_rate(managing, kind="press", amount=None, valid_from=date(2026, 12, 8), spot=press)


@pytest.mark.usefixtures("plant")
def test_a_rate_stays_in_the_currency_that_it_was_written_in(managing: Doing) -> None:
    add_rate(managing, kind="press", amount=Decimal("80.00"), valid_from=EARLIER)
    set_plant(managing, changes={"currency": "USD"})
    assert amount(TODAY) == "80.00 EUR"
    # the same figure in the new currency is another rate
    add_rate(managing, kind="press", amount=Decimal("80.00"), valid_from=date(2026, 11, 1))
    assert amount(TODAY) == "80.00 USD"
    assert amount(date(2026, 10, 31)) == "80.00 EUR"


def test_a_rate_for_all_has_an_amount_in_the_database(now: datetime) -> None:
    with (
        pytest.raises(IntegrityError, match="plant_rate_general_has_amount"),
        transaction.atomic(),
    ):
        Rate.objects.create(kind="crew", currency="EUR", valid_from=TODAY, written_at=now)
