"""A mold's own counter and its press's, read in turn: both as a rebuild says."""

from datetime import datetime, timedelta

from moldcare.acts.doing import Doing
from moldcare.acts.floor import set_mold
from moldcare.acts.readings import ReadingEntry, record_readings
from moldcare.acts.rebuild import first_difference
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
