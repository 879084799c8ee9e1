from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from moldcare.core.due import (
    EventKind,
    LimitKind,
    Note,
    Reached,
    Standing,
    UnsureWhy,
    reason,
    say,
)
from moldcare.core.shifts import ShiftCalendar, ShiftPattern, ShiftSlot

BERLIN = ZoneInfo("Europe/Berlin")
PLANT = ShiftCalendar(
    zone=BERLIN,
    patterns=[
        ShiftPattern(
            valid_from=date(2020, 1, 1),
            slots=tuple(
                ShiftSlot(weekday=weekday, name=name, starts=time(starts), ends=time(ends))
                for weekday in range(5)
                for name, starts, ends in (("Early", 6, 14), ("Late", 14, 22), ("Night", 22, 6))
            ),
        )
    ],
)


def berlin(*parts):
    return datetime(*parts, tzinfo=BERLIN).astimezone(UTC)


NOW = berlin(2026, 11, 24, 9)
SHOTS = Standing(
    computed_at=NOW,
    limiting=LimitKind.COUNT,
    limiting_name="shots",
    since=12_400,
    interval=20_000,
    share=0.62,
    basis="shots",
)


def said(standing, *, at=NOW):
    return say(reason(standing, at=at, calendar=PLANT))


def test_a_forecast_names_the_shift():
    soon = replace(SHOTS, forecast_due_at=berlin(2026, 11, 27, 3))
    assert said(soon) == "12,400 of 20,000 shots. Due about Thu night shift."


def test_a_known_date_is_said_without_about():
    at = berlin(2026, 11, 26)
    assert said(replace(SHOTS, due_at=at, forecast_due_at=at)) == (
        "12,400 of 20,000 shots. Due Wed night shift."
    )


def test_a_date_far_ahead_is_said_in_full():
    at = berlin(2027, 1, 18)
    assert said(replace(SHOTS, due_at=at, forecast_due_at=at)) == (
        "12,400 of 20,000 shots. Due Mon 18 Jan 2027."
    )


def test_what_has_begun_says_since_when():
    late = replace(SHOTS, since=22_100, due_at=berlin(2026, 11, 23, 7))
    assert said(late) == "22,100 of 20,000 shots. Due since Mon early shift."
    later = replace(late, overdue_at=berlin(2026, 11, 24, 7))
    assert said(later) == "22,100 of 20,000 shots. Overdue since Tue early shift."
    past = replace(later, past_limit_at=berlin(2026, 11, 24, 8))
    assert said(past) == "22,100 of 20,000 shots. Past limit since Tue early shift."


def test_a_forecast_that_has_come_asks_for_a_reading():
    guessed = replace(
        SHOTS, forecast_soon_at=NOW - timedelta(days=2), forecast_due_at=berlin(2026, 11, 23, 23)
    )
    assert said(guessed) == (
        "12,400 of 20,000 shots. Due by forecast since Mon night shift: read the counter."
    )
    ahead = replace(guessed, forecast_due_at=berlin(2026, 11, 25, 7))
    assert said(ahead) == (
        "12,400 of 20,000 shots. Due soon by forecast since Sun: read the counter. "
        "Due about Wed early shift."
    )


def test_a_deferral_says_what_was_reached():
    deferred = replace(
        SHOTS,
        deferred_from_at=NOW - timedelta(hours=1),
        deferred_until_at=berlin(2026, 11, 30),
        deferred_until_count=25_000,
        undeferred=Reached(due_at=berlin(2026, 11, 23, 7), overdue_at=None, past_limit_at=None),
    )
    assert said(deferred) == (
        "12,400 of 20,000 shots. Deferred until Mon or a count of 25,000. "
        "Due since Mon early shift."
    )


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"is_waiting": True}, "12,400 of 20,000 shots. Stored; the calendar waits."),
        ({"no_record_yet": True}, "No record yet. 12,400 of 20,000 shots."),
        (
            {"unsure_at": berlin(2026, 11, 24, 7), "unsure_why": UnsureWhy.HELD_READING},
            "12,400 of 20,000 shots. Unsure since Tue early shift: a newer reading is held.",
        ),
        (
            {"served_on": date(2026, 11, 16)},
            "12,400 of 20,000 shots. Last work served Mon 16 Nov 2026.",
        ),
        (
            {"notes": (Note.COUNT_OPEN,)},
            "12,400 of 20,000 shots. The count at the last work is open; "
            "at least this much has run since.",
        ),
        (
            {"limiting": LimitKind.CALENDAR, "since": 34, "interval": 90},
            "34 of 90 days.",
        ),
        (
            {"limiting": LimitKind.RUNNING_HOURS, "since": 410.4, "interval": 500.0},
            "410 of 500 running hours.",
        ),
        (
            {
                "limiting": LimitKind.MEASURED,
                "limiting_name": "flow coefficient loss",
                "since": 0.21,
                "interval": 0.3,
            },
            "Flow coefficient loss 0.21, limit 0.3.",
        ),
        (
            {"limiting": LimitKind.EVENT, "limiting_name": EventKind.END_OF_RUN, "share": 1.0},
            "Asked for at the end of a run.",
        ),
        ({"limiting": LimitKind.EVENT, "share": 0.0}, ""),
    ],
)
def test_each_part_has_its_sentence(changes, sentence):
    assert said(replace(SHOTS, **changes)) == sentence


def test_a_deferral_to_a_count_alone_reached_nothing_yet():
    deferred = replace(
        SHOTS,
        deferred_from_at=NOW,
        deferred_until_count=25_000,
        undeferred=Reached(due_at=None, overdue_at=None, past_limit_at=None),
    )
    assert said(deferred) == "12,400 of 20,000 shots. Deferred until a count of 25,000."


@pytest.mark.parametrize("note", list(Note))
def test_every_note_has_a_sentence(note):
    assert said(replace(SHOTS, notes=(note,))) != said(SHOTS)


@pytest.mark.parametrize("kind", list(EventKind))
def test_every_event_has_a_sentence(kind):
    event = replace(SHOTS, limiting=LimitKind.EVENT, limiting_name=kind, share=1.0)
    assert said(event).startswith("Asked for ")
