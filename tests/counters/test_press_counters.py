"""A press's counter counts for whichever mold is set: the same read by read as rebuilt at once."""

from dataclasses import dataclass
from datetime import datetime, timedelta

import pytest

from moldcare.acts.counters import prefer_count, report_dry_cycles
from moldcare.acts.doing import Doing
from moldcare.acts.floor import pull_mold, set_mold
from moldcare.acts.readings import ReadingEntry, record_readings
from moldcare.acts.rebuild import first_difference
from moldcare.acts.refresh import refresh_counts
from moldcare.counters.models import Counter, Life, Reading
from moldcare.molds.models import Mold
from moldcare.plant.models import Person, Spot
from tests import factories

pytestmark = pytest.mark.django_db


@dataclass
class Hall:
    """A press with a counter, a bench, two molds, and hours since the start."""

    lead: Person
    start: datetime
    press: Spot
    bench: Spot
    counter: Counter
    first: Mold
    second: Mold

    def doing(self, hour: float) -> Doing:
        return Doing(person=self.lead, now=self.start + timedelta(hours=hour))

    def read(
        self, hour: float, value: int, *, on: Counter | None = None, written: float | None = None
    ) -> str:
        at = self.start + timedelta(hours=hour)
        entry = ReadingEntry(counter=on or self.counter, at=at, value=value)
        [answer] = record_readings(self.doing(hour if written is None else written), [entry])
        assert first_difference() is None
        return answer.verdict

    def estimate(self, hour: float, value: int) -> None:
        at = self.start + timedelta(hours=hour)
        source = Reading.Source.ESTIMATED
        entry = ReadingEntry(counter=self.counter, at=at, value=value, source=source)
        record_readings(self.doing(hour), [entry])
        assert first_difference() is None

    def set(self, mold: Mold, hour: float) -> None:
        doing = self.doing(hour)
        set_mold(doing, mold=mold, press=self.press, at=doing.now, accepts_open="urgent")

    def pull(self, mold: Mold, hour: float) -> None:
        doing = self.doing(hour)
        pull_mold(doing, mold=mold, to=self.bench, at=doing.now)

    def lives(self) -> list[tuple[int, bool]]:
        rows = Life.objects.filter(mold__in=[self.first, self.second]).order_by("mold_id")
        return list(rows.values_list("cycles", "is_estimated"))


@pytest.fixture
def hall(lead: Person, now: datetime) -> Hall:
    factories.plant(zone="UTC")
    factories.three_shifts()
    start = now - timedelta(days=6)
    press, bench = factories.spot(), factories.spot(kind="bench")
    first, second = factories.counted_mold(), factories.counted_mold()
    for mold in (first, second):
        factories.cycle_time(mold, author=lead, standard_s="20.0")
    counter = factories.counter(on=press, author=lead, at=start)
    made = Hall(lead, start, press, bench, counter, first, second)
    made.set(first, 0)
    return made


def test_a_change_between_readings_shares_the_span_and_both_say_so(hall: Hall) -> None:
    hall.read(8, 1200)
    hall.pull(hall.first, 11)
    hall.set(hall.second, 11)
    assert hall.lives() == [(1200, False), (0, False)]
    hall.read(16, 2400)
    # three of the eight hours were the first mold's
    assert hall.lives() == [(1650, True), (750, True)]
    hall.read(24, 3600)
    assert hall.lives() == [(1650, True), (1950, True)]


def test_a_reading_at_the_change_leaves_nothing_to_share(hall: Hall) -> None:
    hall.read(8, 1200)
    hall.pull(hall.first, 11)
    hall.read(11, 1700)
    hall.set(hall.second, 11)
    hall.read(16, 2400)
    assert hall.lives() == [(1700, False), (700, False)]


def test_two_changes_between_readings_and_an_empty_press(hall: Hall) -> None:
    hall.read(8, 1200)
    hall.pull(hall.first, 10)
    hall.set(hall.second, 10)
    hall.pull(hall.second, 12)
    hall.read(16, 1800)
    # the press ran two hours with each mold, and not after that
    assert hall.lives() == [(1500, True), (300, True)]
    hall.read(24, 1800)
    hall.set(hall.first, 30)
    hall.read(32, 2100)
    assert hall.lives()[1] == (300, True)


def test_a_reading_that_arrives_late_moves_what_was_shared(hall: Hall) -> None:
    hall.read(8, 1200)
    hall.pull(hall.first, 11)
    hall.set(hall.second, 11)
    hall.read(16, 2400)
    hall.read(11, 1500, written=17)
    assert hall.lives() == [(1500, False), (900, False)]


def test_a_reading_older_than_the_change_that_arrives_after_it(hall: Hall) -> None:
    hall.read(8, 1200)
    hall.pull(hall.first, 11)
    hall.set(hall.second, 11)
    hall.read(10, 1500, written=12)
    assert hall.lives() == [(1500, False), (0, False)]
    hall.read(16, 2400)
    assert hall.lives() == [(1650, True), (750, True)]


def test_a_count_is_estimated_until_a_real_reading_takes_the_place_of_the_estimate(
    hall: Hall,
) -> None:
    hall.read(8, 1200)
    hall.estimate(16, 2400)
    assert hall.lives()[0] == (2400, True)
    hall.read(24, 3500)
    assert hall.lives()[0] == (3500, False)


def test_a_counter_decided_for_between_two_readings(hall: Hall) -> None:
    own = factories.counter(on=hall.first, author=hall.lead, at=hall.start)
    refresh_counts(counters=[own.pk])
    hall.read(8, 1200)
    hall.read(8, 1000, on=own)
    doing = hall.doing(11)
    prefer_count(
        doing,
        mold=hall.first,
        source="press",
        from_at=hall.start + timedelta(hours=10),
        to_at=None,
        reason="the mold's own slips",
    )
    hall.read(16, 2000, on=own)
    hall.read(16, 2400)
    # ten hours by the mold's own, then by the press's
    assert hall.lives()[0] == (1250 + 900, True)


def test_dry_cycles_reported_for_a_time_that_was_not_read_yet(hall: Hall) -> None:
    hall.read(8, 1200)
    report_dry_cycles(
        hall.doing(12),
        mold=hall.first,
        from_at=hall.start + timedelta(hours=7),
        to_at=hall.start + timedelta(hours=11),
        cycles=100,
    )
    hall.read(16, 2400)
    life = Life.objects.get(mold=hall.first)
    assert (life.cycles, life.shots) == (2400, 2300)
    hall.read(24, 3600)
    assert Life.objects.get(mold=hall.first).shots == 3500


def test_a_stale_cycle_is_said_of_the_mold_that_was_set_and_once(hall: Hall) -> None:
    own = factories.counter(on=hall.second, author=hall.lead, at=hall.start)
    refresh_counts(counters=[own.pk])
    hall.read(8, 1200)
    hall.pull(hall.first, 8)
    hall.set(hall.second, 8)
    hall.read(8, 0, on=own)
    for hour in (16, 24, 32):
        # ten seconds a cycle, where twenty are the standard
        assert hall.read(hour, 1200 + (hour - 8) * 360) == "held"
        assert hall.read(hour, (hour - 8) * 360, on=own) == "held"
    first, second = (
        [notice["kind"] for notice in Life.objects.get(mold=mold).notices]
        for mold in (hall.first, hall.second)
    )
    assert (first, second) == ([], ["stale_cycle"])
