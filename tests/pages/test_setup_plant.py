"""The plant, its shifts and its places on the pages of the setup."""

from collections.abc import Callable
from datetime import date
from re import findall
from uuid import uuid4

import pytest
from django.test import Client

from moldcare.logbook.models import Entry
from moldcare.plant.models import Plant, ShiftException, ShiftPattern, Spot
from moldcare.plant.queries import pattern_on
from tests import factories
from tests.pages.shown import words_of

pytestmark = pytest.mark.usefixtures("clock", "db")

ClientOf = Callable[[str], Client]


PLANT = {
    "name": "Plant 2",
    "zone": "Europe/Berlin",
    "clock_error_s": "300",
    "language": "en",
    "units": "metric",
    "paper": "A4",
    "currency": "usd",
    "week_starts_on": "0",
    "reading_age_shifts": "3",
    "idle_minutes": "10",
}


def test_a_new_zone_says_what_moves_and_asks_once_more(client_of: ClientOf) -> None:
    factories.plant(zone="Europe/Berlin")
    client = client_of("lead")
    moved = {**PLANT, "zone": "America/Chicago"}
    answer = client.post("/setup/plant", moved)
    assert answer.status_code == 422
    said = words_of(answer)
    assert "shifts begin and end at other moments" in said
    assert "days and months begin elsewhere" in said
    assert Plant.objects.get().zone == "Europe/Berlin"
    # the question did not lose what was typed
    assert 'value="America/Chicago"' in answer.getvalue().decode()
    assert client.post("/setup/plant", {**moved, "zone_sure": "on"}).status_code == 302
    plant = Plant.objects.get()
    assert (plant.zone, plant.currency) == ("America/Chicago", "USD")


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        ("zone", "Berlin", "is no time zone"),
        ("currency", "€", "three letters"),
        ("clock_error_s", "4000", "is not between 0 and 3,600"),
        ("reading_age_shifts", "0", "is not between 1"),
        ("idle_minutes", "0", "is not between 1"),
        ("name", "", "Give the plant a name."),
    ],
)
def test_a_plant_that_cannot_be_keeps_what_was_typed(
    client_of: ClientOf, name: str, value: str, said: str
) -> None:
    answer = client_of("manager").post("/setup/plant", {**PLANT, name: value})
    assert answer.status_code == 422
    assert said in words_of(answer)
    assert 'value="Europe/Berlin"' in answer.getvalue().decode() or name == "zone"
    assert not Plant.objects.exists()


def test_what_somebody_else_changed_meanwhile_is_not_written_over(client_of: ClientOf) -> None:
    factories.plant(name="Plant 1")
    client = client_of("lead")
    seen = findall(r'name="seen" value="(\w+)"', client.get("/setup/plant").getvalue().decode())
    Plant.objects.update(name="Plant of the north")
    answer = client.post("/setup/plant", {**PLANT, "seen": seen[0]})
    assert answer.status_code == 422
    assert "Somebody changed this after you opened it." in words_of(answer)


def test_two_taps_on_a_change_write_it_once(client_of: ClientOf) -> None:
    factories.plant(name="Plant 1")
    client, named = client_of("lead"), {**PLANT, "hand_in": str(uuid4())}
    for _ in range(2):
        assert client.post("/setup/plant", named).status_code == 302
    assert Entry.objects.filter(kind="plant_set").count() == 1


WEEK = {
    "rows": "4",
    "valid_from": "2026-11-30",
    "name0": "early",
    "starts0": "06:00",
    "ends0": "14:00",
    "days0": ["0", "1", "2", "3", "4"],
    "name1": "night",
    "starts1": "22:00",
    "ends1": "06:00",
    "days1": ["0", "1"],
}


def test_the_week_is_written_in_rows_and_drawn_with_nights_over_midnight(
    client_of: ClientOf,
) -> None:
    factories.plant()
    client = client_of("lead")
    assert (
        client.post("/setup/shifts/week", {**WEEK, "valid_from": "2026-11-02"}).status_code == 302
    )
    pattern = pattern_on(date(2026, 11, 25))
    assert pattern is not None
    assert pattern.slots.count() == 7
    answer = client.get("/setup/shifts")
    said = words_of(answer)
    assert "night 22:00–06:00 (the next day)" in said
    assert "7 shifts are worked." in said
    html = answer.getvalue().decode()
    # Monday's night: from 22:00, 660 of 720, open to the right; and on Tuesday from the left
    assert 'd="M720 8H662V34H720"' in html
    assert 'd="M0 8H178V34H0"' in html


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"ends0": ""}, "When does it end?"),
        ({"days1": []}, "On which days?"),
        ({"name1": ""}, "Give the shift a name."),
        ({"starts1": "25:00"}, "This is no time."),
        ({"valid_from": ""}, "Say from which day on"),
        ({"starts1": "13:00"}, "overlap"),
    ],
)
def test_half_rows_are_refused_and_what_was_typed_is_kept(
    client_of: ClientOf, changed: dict[str, object], said: str
) -> None:
    factories.plant()
    answer = client_of("lead").post("/setup/shifts/week", {**WEEK, **changed})
    assert answer.status_code == 422
    assert said in words_of(answer)
    assert 'value="early"' in answer.getvalue().decode()
    assert not ShiftPattern.objects.exists()


def test_a_week_in_the_past_is_refused_where_results_rest_on_another(client_of: ClientOf) -> None:
    factories.plant()
    factories.three_shifts()
    answer = client_of("lead").post("/setup/shifts/week", {**WEEK, "valid_from": "2026-11-02"})
    assert answer.status_code == 422
    assert "what was due and done then rests on them" in words_of(answer)


def test_a_week_ahead_is_put_right_and_taken_back_from_the_list(client_of: ClientOf) -> None:
    factories.plant()
    worked = factories.three_shifts()
    ahead = factories.three_shifts(valid_from=date(2026, 12, 7))
    client = client_of("lead")
    html = client.get("/setup/shifts").getvalue().decode()
    assert f"?again={ahead.pk}" in html
    assert f"?again={worked.pk}" not in html
    again = f"/setup/shifts/week?again={ahead.pk}"
    assert 'value="2026-12-07"' in client.get(again).getvalue().decode()
    assert client.post(again, {**WEEK, "valid_from": "2026-12-07"}).status_code == 302
    newest = pattern_on(date(2026, 12, 7))
    assert newest is not None
    assert newest.slots.count() == 7

    back = f"/setup/shifts/weeks/{newest.pk}/take-back"
    answer = client.post(back, {"reason": ""})
    assert answer.status_code == 422
    assert client.post(back, {"reason": "the order was called off"}).status_code == 302
    assert pattern_on(date(2026, 12, 7)) == worked
    assert client.get(back).status_code == 404
    answer = client.post(back, {"reason": "once more"})
    assert answer.status_code == 422
    assert "already" in words_of(answer)


def test_holidays_are_pasted_and_seen_in_the_weeks_ahead(client_of: ClientOf) -> None:
    factories.plant()
    factories.three_shifts()
    client = client_of("lead")
    days = "2026-12-25 Christmas\n26.12.2026 Second day of Christmas\n2027-05-01 First of May"
    assert client.post("/setup/shifts/holidays", {"days": days}).status_code == 302
    answer = client.get("/setup/shifts")
    said = words_of(answer)
    assert "Fri 25 Dec : no shift, Christmas" in said
    assert "Sat 1 May : no shift, First of May" in said
    # three shifts of Friday are drawn as not worked; Saturday has none
    assert answer.getvalue().decode().count("day__bar--off") == 3


def test_a_bad_line_of_holidays_is_named_and_the_list_is_kept(client_of: ClientOf) -> None:
    factories.plant()
    days = "2026-12-25 Christmas\n12/26/2026 Second day"
    answer = client_of("lead").post("/setup/shifts/holidays", {"days": days})
    assert answer.status_code == 422
    assert "Line 2:" in words_of(answer)
    assert "12/26/2026 Second day" in answer.getvalue().decode()
    assert not ShiftException.objects.exists()


@pytest.mark.parametrize(
    ("typed", "shifts"),
    [
        ({"what": "none"}, "12 shifts are worked."),
        ({"what": "one_off", "shift_name": "late"}, "14 shifts are worked."),
        (
            {"what": "times", "shift_name": "late", "starts": "14:00", "ends": "18:00"},
            "15 shifts are worked.",
        ),
    ],
)
def test_a_day_is_worked_otherwise_and_taken_back(
    client_of: ClientOf, typed: dict[str, str], shifts: str
) -> None:
    factories.plant()
    factories.three_shifts()
    client = client_of("lead")
    day = {"on": "2026-11-27", "reason": "stocktaking", **typed}
    assert client.post("/setup/shifts/day", day).status_code == 302
    said = words_of(client.get("/setup/shifts"))
    assert shifts in said
    assert "stocktaking" in said
    row = ShiftException.objects.get()
    path = f"/setup/shifts/days/{row.pk}/take-back"
    again = {"reason": "it was another Friday", "hand_in": str(uuid4())}
    for _ in range(2):
        assert client.post(path, again).status_code == 302
    assert ShiftException.objects.count() == 2
    assert client.get(path).status_code == 404
    assert "stocktaking" not in words_of(client.get("/setup/shifts"))


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"what": "one_off"}, "Name the shift."),
        ({"what": "times", "shift_name": "late", "starts": "14:00"}, "Give the time."),
        ({"what": "none", "shift_name": "late"}, "Leave it empty"),
        ({"what": "none", "starts": "14:00"}, "Leave the times empty"),
        ({}, "Say what is different"),
    ],
)
def test_a_day_that_says_too_little_or_too_much_is_refused(
    client_of: ClientOf, typed: dict[str, str], said: str
) -> None:
    factories.plant()
    factories.three_shifts()
    day = {"on": "2026-11-27", "reason": "stocktaking", **typed}
    answer = client_of("lead").post("/setup/shifts/day", day)
    assert answer.status_code == 422
    assert said in words_of(answer)
    assert not ShiftException.objects.exists()


def test_many_places_are_shown_before_they_are_written(client_of: ClientOf) -> None:
    client = client_of("lead")
    typed = {"kind": "rack", "numbers": "R1-01 to R1-40"}
    answer = client.post("/setup/spots/many", typed)
    assert answer.status_code == 200
    assert "Add these 40" in words_of(answer)
    assert not Spot.objects.exists()
    write = {**typed, "write": "1", "hand_in": str(uuid4())}
    for _ in range(2):
        assert client.post("/setup/spots/many", write).status_code == 302
    assert Spot.objects.count() == 40
    answer = client.post("/setup/spots/many", {**write, "hand_in": str(uuid4())})
    assert "are there already. Nothing was added." in words_of(answer)
    said = words_of(client.post("/setup/spots/many", typed))
    assert "There already: R1-01, R1-02" in said
    assert "Add these" not in said


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"kind": "rack", "numbers": "R1-01 to S2-40"}, "differ in one figure only"),
        ({"kind": "rack", "numbers": "A1, A2, A1"}, "Given twice: A1."),
        ({"kind": "rack", "numbers": ""}, "Give their numbers."),
        ({"numbers": "A1"}, "Say what they are."),
        ({"kind": "rack", "numbers": "A" * 41}, "is too long"),
    ],
)
def test_many_places_that_cannot_be_are_refused(
    client_of: ClientOf, typed: dict[str, str], said: str
) -> None:
    for write in ({}, {"write": "1"}):
        answer = client_of("lead").post("/setup/spots/many", {**typed, **write})
        assert answer.status_code == 422
        assert said in words_of(answer)
    assert not Spot.objects.exists()


def test_a_press_is_added_renamed_and_put_out_of_use(client_of: ClientOf) -> None:
    client = client_of("lead")
    press = {"kind": "press", "number": "7", "clamp_kn": "1 500"}
    assert client.post("/setup/spots/add", press).status_code == 302
    answer = client.post("/setup/spots/add", press)
    assert answer.status_code == 422
    assert 'value="1 500"' in answer.getvalue().decode()
    row = Spot.objects.get()
    change = {"number": "7b", "name": "by the gate", "clamp_kn": "1500"}
    assert client.post(f"/setup/spots/{row.pk}", {**change, "is_in_use": "on"}).status_code == 302
    assert client.post(f"/setup/spots/{row.pk}", change).status_code == 302
    row.refresh_from_db()
    assert (row.number, row.clamp_kn, row.is_in_use) == ("7b", 1500, False)
    assert "out of use" in words_of(client.get("/setup/spots"))


def test_a_place_where_a_mold_is_stays_in_use(client_of: ClientOf, lead: object) -> None:
    rack = factories.spot(kind="rack", number="B4")
    mold = factories.mold(number="0417")
    factories.move(mold, to=rack, author=lead)
    client = client_of("lead")
    answer = client.post(f"/setup/spots/{rack.pk}", {"number": "B4"})
    assert answer.status_code == 422
    assert "Mold 0417 is there. Move it first." in words_of(answer)
    assert "0417" in words_of(client.get("/setup/spots"))


def test_only_a_press_has_a_clamp_force(client_of: ClientOf) -> None:
    typed = {"kind": "rack", "number": "B4", "clamp_kn": "500"}
    answer = client_of("lead").post("/setup/spots/add", typed)
    assert answer.status_code == 422
    assert "Only a press has a clamp force." in words_of(answer)
