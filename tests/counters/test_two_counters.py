"""A mold's own counter and its press's, read in turn: both as a rebuild says."""

from datetime import datetime, timedelta

import pytest

from moldcare.acts.doing import Doing
from moldcare.acts.floor import set_mold
from moldcare.acts.readings import ReadingEntry, record_readings
from moldcare.acts.rebuild import first_difference
from moldcare.acts.refresh import refresh_counts
from moldcare.counters.models import Life
from moldcare.plant.models import Person
from tests import factories


def test_readings_of_either_counter_keep_the_difference_as_the_facts_have_it(
    lead: Person, now: datetime
) -> None:
    factories.plant()
    press, mold = factories.spot(), factories.mold()
    factories.cycle_time(mold, author=lead, standard_s="10.0")
    own = factories.counter(on=mold, author=lead)
    other = factories.counter(on=press, author=lead)
    start = now - timedelta(days=4)
    set_mold(Doing(person=lead, now=start), mold=mold, press=press, at=start)
    # the press counts a tenth more than the mold's own counter does
    plan = [(own, 8, 2000), (other, 9, 2475), (own, 16, 4000), (own, 24, 6000), (other, 32, 8800)]
    plan += [(own, 32, 8000), (own, 40, 10000)]
    for counter, hours, value in plan:
        at = start + timedelta(hours=hours)
        record_readings(
            Doing(person=lead, now=at), [ReadingEntry(counter=counter, at=at, value=value)]
        )
        assert first_difference() is None
    notices = Life.objects.get(mold=mold).notices
    assert any(notice["kind"] == "difference" for notice in notices)


@pytest.mark.parametrize(
    ("by_the_press", "is_unsure"),
    [
        # it bears out that the small counter did not go round; it speaks for a full turn
        (200, False),
        (1200, True),
        # between the two
        (700, True),
    ],
)
@pytest.mark.parametrize("press_first", [True, False])
def test_a_second_counter_settles_a_span_that_can_be_read_in_two_ways(
    lead: Person, now: datetime, by_the_press: int, is_unsure: bool, press_first: bool
) -> None:
    factories.plant(zone="UTC")
    factories.three_shifts()
    press, mold = factories.spot(), factories.counted_mold()
    factories.cycle_time(mold, author=lead, standard_s="20.0")
    start = now - timedelta(hours=9)
    own = factories.counter(on=mold, author=lead, at=start, digits=3)
    other = factories.counter(on=press, author=lead, at=start, value_shown=500)
    refresh_counts(counters=[own.pk, other.pk])
    set_mold(Doing(person=lead, now=start), mold=mold, press=press, at=start)
    rows = [(own, 0, 0), (other, 0, 500), (other, 8, 500 + by_the_press), (own, 8, 200)]
    if not press_first:
        rows[2:] = reversed(rows[2:])
    for counter, hours, value in rows:
        at = start + timedelta(hours=hours)
        entry = ReadingEntry(counter=counter, at=at, value=value)
        assert record_readings(Doing(person=lead, now=at), [entry])[0].verdict == "accepted"
        assert first_difference() is None
    life = Life.objects.get(mold=mold)
    assert (life.cycles, life.is_unsure) == (200, is_unsure)
    assert (life.unsure_why == "ambiguous_span") is is_unsure
