from datetime import datetime, timedelta

import pytest

from moldcare.acts.counters import (
    add_counter,
    exchange_counter,
    fit_counter,
    prefer_count,
    remove_counter,
    report_dry_cycles,
)
from moldcare.acts.doing import Doing
from moldcare.acts.errors import DoesNotFit, Incomplete, NotAllowed
from moldcare.acts.refresh import refresh_counts
from moldcare.counters.models import Counter, CounterFitting, CountPreference, DryCycles, Life
from moldcare.counters.queries import counter_on
from moldcare.logbook.models import Entry
from moldcare.molds.models import Mold
from moldcare.plant.models import Person
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def mold() -> Mold:
    return factories.counted_mold(number="M-2044")


def hours(n: float) -> timedelta:
    return timedelta(hours=n)


def added(doing: Doing, label: str, *, digits: int | None = 7) -> Counter:
    return Counter.objects.get(pk=add_counter(doing, label=label, digits=digits).row_id)


def read(doing: Doing, counter: Counter, rows: list[tuple[datetime, int]]) -> None:
    factories.readings(counter, rows=rows, author=doing.person)
    refresh_counts(counters=[counter.pk])


def test_what_a_new_counter_shows_at_first_is_not_use(doing: Doing, mold: Mold) -> None:
    # 83,412 off, 37 on, 57 two hours later is 20 cycles since the exchange
    old, new = added(doing, "Z-1"), added(doing, "Z-2")
    began, changed = doing.now - hours(30), doing.now - hours(4)
    fit_counter(doing, counter=old, on=mold, at=began, value_shown=83_000)
    read(doing, old, [(began + hours(1), 83_100)])

    answer = exchange_counter(
        doing, old=old, new=new, at=changed, last_value=83_412, value_shown=37
    )
    read(doing, new, [(changed + hours(2), 57)])

    assert Life.objects.get(mold=mold).cycles == 412 + 20
    assert counter_on(at=doing.now, mold=mold) == new
    entry = Entry.objects.get(pk=answer.entry_id)
    assert entry.kind == "counter_exchanged"
    assert "showing 83412, new one showing 37" in entry.sentence
    pair = CounterFitting.objects.filter(entry=entry).order_by("id")
    assert [(row.act, row.value_shown) for row in pair] == [("removed", 83_412), ("fitted", 37)]
    assert len({row.at for row in pair}) == 1


def test_a_life_count_before_our_records_goes_on_with_the_value_shown(doing: Doing) -> None:
    # 250,000 before, fitted showing 12,340, first reading 12,400
    mold = factories.counted_mold(opening_count=250_000)
    counter = added(doing, "Z-1")
    fit_counter(doing, counter=counter, on=mold, at=doing.now - hours(9), value_shown=12_340)
    read(doing, counter, [(doing.now, 12_400)])

    assert Life.objects.get(mold=mold).cycles == 250_060


def test_a_counter_sits_in_one_place_and_a_place_has_one_counter(doing: Doing, mold: Mold) -> None:
    one, two = added(doing, "Z-1"), added(doing, "Z-2")
    press = factories.spot(number="7")
    fit_counter(doing, counter=one, on=mold, at=doing.now - hours(5))

    with pytest.raises(DoesNotFit, match="Exchange it"):
        fit_counter(doing, counter=two, on=mold, at=doing.now)
    with pytest.raises(DoesNotFit, match="Remove it there first"):
        fit_counter(doing, counter=one, on=press, at=doing.now)
    with pytest.raises(DoesNotFit, match="was fitted there"):
        fit_counter(doing, counter=two, on=mold, at=doing.now - hours(8))
    with pytest.raises(DoesNotFit, match="not on"):
        fit_counter(doing, counter=two, on=factories.spot(kind="rack"), at=doing.now)

    remove_counter(doing, counter=one, at=doing.now - hours(1), last_value=500)
    fit_counter(doing, counter=one, on=press, at=doing.now, value_shown=500)
    assert counter_on(at=doing.now, press=press) == one
    assert counter_on(at=doing.now, mold=mold) is None
    assert Entry.objects.get(kind="counter_removed").chain == mold.chain


def test_what_contradicts_an_exchange_is_refused(doing: Doing, mold: Mold) -> None:
    one, two = added(doing, "Z-1"), added(doing, "Z-2")
    exchange = {"at": doing.now, "last_value": 1, "value_shown": 0}

    with pytest.raises(DoesNotFit, match="sits nowhere"):
        exchange_counter(doing, old=one, new=two, **exchange)  # type: ignore[arg-type]
    fit_counter(doing, counter=one, on=mold, at=doing.now - hours(5))
    with pytest.raises(DoesNotFit, match="same counter"):
        exchange_counter(doing, old=one, new=one, **exchange)  # type: ignore[arg-type]
    fit_counter(doing, counter=two, on=factories.spot(), at=doing.now - hours(2))
    with pytest.raises(DoesNotFit, match="sits on"):
        exchange_counter(doing, old=one, new=two, **exchange)  # type: ignore[arg-type]
    assert CounterFitting.objects.count() == 2


@pytest.mark.parametrize(
    ("digits", "rollover", "value"),
    [(5, None, 100_000), (None, 65_536, 65_536), (7, None, -1), (None, None, 2**53)],
)
def test_a_value_that_a_counter_cannot_show_is_refused(
    doing: Doing, mold: Mold, digits: int | None, rollover: int | None, value: int
) -> None:
    # 10^5 values with five digits, 2^16 in a 16-bit register
    answer = add_counter(doing, label="Z-1", digits=digits, rollover=rollover)
    counter = Counter.objects.get(pk=answer.row_id)

    with pytest.raises(DoesNotFit, match="cannot show"):
        fit_counter(doing, counter=counter, on=mold, at=doing.now, value_shown=value)


@pytest.mark.parametrize("fields", [{"digits": 0}, {"digits": 19}, {"rollover": 0}, {"label": ""}])
def test_a_counter_that_cannot_be_is_refused(doing: Doing, fields: dict[str, int | str]) -> None:
    with pytest.raises(Incomplete):
        add_counter(doing, **{"label": "Z-1", **fields})  # type: ignore[arg-type]


def test_dry_cycles_are_taken_off_the_shots_once(doing: Doing, feed: Person, mold: Mold) -> None:
    counter = added(doing, "Z-1")
    began = doing.now - hours(20)
    fit_counter(doing, counter=counter, on=mold, at=began, value_shown=0)
    read(doing, counter, [(began + hours(10), 2_000)])

    report_dry_cycles(
        Doing(person=feed, now=doing.now),
        mold=mold,
        from_at=began,
        to_at=began + hours(1),
        cycles=150,
    )

    life = Life.objects.get(mold=mold)
    assert (life.cycles, life.shots) == (2_000, 1_850)
    with pytest.raises(DoesNotFit, match="reported already"):
        report_dry_cycles(doing, mold=mold, from_at=began, to_at=began + hours(2), cycles=100)
    with pytest.raises(Incomplete):
        report_dry_cycles(doing, mold=mold, from_at=began, to_at=began, cycles=5)
    with pytest.raises(Incomplete):
        report_dry_cycles(
            doing, mold=mold, from_at=began + hours(3), to_at=began + hours(4), cycles=0
        )
    assert DryCycles.objects.count() == 1


def test_which_counter_counts_is_decided_with_a_reason(doing: Doing, mold: Mold) -> None:
    decided = {"mold": mold, "source": "press", "from_at": doing.now - hours(9)}
    with pytest.raises(Incomplete, match="reason"):
        prefer_count(doing, **decided, reason="")  # type: ignore[arg-type]
    with pytest.raises(Incomplete):
        prefer_count(doing, **{**decided, "source": "moon"}, reason="x")  # type: ignore[arg-type]
    with pytest.raises(Incomplete, match="ends before"):
        prefer_count(
            doing,
            **decided,  # type: ignore[arg-type]
            to_at=doing.now - hours(10),
            reason="x",
        )
    prefer_count(doing, **decided, reason="actuator was bent")  # type: ignore[arg-type]

    assert CountPreference.objects.get().reason == "actuator was bent"
    assert Entry.objects.get(chain=mold.chain).kind == "count_preferred"


def test_a_technician_exchanges_no_counter(technician: Person, doing: Doing, mold: Mold) -> None:
    hand = Doing(person=technician, now=doing.now)
    counter = factories.counter(on=mold, author=doing.person)
    with pytest.raises(NotAllowed):
        add_counter(hand, label="Z-9")
    with pytest.raises(NotAllowed):
        remove_counter(hand, counter=counter, at=doing.now, last_value=1)
