"""Days that are worked otherwise, many spots at once, and cautions of the plant."""

import json
from collections.abc import Callable
from datetime import UTC, date, datetime, time
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction

from moldcare.acts.doing import Doing
from moldcare.acts.errors import DoesNotFit, Incomplete, NotAllowed, NotFound
from moldcare.acts.plant import (
    MOST_AT_ONCE,
    add_caution,
    add_days_off,
    add_shift_exception,
    add_shift_pattern,
    add_spots,
    set_plant,
    take_back_exception,
    withdraw_caution,
)
from moldcare.core.errors import ShiftsContradict
from moldcare.core.shifts import ShiftSlot as Slot
from moldcare.logbook.models import Entry
from moldcare.plant.models import CautionLine, Person, Plant, ShiftException, ShiftPattern, Spot
from moldcare.plant.queries import (
    cautions_in_force,
    days_that_differ,
    the_calendar,
    the_plant,
)
from tests import factories

pytestmark = pytest.mark.django_db

# the day of `now`: a Wednesday in winter, one hour ahead of UTC
TODAY = date(2026, 11, 25)
CHRISTMAS = date(2026, 12, 25)


def worked(on: date) -> list[tuple[str, str, str]]:
    calendar = the_calendar(the_plant())
    return [
        (
            shift.name,
            f"{shift.starts_at.astimezone(calendar.zone):%H:%M}",
            f"{shift.ends_at.astimezone(calendar.zone):%H:%M}",
        )
        for shift in calendar.shifts_of(on)
    ]


@pytest.fixture
def shifts() -> ShiftPattern:
    factories.plant(zone="Europe/Berlin")
    return factories.three_shifts()


USUAL = [("early", "06:00", "14:00"), ("late", "14:00", "22:00"), ("night", "22:00", "06:00")]


def test_holidays_are_written_all_at_once_with_one_entry(
    doing: Doing, shifts: ShiftPattern
) -> None:
    days = [(CHRISTMAS, "Christmas"), (date(2026, 12, 26), "Second day of Christmas")]
    add_days_off(doing, days=days)
    assert worked(CHRISTMAS) == []
    entry = Entry.objects.get()
    assert entry.kind == "days_off"
    assert "2026-12-25 (Christmas)" in entry.sentence


@pytest.mark.parametrize(
    ("days", "told"),
    [
        ([(CHRISTMAS, "Christmas"), (CHRISTMAS, "again")], "Named twice"),
        ([(CHRISTMAS, " ")], "reason"),
        ([], "at least one day"),
    ],
)
def test_a_list_of_holidays_that_does_not_hold_is_refused_whole(
    doing: Doing, shifts: ShiftPattern, days: list[tuple[date, str]], told: str
) -> None:
    with pytest.raises((DoesNotFit, Incomplete), match=told):
        add_days_off(doing, days=days)
    assert not ShiftException.objects.exists()
    assert worked(CHRISTMAS) == USUAL


def test_a_holiday_that_is_there_already_is_named(doing: Doing, shifts: ShiftPattern) -> None:
    add_days_off(doing, days=[(CHRISTMAS, "Christmas")])
    with pytest.raises(DoesNotFit, match="2026-12-25"):
        add_days_off(doing, days=[(TODAY, "stocktaking"), (CHRISTMAS, "Christmas")])
    # worked after all, then not again: the newest word counts
    add_shift_exception(doing, on=CHRISTMAS, is_worked=True, reason="rush order")
    add_days_off(doing, days=[(CHRISTMAS, "Christmas")])
    assert worked(CHRISTMAS) == []


def test_a_shift_has_times_of_its_own_on_one_day(doing: Doing, shifts: ShiftPattern) -> None:
    add_shift_exception(
        doing,
        on=CHRISTMAS,
        is_worked=True,
        shift_name="late",
        starts=time(14),
        ends=time(18),
        reason="short late shift",
    )
    assert worked(CHRISTMAS) == [USUAL[0], ("late", "14:00", "18:00"), USUAL[2]]
    assert "from 14:00 to 18:00" in Entry.objects.get().sentence


def test_a_shift_that_no_pattern_knows_needs_its_times(doing: Doing, shifts: ShiftPattern) -> None:
    sunday = date(2026, 11, 29)
    with pytest.raises(ShiftsContradict, match="stocktaking"):
        add_shift_exception(
            doing, on=sunday, is_worked=True, shift_name="stocktaking", reason="yearly"
        )
    add_days_off(doing, days=[(sunday, "for stocktaking")])
    add_shift_exception(
        doing,
        on=sunday,
        is_worked=True,
        shift_name="stocktaking",
        starts=time(8),
        ends=time(12),
        reason="yearly",
    )
    assert worked(sunday) == [("stocktaking", "08:00", "12:00")]


def test_a_shift_that_would_run_into_another_is_refused(doing: Doing, shifts: ShiftPattern) -> None:
    with pytest.raises(DoesNotFit, match="overlap"):
        add_shift_exception(
            doing,
            on=CHRISTMAS,
            is_worked=True,
            shift_name="early",
            starts=time(6),
            ends=time(15),
            reason="rush order",
        )
    # what was rolled back is not in the calendar that is kept
    assert worked(CHRISTMAS) == USUAL


def test_what_was_said_of_a_day_is_taken_back_by_another_fact(
    doing: Doing, shifts: ShiftPattern
) -> None:
    add_days_off(doing, days=[(CHRISTMAS, "Christmas")])
    row = ShiftException.objects.get()
    with pytest.raises(Incomplete, match="reason"):
        take_back_exception(doing, exception=row, reason="")
    take_back_exception(doing, exception=row, reason="typed on the wrong day")
    assert worked(CHRISTMAS) == USUAL
    assert not days_that_differ().exists()
    # both rows stay
    assert ShiftException.objects.count() == 2
    with pytest.raises(NotFound, match="already"):
        take_back_exception(doing, exception=row, reason="once more")


def test_taking_back_the_newest_word_leaves_the_one_before(
    doing: Doing, shifts: ShiftPattern
) -> None:
    add_days_off(doing, days=[(CHRISTMAS, "Christmas")])
    extra = add_shift_exception(
        doing, on=CHRISTMAS, is_worked=True, shift_name="early", reason="rush order"
    )
    assert worked(CHRISTMAS) == [USUAL[0]]
    row = ShiftException.objects.get(pk=extra.row_id)
    take_back_exception(doing, exception=row, reason="order was called off")
    assert worked(CHRISTMAS) == []


def test_a_pattern_does_not_change_days_that_were_worked(
    doing: Doing, shifts: ShiftPattern
) -> None:
    slots = [Slot(weekday=0, name="day", starts=time(7), ends=time(16))]
    with pytest.raises(DoesNotFit, match="what was due and done then rests on them"):
        add_shift_pattern(doing, valid_from=date(2026, 11, 24), slots=slots)
    # before the first pattern nothing was worked that anything rests on
    add_shift_pattern(doing, valid_from=date(2025, 1, 6), slots=slots)
    add_shift_pattern(doing, valid_from=TODAY, slots=slots)
    assert worked(date(2026, 11, 24)) == USUAL
    assert worked(date(2026, 11, 30)) == [("day", "07:00", "16:00")]


def test_many_spots_are_added_all_or_none(doing: Doing) -> None:
    numbers = [f"R1-{place:02d}" for place in range(1, 41)]
    add_spots(doing, kind="rack", numbers=numbers)
    assert list(Spot.objects.values_list("number", flat=True)) == numbers
    entry = Entry.objects.get()
    assert entry.sentence.startswith("40 spots (rack) added: R1-01, R1-02")
    assert json.loads(entry.facts)["numbers"] == numbers

    with pytest.raises(DoesNotFit, match="R1-40"):
        add_spots(doing, kind="rack", numbers=["R1-41", "R1-40"])
    with pytest.raises(DoesNotFit, match="Given twice: B1"):
        add_spots(doing, kind="rack", numbers=["B1", "B2", "B1"])
    with pytest.raises(Incomplete, match="Kind"):
        add_spots(doing, kind="shelf", numbers=["S1"])
    for numbers in ([], [str(place) for place in range(MOST_AT_ONCE + 1)]):
        with pytest.raises(Incomplete, match="at least one"):
            add_spots(doing, kind="rack", numbers=numbers)
    assert Spot.objects.count() == 40


def test_a_caution_of_the_plant_is_printed_for_its_family_or_for_all(doing: Doing) -> None:
    add_caution(doing, text="  The pit is covered first. ")
    add_caution(doing, text="Acid is kept in room 7.", family_key="descaling")
    assert [row.text for row in cautions_in_force(["vents"])] == ["The pit is covered first."]
    assert len(cautions_in_force(["descaling"])) == 2
    with pytest.raises(DoesNotFit, match="already"):
        add_caution(doing, text="The pit is covered first.")
    with pytest.raises(Incomplete):
        add_caution(doing, text="  ")


def test_a_caution_of_the_plant_is_withdrawn_with_a_reason(doing: Doing) -> None:
    add_caution(doing, text="The pit is covered first.")
    row = CautionLine.objects.get()
    with pytest.raises(Incomplete, match="reason"):
        withdraw_caution(doing, caution=row, reason=" ")
    withdraw_caution(doing, caution=row, reason="the pit was filled in")
    assert not cautions_in_force().exists()
    with pytest.raises(NotFound):
        withdraw_caution(doing, caution=row, reason="again")
    # it may be needed again
    add_caution(doing, text="The pit is covered first.")
    assert [entry.kind for entry in Entry.objects.order_by("id")] == [
        "caution_added",
        "caution_withdrawn",
        "caution_added",
    ]


@pytest.mark.parametrize("currency", ["eur", "EURO", "E1R", "€"])
def test_a_currency_is_three_letters(doing: Doing, currency: str) -> None:
    with pytest.raises(Incomplete):
        set_plant(doing, changes={"name": "Plant 2", "currency": currency})
    assert not Plant.objects.exists()


ACTS: list[Callable[[Doing], object]] = [
    lambda doing: add_days_off(doing, days=[(CHRISTMAS, "Christmas")]),
    lambda doing: add_spots(doing, kind="rack", numbers=["B1"]),
    lambda doing: add_caution(doing, text="The pit is covered first."),
    lambda doing: set_plant(doing, changes={"name": "Plant 2"}),
]


@pytest.mark.parametrize("act", ACTS)
def test_only_leads_and_managers_do_this(
    technician: Person, now: datetime, act: Callable[[Doing], object]
) -> None:
    with pytest.raises(NotAllowed):
        act(Doing(person=technician, now=now))
    assert not Entry.objects.exists()


@pytest.mark.parametrize("act", ACTS)
def test_sent_twice_it_is_written_once(
    lead: Person, now: datetime, act: Callable[[Doing], object]
) -> None:
    twice = Doing(person=lead, now=now, hand_in=uuid4())
    assert act(twice) == act(twice)
    assert Entry.objects.count() == 1


AT = datetime(2026, 11, 25, tzinfo=UTC)
NEVER: dict[str, Callable[[], object]] = {
    "plant_shiftexception_times": lambda: ShiftException.objects.create(
        on=CHRISTMAS, is_worked=False, starts=time(6), ends=time(14), reason="x", written_at=AT
    ),
    "plant_cautionline_text": lambda: CautionLine.objects.create(text="", added_at=AT),
    "plant_cautionline_order": lambda: CautionLine.objects.create(
        text="x", added_at=AT, withdrawn_at=datetime(2026, 1, 1, tzinfo=UTC)
    ),
}


@pytest.mark.parametrize("constraint", NEVER)
def test_the_database_refuses_what_can_never_be(constraint: str) -> None:
    with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
        NEVER[constraint]()


def test_a_day_is_taken_back_once_in_the_database(shifts: ShiftPattern) -> None:
    row = ShiftException.objects.create(
        on=CHRISTMAS, is_worked=False, reason="Christmas", written_at=AT
    )
    back = {"on": CHRISTMAS, "is_worked": True, "reason": "no", "written_at": AT}
    ShiftException.objects.create(takes_back=row, **back)
    with (
        pytest.raises(IntegrityError, match=r"takes_back|holds this row already"),
        transaction.atomic(),
    ):
        ShiftException.objects.create(takes_back=row, **back)
