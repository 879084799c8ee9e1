from datetime import UTC, date, datetime, time
from decimal import Decimal

import pytest

from moldcare.acts.doing import Doing
from moldcare.acts.errors import DoesNotFit, Incomplete, NotAllowed
from moldcare.acts.floor import move_mold
from moldcare.acts.plant import (
    add_rate,
    add_shift_exception,
    add_shift_pattern,
    add_spot,
    edit_spot,
    set_plant,
)
from moldcare.core.errors import ShiftsContradict
from moldcare.core.shifts import ShiftSlot as Slot
from moldcare.logbook.models import Entry
from moldcare.plant.models import Person, Plant, Rate, ShiftPattern, Spot
from moldcare.plant.queries import rate_on, spots_in_use, the_calendar, the_plant
from tests import factories

pytestmark = pytest.mark.django_db

TWO_SHIFTS = [
    Slot(weekday=weekday, name=name, starts=starts, ends=ends)
    for weekday in range(5)
    for name, starts, ends in (
        ("early", time(6), time(14)),
        ("late", time(14), time(22)),
    )
]


def test_the_plant_is_one_record_that_is_set_up_and_changed(doing: Doing) -> None:
    set_plant(doing, changes={"name": "Molding plant 2", "zone": "America/Chicago"})
    set_plant(doing, changes={"paper": "Letter"})

    plant = Plant.objects.get()
    assert (plant.zone, plant.paper) == ("America/Chicago", "Letter")
    assert [entry.sentence for entry in Entry.objects.all()] == [
        "Plant Molding plant 2 set up, time zone America/Chicago.",
        "Plant changed: paper: A4 → US Letter.",
    ]


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"zone": "Mars/Olympus"}, "no time zone"),
        ({"zone": "../etc/passwd"}, "no time zone"),
        ({"clock_error_s": 3601}, "an hour at most"),
        ({"reading_age_shifts": 0}, "Shifts"),
        ({"paper": "A7"}, "Paper"),
        ({"name": "x" * 121}, "120"),
        ({"name": ""}, "Name"),
    ],
)
def test_a_plant_that_cannot_be_is_refused(
    doing: Doing, changes: dict[str, object], told: str
) -> None:
    with pytest.raises(Incomplete, match=told):
        set_plant(doing, changes={"name": "Plant 2", **changes})
    assert not Plant.objects.exists()


def test_shifts_are_worked_from_their_date_on(doing: Doing) -> None:
    factories.plant(zone="Europe/Berlin")
    add_shift_pattern(doing, valid_from=date(2026, 1, 5), slots=TWO_SHIFTS)

    found = the_calendar(the_plant()).shift_at(datetime(2026, 11, 25, 6, 12, tzinfo=UTC))
    assert found is not None
    assert (found.name, found.starts_at) == ("early", datetime(2026, 11, 25, 5, tzinfo=UTC))


def test_shifts_that_overlap_leave_nothing_behind(doing: Doing) -> None:
    factories.plant()
    wrong = [*TWO_SHIFTS, Slot(weekday=0, name="extra", starts=time(13), ends=time(15))]
    with pytest.raises(ShiftsContradict, match="overlap"):
        add_shift_pattern(doing, valid_from=date(2026, 1, 5), slots=wrong)
    with pytest.raises(Incomplete):
        add_shift_pattern(doing, valid_from=date(2026, 1, 5), slots=[])
    assert not ShiftPattern.objects.exists()
    assert not Entry.objects.exists()
    assert the_calendar(the_plant()).shift_at(doing.now) is None


def test_an_exception_takes_a_shift_out_of_the_calendar_and_back_in(doing: Doing) -> None:
    factories.plant()
    add_shift_pattern(doing, valid_from=date(2026, 1, 5), slots=TWO_SHIFTS)
    holiday = date(2026, 11, 25)
    with pytest.raises(ShiftsContradict, match="night"):
        add_shift_exception(
            doing, on=holiday, shift_name="night", is_worked=False, reason="holiday"
        )
    with pytest.raises(Incomplete, match="reason"):
        add_shift_exception(doing, on=holiday, is_worked=False, reason="")

    add_shift_exception(doing, on=holiday, is_worked=False, reason="holiday")
    assert the_calendar(the_plant()).shift_at(doing.now) is None
    add_shift_exception(doing, on=holiday, is_worked=True, reason="worked after all")
    assert the_calendar(the_plant()).shift_at(doing.now) is not None


def test_a_spot_goes_out_of_use_when_nothing_is_there(doing: Doing) -> None:
    add_spot(doing, kind="rack", number="B4")
    rack = Spot.objects.get()
    mold = factories.counted_mold(number="M-1")
    move_mold(doing, mold=mold, to=rack, at=doing.now)
    with pytest.raises(DoesNotFit, match="M-1 is there"):
        edit_spot(doing, spot=rack, changes={"is_in_use": False})
    with pytest.raises(Incomplete):
        edit_spot(doing, spot=rack, changes={"kind": "press"})
    with pytest.raises(Incomplete):
        add_spot(doing, kind="rack", number="B4")
    with pytest.raises(Incomplete):
        add_spot(doing, kind="shelf", number="1")

    add_spot(doing, kind="rack", number="B5")
    other = Spot.objects.get(number="B5")
    edit_spot(doing, spot=other, changes={"is_in_use": False})
    assert list(spots_in_use(kinds=["rack"])) == [rack]
    with pytest.raises(DoesNotFit, match="not in use"):
        move_mold(doing, mold=mold, to=other, at=doing.now)


def test_a_changed_rate_never_moves_a_past_month_s_money(managing: Doing) -> None:
    factories.plant()
    press = factories.spot(number="7")
    add_rate(managing, kind="press", amount=Decimal(80), valid_from=date(2026, 1, 1))

    for spot in (None, press):
        with pytest.raises(DoesNotFit, match="months that are over"):
            add_rate(
                managing,
                kind="press",
                amount=Decimal(95),
                valid_from=date(2026, 10, 31),
                spot=spot,
            )
    add_rate(managing, kind="press", amount=Decimal(95), valid_from=date(2026, 11, 1), spot=press)

    def amount(on: date, spot: Spot | None) -> Decimal | None:
        rate = rate_on(on, kind="press", spot=spot)
        return rate.amount if rate else None

    assert amount(date(2026, 10, 31), press) == 80
    assert amount(date(2026, 11, 1), press) == 95
    assert amount(date(2026, 11, 1), None) == 80
    assert amount(date(2025, 12, 31), None) is None
    with pytest.raises(Incomplete):
        add_rate(managing, kind="crew", amount=Decimal(-1), valid_from=date(2026, 11, 1))
    assert Rate.objects.count() == 2


def test_shifts_and_spots_are_the_leads_and_rates_the_manager_s(
    doing: Doing, technician: Person
) -> None:
    hand = Doing(person=technician, now=doing.now)
    with pytest.raises(NotAllowed):
        add_spot(hand, kind="rack", number="1")
    with pytest.raises(NotAllowed):
        add_shift_exception(hand, on=date(2026, 12, 24), is_worked=False, reason="holiday")
    with pytest.raises(NotAllowed):
        add_rate(doing, kind="press", amount=Decimal(80), valid_from=date(2026, 1, 1))
