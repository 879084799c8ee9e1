"""A component's count follows it, and so do the standings of where it sits now."""

from datetime import datetime, timedelta

import pytest

from moldcare.acts.doing import Doing
from moldcare.acts.floor import fit_component, take_out_component
from moldcare.acts.readings import ReadingEntry, record_readings
from moldcare.acts.rebuild import first_difference
from moldcare.acts.refresh import refresh_counts
from moldcare.care.models import Standing
from moldcare.molds.models import Component, Position
from moldcare.plant.models import Person
from tests import factories

pytestmark = pytest.mark.django_db


def test_a_reading_of_the_mold_it_sat_in_moves_the_standing_where_it_sits(
    lead: Person, now: datetime
) -> None:
    factories.plant(zone="UTC")
    factories.three_shifts()
    start = now - timedelta(days=4)
    molds = [factories.mold(), factories.mold()]
    counters = [factories.counter(on=mold, author=lead, at=start) for mold in molds]
    for mold, counter in zip(molds, counters, strict=True):
        factories.cycle_time(mold, author=lead, standard_s="20.0")
        refresh_counts(counters=[counter.pk], molds=[mold.pk])
    places = [Position.objects.create(mold=mold, ident="K1", name="core") for mold in molds]
    piece = Component.objects.create(serial="S-1", name="core")
    rule = factories.care_rule(
        mold=molds[1],
        position=places[1],
        target="position",
        count_base=10_000,
        count_basis="cycles",
        entered_at=start,
    )
    refresh_counts(molds=[mold.pk for mold in molds])

    def doing(hour: int) -> Doing:
        return Doing(person=lead, now=start + timedelta(hours=hour))

    def read(place: int, hour: int, value: int) -> None:
        at = start + timedelta(hours=hour)
        record_readings(doing(hour), [ReadingEntry(counter=counters[place], at=at, value=value)])

    fit_component(doing(0), component=piece, position=places[0], at=start)
    read(0, 8, 1000)
    read(1, 13, 1500)
    take_out_component(doing(12), component=piece, at=start + timedelta(hours=12))
    fit_component(doing(13), component=piece, position=places[1], at=start + timedelta(hours=13))
    read(1, 16, 1860)
    read(0, 16, 2000)
    assert first_difference() is None
    # twelve hours in the first mold, three in the second
    assert Standing.objects.get(rule=rule).count == 1500 + 360
