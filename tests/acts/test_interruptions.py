from datetime import timedelta

import pytest

from moldcare.acts.doing import Doing
from moldcare.acts.errors import DoesNotFit, Incomplete, NotAllowed
from moldcare.acts.floor import set_mold
from moldcare.acts.interruptions import end_interruption, report_interruption
from moldcare.logbook.models import Entry
from moldcare.molds.models import Mold
from moldcare.plant.models import Person
from moldcare.production.convert import interruption_span
from moldcare.production.models import Interruption
from moldcare.production.queries import interruptions_between, interruptions_of, lasting
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def mold() -> Mold:
    return factories.counted_mold(number="M-2044")


@pytest.fixture
def hand(technician: Person, doing: Doing) -> Doing:
    return Doing(person=technician, now=doing.now)


def minutes(n: int) -> timedelta:
    return timedelta(minutes=n)


def test_an_interruption_is_in_the_mold_s_logbook_with_the_press_it_was_in(
    doing: Doing, hand: Doing, mold: Mold
) -> None:
    factories.family(key="vents")
    press = factories.spot(number="7")
    set_mold(doing, mold=mold, press=press, at=doing.now - minutes(600))

    answer = report_interruption(
        hand,
        mold=mold,
        from_at=doing.now - minutes(90),
        to_at=doing.now - minutes(30),
        waiting_min=20,
        repair_min=40,
        defect="burn",
        finding="vent 3 closed",
        mechanism="clogging",
        action="wiped",
        family_key="vents",
        grade="failed",
        scrap_pieces=64,
    )

    row = Interruption.objects.get(pk=answer.row_id)
    assert row.press == press
    entry = Entry.objects.get(pk=answer.entry_id)
    assert entry.chain == mold.chain
    assert entry.sentence == (
        "Interruption in press 7, burn on the part: vent 3 closed. Done: wiped. It lasted 60 min."
    )


def test_an_interruption_lasts_until_somebody_says_it_has_ended(hand: Doing, mold: Mold) -> None:
    answer = report_interruption(
        hand,
        mold=mold,
        from_at=hand.now - minutes(50),
        finding="slide hangs",
        cause="not known",
        scrap_pieces=10,
    )
    row = Interruption.objects.get(pk=answer.row_id)
    assert list(lasting()) == [row]
    with pytest.raises(DoesNotFit, match="slide hangs"):
        report_interruption(hand, mold=mold, from_at=hand.now - minutes(20), finding="again")
    with pytest.raises(Incomplete, match="ends before"):
        end_interruption(hand, interruption=row, to_at=hand.now - minutes(51))

    end_interruption(
        hand,
        interruption=row,
        to_at=hand.now,
        waiting_min=10,
        repair_min=40,
        cause="gib dry",
        action="greased",
        scrap_pieces=4,
    )

    span = interruption_span(interruptions_of(mold).get())
    assert (span.from_at, span.to_at) == (hand.now - minutes(50), hand.now)
    assert (span.cause, span.action, span.scrap_pieces) == ("gib dry", "greased", 14)
    assert list(lasting()) == []
    with pytest.raises(DoesNotFit, match="ended already"):
        end_interruption(hand, interruption=row, to_at=hand.now)
    assert [entry.kind for entry in Entry.objects.filter(chain=mold.chain)] == [
        "interruption",
        "interruption_ended",
    ]


def test_interruptions_of_one_mold_do_not_overlap_and_touch_freely(hand: Doing, mold: Mold) -> None:
    def report(begin: int, end: int | None) -> None:
        report_interruption(
            hand,
            mold=mold,
            from_at=hand.now - minutes(begin),
            to_at=None if end is None else hand.now - minutes(end),
            finding="flash",
        )

    report(60, 30)
    for begin, end in ((50, 40), (70, 50), (40, 20), (90, 10), (70, None)):
        with pytest.raises(DoesNotFit):
            report(begin, end)
    report(90, 60)
    report(30, None)
    assert Interruption.objects.count() == 3
    found = interruptions_between(hand.now - minutes(30), to_at=hand.now)
    assert [row.from_at for row in found] == [hand.now - minutes(30)]


@pytest.mark.parametrize(
    "told",
    [
        {"finding": "  "},
        {"finding": "x" * 401},
        {"defect": "ugly"},
        {"mechanism": "magic"},
        {"family_key": "unknown"},
        {"grade": "awful"},
        {"waiting_min": 30, "repair_min": 60},
        {"scrap_pieces": -1},
    ],
)
def test_what_does_not_add_up_is_refused_and_nothing_is_written(
    hand: Doing, mold: Mold, told: dict[str, object]
) -> None:
    given: dict[str, object] = {
        "mold": mold,
        "from_at": hand.now - minutes(60),
        "to_at": hand.now,
        "finding": "flash",
        **told,
    }
    with pytest.raises(Incomplete):
        report_interruption(hand, **given)  # type: ignore[arg-type]
    assert not Interruption.objects.exists()
    assert not Entry.objects.exists()


def test_a_reader_reports_no_interruption(reader: Person, doing: Doing, mold: Mold) -> None:
    with pytest.raises(NotAllowed):
        report_interruption(
            Doing(person=reader, now=doing.now), mold=mold, from_at=doing.now, finding="flash"
        )


def test_the_future_holds_no_interruption(hand: Doing, mold: Mold) -> None:
    with pytest.raises(DoesNotFit, match="future"):
        report_interruption(hand, mold=mold, from_at=hand.now + minutes(10), finding="flash")
