"""Newer readings without the history."""

from moldcare.core.counting import extend, judge_counter
from moldcare.core.counting.values import CounterSetup, Fitted, Note, Removed
from tests.core.counting.builders import at, columns, pace

TERMS = {"setup": CounterSetup(digits=5), "pace": pace(20)}


def after(*rows, **more):
    return judge_counter(columns(*rows, **more), **TERMS).resume


def test_a_newer_reading_goes_on_from_the_newest_total():
    resume = after(("06:00", 99_900), ("07:00", 99_990))
    judged = extend(resume, readings=columns(("08:00", 70), first_id=3), **TERMS)
    assert (judged.totals, judged.notes) == ([170], [Note.ROLLED_OVER])
    assert judged.resume.newest_total == 170


def test_a_reading_that_is_held_waits_in_the_state():
    resume = after(("06:00", 500))
    judged = extend(resume, readings=columns(("07:00", 20), first_id=2), **TERMS)
    assert judged.reasons == ["goes_backwards"]
    assert [each.reading_id for each in judged.resume.open_held] == [2]
    assert judged.resume.newest_total == 0


def test_estimates_are_noted():
    resume = after(("06:00", 500))
    fresh = columns(("07:00", 520), first_id=2, sources=["estimated"])
    assert extend(resume, readings=fresh, **TERMS).notes == [Note.ESTIMATED]


def test_what_only_the_history_can_tell_asks_for_it():
    resume = after(("06:00", 500), ("08:00", 600))
    for time in ("07:00", "08:00"):
        assert extend(resume, readings=columns((time, 550), first_id=3), **TERMS) is None
    # 214 are too many for an hour by one; a reading halfway, at 107, makes them possible.
    held = after(("06:00", 500), ("07:00", 714))
    assert held.open_held
    assert extend(held, readings=columns(("06:30", 607), first_id=3), **TERMS) is None


def test_a_clock_ahead_stays_ahead():
    resume = after(("06:00", 500), ("09:00", 520), written_us=[at("06:00"), at("06:30")])
    judged = extend(resume, readings=columns(("07:00", 510), first_id=3), **TERMS)
    assert judged.reasons == ["clock_is_off", ""]


def test_a_removed_counter_takes_no_more_readings():
    events = [
        Fitted(after_reading=0, at_us=at("05:00"), value_shown=0),
        Removed(after_reading=1, at_us=at("07:00")),
    ]
    resume = judge_counter(columns(("06:00", 50)), **TERMS, events=events).resume
    judged = extend(resume, readings=columns(("08:00", 60), first_id=2), **TERMS)
    assert judged.reasons == ["not_fitted"]
    assert judge_counter(columns(("04:00", 50)), **TERMS, events=events[:1]).resume is not None
