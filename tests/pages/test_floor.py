"""The floor's forms: what they write, what they refuse, and that nothing typed is lost."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
from django.test import Client

from moldcare.acts.doing import Doing
from moldcare.acts.floor import note_condition
from moldcare.acts.refresh import refresh_counts
from moldcare.counters.models import Counter, Reading
from moldcare.logbook.models import Entry
from moldcare.molds.models import (
    Component,
    ConditionNote,
    Fitting,
    Mold,
    Move,
    Position,
    Run,
    RunEvent,
)
from moldcare.molds.queries import blocked_cavities, component_in, place_of
from moldcare.plant.models import Spot
from moldcare.production.models import Interruption, InterruptionEnd
from tests import factories

pytestmark = pytest.mark.usefixtures("clock")

ClientOf = Callable[[str], Client]


@pytest.fixture
def press(db: None) -> Spot:
    factories.plant()
    return factories.spot(kind="press", number="7")


@pytest.fixture
def bench(db: None) -> Spot:
    return factories.spot(kind="bench", number="2")


@pytest.fixture
def mold(bench: Spot, press: Spot, doing: Doing) -> Mold:
    """A mold on bench 2 with a counter that shows 500."""
    row = factories.mold(number="0417", name="Dripper cap")
    factories.move(row, to=bench, author=doing.person)
    factories.cycle_time(row, author=doing.person, standard_s="12.0")
    factories.counter(on=row, author=doing.person, label="41-B", value_shown=500)
    refresh_counts(counters=[Counter.objects.get().pk], molds=[row.pk])
    return row


@pytest.fixture
def running(mold: Mold, press: Spot, doing: Doing, now: datetime) -> Mold:
    """The same mold, set in press 7 a day ago."""
    factories.set_in_press(mold, press=press, author=doing.person, at=now - timedelta(days=1))
    refresh_counts(molds=[mold.pk])
    return mold


def text_of(answer: object) -> str:
    return answer.getvalue().decode()  # type: ignore[attr-defined]


def test_a_set_takes_the_reading_along(
    mold: Mold, press: Spot, client_of: ClientOf, now: datetime
) -> None:
    sent = {"press": press.pk, "reading": "1.500", "hand_in": str(uuid4()), "note": "clean"}
    answer = client_of("technician").post("/molds/0417/set", sent)
    assert answer.status_code == 302
    assert answer["Location"] == "/molds/0417"
    reading = Reading.objects.get()
    assert (reading.value, reading.at, reading.source) == (1500, now, "typed")
    event = RunEvent.objects.get()
    assert (event.press, event.at, event.act) == (press, now, "set")


def test_the_second_of_two_taps_writes_nothing(
    mold: Mold, press: Spot, client_of: ClientOf, clock: object
) -> None:
    sent = {"press": press.pk, "reading": "1500", "hand_in": str(uuid4())}
    client = client_of("technician")
    first = client.post("/molds/0417/set", sent)
    clock.shift(3)  # type: ignore[attr-defined]
    second = client.post("/molds/0417/set", sent)
    assert first.status_code == second.status_code == 302
    assert RunEvent.objects.count() == Reading.objects.count() == 1


def test_what_is_open_needs_a_leads_reason(
    mold: Mold, press: Spot, client_of: ClientOf, doing: Doing, now: datetime
) -> None:
    at = now - timedelta(hours=1)
    note_condition(doing, mold=mold, at=at, condition="incomplete", note="core A3 is out")
    technician, lead = client_of("technician"), client_of("lead")
    shown = text_of(technician.get("/molds/0417/set"))
    assert "core A3 is out" in shown
    assert "Write down the set" not in shown
    refused = technician.post("/molds/0417/set", {"press": press.pk, "reading": "1500"})
    assert refused.status_code == 422
    assert not RunEvent.objects.exists()
    assert not Reading.objects.exists()
    without = lead.post("/molds/0417/set", {"press": press.pk, "reading": "1500"})
    assert "Give the reason, or settle what is open first." in text_of(without)
    assert 'value="1500"' in text_of(without)
    accepted = lead.post("/molds/0417/set", {"press": press.pk, "accepts_open": "trial only"})
    assert accepted.status_code == 302
    assert "trial only" in Entry.objects.get(kind="set").sentence


def test_a_press_that_holds_a_mold_is_refused_with_what_was_typed(
    running: Mold, press: Spot, client_of: ClientOf, lead: object
) -> None:
    other = factories.mold(number="M-2")
    answer = client_of("lead").post(
        "/molds/M-2/set", {"press": press.pk, "note": "mind the sprue", "at": "2026-11-25T07:00"}
    )
    assert answer.status_code == 422
    shown = text_of(answer)
    assert "press 7 holds mold 0417" in shown
    assert 'value="mind the sprue"' in shown
    assert 'value="2026-11-25T07:00"' in shown
    assert place_of(other) is None


def test_a_pull_keeps_reading_and_last_shot(
    running: Mold, bench: Spot, client_of: ClientOf
) -> None:
    answer = client_of("technician").post(
        "/molds/0417/pull",
        {"to": bench.pk, "reading": "ca. 9 000", "last_shot": "yes", "at": "2026-11-25T06:30"},
    )
    assert answer.status_code == 302
    pulled = RunEvent.objects.get(act="pulled")
    assert pulled.last_shot_kept is True
    assert pulled.at == datetime(2026, 11, 25, 5, 30, tzinfo=UTC)
    reading = Reading.objects.get()
    assert (reading.value, reading.source, reading.at) == (9000, "estimated", pulled.at)


def test_a_reading_that_is_none_keeps_the_mold_in_the_press(
    running: Mold, bench: Spot, client_of: ClientOf
) -> None:
    # digits: the counter has seven
    answer = client_of("technician").post(
        "/molds/0417/pull", {"to": bench.pk, "reading": "123456789"}
    )
    assert answer.status_code == 422
    assert 'value="123456789"' in text_of(answer)
    assert not RunEvent.objects.filter(act="pulled").exists()


def test_a_doubtful_reading_is_said_and_the_pull_stands(
    running: Mold, bench: Spot, client_of: ClientOf
) -> None:
    answer = client_of("technician").post(
        "/molds/0417/pull", {"to": bench.pk, "reading": "9000000"}, follow=True
    )
    assert "The reading 9,000,000 is held" in text_of(answer)
    assert RunEvent.objects.filter(act="pulled").exists()


def test_a_time_that_came_twice_is_asked_about(
    mold: Mold, bench: Spot, client_of: ClientOf
) -> None:
    # clocks go back on the last Sunday of October (Directive 2000/84/EC): 2026-10-25 at 03:00
    to = factories.spot(kind="rack", number="B4")
    client = client_of("technician")
    sent = {"to": to.pk, "at": "2026-10-25T02:30"}
    asked = client.post("/molds/0417/move", sent)
    assert asked.status_code == 422
    assert "this time came twice" in text_of(asked)
    assert 'name="at-which"' in text_of(asked)
    answer = client.post("/molds/0417/move", {**sent, "at-which": "second"})
    assert answer.status_code == 302
    assert Move.objects.get(spot=to).at == datetime(2026, 10, 25, 1, 30, tzinfo=UTC)


def test_a_time_that_never_came_is_refused(mold: Mold, client_of: ClientOf) -> None:
    # and forward on the last Sunday of March: 2026-03-29, from 02:00 to 03:00
    to = factories.spot(kind="rack", number="B4")
    answer = client_of("technician").post(
        "/molds/0417/move", {"to": to.pk, "at": "2026-03-29T02:30"}
    )
    assert answer.status_code == 422
    assert "this time never came. The next one was 03:00." in text_of(answer)


def test_a_time_in_the_future_is_refused(mold: Mold, client_of: ClientOf) -> None:
    to = factories.spot(kind="rack", number="B4")
    answer = client_of("technician").post(
        "/molds/0417/move", {"to": to.pk, "at": "2026-12-24T18:00"}
    )
    assert answer.status_code == 422
    assert "is in the future" in text_of(answer)


def test_a_time_in_the_future_is_said_beside_its_field_as_the_plants_clock_shows_it(
    mold: Mold, client_of: ClientOf
) -> None:
    answer = client_of("technician").post(
        "/molds/0417/condition", {"condition": "fit", "at": "2026-12-24T18:00"}
    )
    shown = text_of(answer)
    assert "24 Dec is in the future. Check the date and the time." in shown
    assert "+00:00" not in shown
    assert 'value="2026-12-24T18:00"' in shown


def test_what_speaks_against_a_set_or_a_pull_is_said_before_anybody_types(
    running: Mold, client_of: ClientOf
) -> None:
    client = client_of("technician")
    for form in ("set", "move"):
        shown = text_of(client.get(f"/molds/0417/{form}"))
        assert "It is in press 7." in shown
        assert 'href="/molds/0417/pull"' in shown
    assert "It is in" not in text_of(client.get("/molds/0417/pull"))
    factories.mold(number="M-2")
    assert "It is in no press." in text_of(client.get("/molds/M-2/pull"))


def test_a_condition_is_noted(mold: Mold, client_of: ClientOf) -> None:
    answer = client_of("technician").post(
        "/molds/0417/condition",
        {"condition": "needs_work", "needs_next": "part", "note": "vent ring"},
    )
    assert answer.status_code == 302
    note = ConditionNote.objects.get()
    assert (note.condition, note.needs_next, note.note) == ("needs_work", "part", "vent ring")


def test_a_new_piece_takes_the_place_of_the_old_one(
    mold: Mold, client_of: ClientOf, lead: object
) -> None:
    position = Position.objects.create(mold=mold, ident="A3")
    client = client_of("technician")
    first = {"position": position.pk, "serial": "S-1", "name": "core", "at": "2026-11-25T06:00"}
    assert client.post("/molds/0417/fit", first).status_code == 302
    taken = {"position": position.pk, "serial": "S-2", "name": "core"}
    refused = client.post("/molds/0417/fit", taken)
    assert refused.status_code == 422
    assert "core S-1 sits in position A3" in text_of(refused)
    # the piece that was to be added is not there either: both or neither
    assert not Component.objects.filter(serial="S-2").exists()
    assert client.post("/molds/0417/fit", {**taken, "takes_out": "on"}).status_code == 302
    sits = component_in(position)
    assert sits is not None
    assert sits.serial == "S-2"
    assert Fitting.objects.filter(component__serial="S-1", position=None).count() == 1


def test_a_piece_is_asked_for_once(mold: Mold, client_of: ClientOf) -> None:
    position = Position.objects.create(mold=mold, ident="A3")
    answer = client_of("technician").post("/molds/0417/fit", {"position": position.pk})
    assert "Choose the piece, or enter the serial number of a new one." in text_of(answer)


def test_a_part_is_taken_out(mold: Mold, client_of: ClientOf) -> None:
    position = Position.objects.create(mold=mold, ident="A3")
    client = client_of("technician")
    fit = {"position": position.pk, "serial": "S-1", "name": "core", "at": "2026-11-25T06:00"}
    client.post("/molds/0417/fit", fit)
    piece = Component.objects.get()
    answer = client.post("/molds/0417/take-out", {"component": piece.pk})
    assert answer.status_code == 302
    assert component_in(position) is None
    late = client.post("/molds/0417/take-out", {"component": piece.pk})
    assert late.status_code == 422
    assert "That piece is not in the mold any more." in text_of(late)


def test_a_cavity_is_blocked_with_a_reason_and_freed_again(
    mold: Mold, client_of: ClientOf, clock: object
) -> None:
    cavity = mold.cavities.get(ident="3")
    client = client_of("technician")
    bare = client.post("/molds/0417/block", {"cavity": cavity.pk})
    assert "Give the reason" in text_of(bare)
    said = client.post("/molds/0417/block", {"cavity": cavity.pk, "reason": "gate"}, follow=True)
    assert (
        "Cavity 3 is blocked: 3 of 4 run, and the same parts take 4 cycles for every 3 before."
        in text_of(said)
    )
    assert "free 3 (blocked: gate)" in text_of(client.get("/molds/0417/block"))
    clock.shift(60)  # type: ignore[attr-defined]
    client.post("/molds/0417/block", {"cavity": cavity.pk})
    assert blocked_cavities() == {}


def test_an_interruption_takes_a_defect_and_no_typing(
    running: Mold, client_of: ClientOf, now: datetime
) -> None:
    factories.family(key="vents")
    answer = client_of("technician").post(
        "/molds/0417/interruption",
        {"since": "15", "defect": "burn", "family_key": "vents", "again": ""},
    )
    assert answer.status_code == 302
    row = Interruption.objects.get()
    assert row.from_at == now - timedelta(minutes=15)
    assert (row.defect, row.family_key, row.to_at) == ("burn", "vents", None)
    assert row.finding == "burn seen on the part"
    assert row.press is not None
    assert row.press.number == "7"


def test_an_interruption_with_nothing_seen_is_asked_about(
    running: Mold, client_of: ClientOf
) -> None:
    answer = client_of("technician").post("/molds/0417/interruption", {"since": "0"})
    assert answer.status_code == 422
    assert "Choose a fault on the part, or say what was found." in text_of(answer)


@pytest.mark.parametrize(
    ("typed", "is_open"),
    [
        ({}, False),
        ({"since": "typed"}, False),
        ({"scrap_pieces": "many"}, True),
        ({"finding": "flash", "again": "typed"}, True),
        ({"cause": "worn vent"}, True),
    ],
)
def test_what_is_folded_opens_where_something_was_typed_or_is_wrong(
    typed: dict[str, str], is_open: bool, running: Mold, client_of: ClientOf
) -> None:
    answer = client_of("technician").post("/molds/0417/interruption", {"since": "0", **typed})
    assert answer.status_code == 422
    assert ('<details class="fold" open>' in text_of(answer)) is is_open


def test_an_interruption_is_ended_from_the_molds_page(
    running: Mold, client_of: ClientOf, now: datetime
) -> None:
    client = client_of("technician")
    client.post(
        "/molds/0417/interruption",
        {"since": "typed", "from_at": "2026-11-25T06:00", "finding": "leaking hose"},
    )
    row = Interruption.objects.get()
    assert "Interrupted since 06:00." in text_of(client.get("/molds/0417"))
    answer = client.post(
        f"/interruptions/{row.pk}/end", {"again": "0", "action": "hose changed", "repair_min": "30"}
    )
    assert answer.status_code == 302
    end = InterruptionEnd.objects.get()
    assert (end.to_at, end.repair_min, end.action) == (now, 30, "hose changed")
    assert "Interrupted since" not in text_of(client.get("/molds/0417"))
    assert "It has ended already." in text_of(client.get(f"/interruptions/{row.pk}/end"))


def test_a_run_is_planned_changed_and_called_off(
    mold: Mold, press: Spot, client_of: ClientOf
) -> None:
    client = client_of("lead")
    sent = {
        "press": press.pk,
        "planned_from": "2026-11-26T06:00",
        "planned_to": "2026-11-28T14:00",
        "planned_cycles": "40.000",
    }
    assert client.post("/molds/0417/run", sent).status_code == 302
    run = Run.objects.get()
    assert (run.planned_cycles, run.planned_to) == (
        40_000,
        datetime(2026, 11, 28, 13, tzinfo=UTC),
    )
    shown = text_of(client.get(f"/runs/{run.pk}"))
    assert 'value="2026-11-26T06:00"' in shown
    client.post(f"/runs/{run.pk}", {**sent, "planned_to": "2026-11-29T14:00"})
    run.refresh_from_db()
    assert run.planned_to == datetime(2026, 11, 29, 13, tzinfo=UTC)
    assert client.post(f"/runs/{run.pk}", {"call_off": "1"}).status_code == 302
    run.refresh_from_db()
    assert run.is_called_off
    late = client.post(f"/runs/{run.pk}", sent)
    assert late.status_code == 404
    assert "This run was called off." in text_of(late)


def test_a_run_that_ends_before_it_begins_is_asked_about(
    mold: Mold, press: Spot, client_of: ClientOf
) -> None:
    sent = {
        "press": press.pk,
        "planned_from": "2026-11-28T06:00",
        "planned_to": "2026-11-26T06:00",
    }
    answer = client_of("lead").post("/molds/0417/run", sent)
    assert answer.status_code == 422
    assert "The end comes before the beginning. Check the two." in text_of(answer)
    assert "Constraint" not in text_of(answer)
    assert not Run.objects.exists()


def test_a_change_of_resin_is_kept_on_the_mold(mold: Mold, client_of: ClientOf) -> None:
    answer = client_of("technician").post(
        "/molds/0417/note",
        {"change": "resin_changed", "text": "POM from now on", "resin": "POM", "filler": ""},
    )
    assert answer.status_code == 302
    mold.refresh_from_db()
    assert (mold.resin, mold.filler) == ("POM", "none")


def test_another_cycle_time_needs_a_reason(mold: Mold, client_of: ClientOf) -> None:
    client = client_of("lead")
    assert client.post("/molds/0417/cycle", {"standard_s": "8,4"}).status_code == 422
    sent = {"standard_s": "8,4", "reason": "new gate"}
    assert client.post("/molds/0417/cycle", sent).status_code == 302
    assert [str(row.standard_s) for row in mold.cycle_times.all()] == ["12.00", "8.40"]


@pytest.mark.parametrize(
    ("role", "path", "status"),
    [
        ("reader", "/molds/0417/set", 403),
        ("technician", "/molds/0417/set", 200),
        ("technician", "/molds/0417/run", 403),
        ("technician", "/molds/0417/cycle", 403),
        ("lead", "/molds/0417/count", 200),
        ("feed", "/molds/0417/interruption", 403),
        ("stranger", "/molds/0417/pull", 302),
        ("lead", "/molds/9999/set", 404),
    ],
)
def test_forms_open_for_those_who_may_send_them(
    mold: Mold, client_of: ClientOf, role: str, path: str, status: int
) -> None:
    assert client_of(role).get(path).status_code == status
