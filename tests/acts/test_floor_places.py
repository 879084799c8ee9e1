from datetime import datetime, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from moldcare.acts.doing import Doing
from moldcare.acts.errors import DoesNotFit, NotAllowed, NotFound
from moldcare.acts.floor import (
    OpenMatters,
    add_past_run,
    move_mold,
    note_condition,
    plan_run,
    pull_mold,
    set_mold,
)
from moldcare.logbook.models import Entry
from moldcare.molds.models import Mold, Move, Run, RunEvent
from moldcare.molds.queries import (
    mold_in_press,
    molds_today,
    place_of,
    places_of,
    run_spans,
    set_events_now,
    stays,
)
from moldcare.plant.models import Person, Spot
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def mold() -> Mold:
    return factories.counted_mold(number="M-2044")


@pytest.fixture
def press() -> Spot:
    return factories.spot(number="7")


@pytest.fixture
def rack() -> Spot:
    return factories.spot(kind="rack", number="B4")


@pytest.fixture
def bench() -> Spot:
    return factories.spot(kind="bench", number="2")


def hours(n: float) -> timedelta:
    return timedelta(hours=n)


def test_a_mold_that_was_set_is_in_that_press_and_the_logbook_says_so(
    doing: Doing, mold: Mold, press: Spot, rack: Spot
) -> None:
    move_mold(doing, mold=mold, to=rack, at=doing.now - hours(5))

    answer = set_mold(doing, mold=mold, press=press, at=doing.now - hours(1))

    place = place_of(mold)
    assert place is not None
    assert place.spot == press
    entry = Entry.objects.get(pk=answer.entry_id)
    assert entry.chain == mold.chain
    assert entry.number == answer.entry_number == 2
    assert entry.sentence == "Set in press 7 from rack B4."
    assert [event.mold for event in set_events_now()] == [mold]


def test_a_press_that_holds_a_mold_takes_no_other(doing: Doing, mold: Mold, press: Spot) -> None:
    other = factories.counted_mold(number="M-3")
    set_mold(doing, mold=other, press=press, at=doing.now - hours(3))

    with pytest.raises(DoesNotFit, match="holds mold M-3"):
        set_mold(doing, mold=mold, press=press, at=doing.now)

    assert not Move.objects.filter(mold=mold).exists()
    assert not Entry.objects.filter(chain=mold.chain).exists()


def test_a_mold_in_a_press_is_pulled_before_it_goes_anywhere_else(
    doing: Doing, mold: Mold, press: Spot, rack: Spot
) -> None:
    set_mold(doing, mold=mold, press=press, at=doing.now - hours(3))

    with pytest.raises(DoesNotFit, match="Pull it first"):
        set_mold(doing, mold=mold, press=factories.spot(number="8"), at=doing.now)
    with pytest.raises(DoesNotFit, match="Pull it first"):
        move_mold(doing, mold=mold, to=rack, at=doing.now)

    pulled = pull_mold(doing, mold=mold, to=rack, at=doing.now, last_shot_kept=True)
    assert pulled.press_id == press.pk
    assert Entry.objects.get(pk=pulled.entry_id).sentence == (
        "Pulled from press 7 to rack B4. Last shot kept."
    )
    assert mold_in_press(press) is None


def test_a_mold_goes_to_a_press_only_by_being_set(
    doing: Doing, mold: Mold, press: Spot, rack: Spot
) -> None:
    with pytest.raises(DoesNotFit, match="is set there"):
        move_mold(doing, mold=mold, to=press, at=doing.now)
    with pytest.raises(DoesNotFit, match="is no press"):
        set_mold(doing, mold=mold, press=rack, at=doing.now)


def test_a_mold_that_is_in_no_press_cannot_be_pulled(
    doing: Doing, mold: Mold, rack: Spot, bench: Spot
) -> None:
    move_mold(doing, mold=mold, to=rack, at=doing.now - hours(1))

    with pytest.raises(DoesNotFit, match="was in no press"):
        pull_mold(doing, mold=mold, to=bench, at=doing.now)


def test_a_late_move_lands_between_the_moves_that_are_known(
    doing: Doing, mold: Mold, press: Spot, rack: Spot, bench: Spot
) -> None:
    move_mold(doing, mold=mold, to=rack, at=doing.now - hours(10))
    set_mold(doing, mold=mold, press=press, at=doing.now - hours(2))

    move_mold(doing, mold=mold, to=bench, at=doing.now - hours(6))

    assert [stay.spot for stay in stays(mold)] == [rack, bench, press]
    assert [stay.to_at for stay in stays(mold)] == [
        doing.now - hours(6),
        doing.now - hours(2),
        None,
    ]
    late = Entry.objects.get(chain=mold.chain, number=3)
    assert (late.happened_at, late.written_at) == (doing.now - hours(6), doing.now)


def test_a_late_move_out_of_a_press_is_refused(
    doing: Doing, mold: Mold, press: Spot, rack: Spot, bench: Spot
) -> None:
    set_mold(doing, mold=mold, press=press, at=doing.now - hours(9))
    pull_mold(doing, mold=mold, to=rack, at=doing.now - hours(1))

    with pytest.raises(DoesNotFit, match="Pull it first"):
        move_mold(doing, mold=mold, to=bench, at=doing.now - hours(4))
    with pytest.raises(DoesNotFit, match="was pulled already"):
        pull_mold(doing, mold=mold, to=bench, at=doing.now - hours(4))


def test_two_moves_of_a_mold_at_one_instant_are_refused(
    doing: Doing, mold: Mold, rack: Spot, bench: Spot
) -> None:
    move_mold(doing, mold=mold, to=rack, at=doing.now)

    with pytest.raises(DoesNotFit, match="at this very time"):
        move_mold(doing, mold=mold, to=bench, at=doing.now)


def test_a_run_that_nobody_entered_is_added_before_a_known_move(
    doing: Doing, mold: Mold, press: Spot, rack: Spot, bench: Spot
) -> None:
    move_mold(doing, mold=mold, to=rack, at=doing.now - hours(2))
    with pytest.raises(DoesNotFit, match="with the time it was pulled"):
        set_mold(doing, mold=mold, press=press, at=doing.now - hours(40))

    began, ended = add_past_run(
        doing,
        mold=mold,
        press=press,
        set_at=doing.now - hours(40),
        pulled_at=doing.now - hours(8),
        to=bench,
    )

    assert [stay.spot for stay in stays(mold)] == [press, bench, rack]
    (span,) = run_spans(mold=mold)
    assert span.set.pk == began.row_id
    assert span.pulled is not None
    assert span.pulled.pk == ended.row_id
    with pytest.raises(DoesNotFit, match="M-2044"):
        add_past_run(
            doing,
            mold=factories.counted_mold(number="M-9"),
            press=press,
            set_at=doing.now - hours(20),
            pulled_at=doing.now - hours(4),
            to=bench,
        )


def test_a_mold_that_is_set_later_leaves_its_press_free_until_then(
    doing: Doing, mold: Mold, press: Spot, bench: Spot
) -> None:
    other = factories.counted_mold(number="M-3")
    set_mold(doing, mold=other, press=press, at=doing.now - hours(3))

    with pytest.raises(DoesNotFit, match="holds mold M-3"):
        set_mold(doing, mold=mold, press=press, at=doing.now - hours(9))
    add_past_run(
        doing,
        mold=mold,
        press=press,
        set_at=doing.now - hours(9),
        pulled_at=doing.now - hours(3),
        to=bench,
    )

    before = mold_in_press(press, at=doing.now - hours(4))
    after = mold_in_press(press, at=doing.now)
    assert before is not None
    assert after is not None
    assert (before.mold, after.mold) == (mold, other)


def test_the_future_is_refused_beyond_the_clock_error_and_nothing_is_written(
    doing: Doing, mold: Mold, rack: Spot, bench: Spot
) -> None:
    factories.plant(clock_error_s=300)

    with pytest.raises(DoesNotFit, match="in the future"):
        move_mold(doing, mold=mold, to=rack, at=doing.now + timedelta(seconds=301))
    assert not Move.objects.exists()

    move_mold(doing, mold=mold, to=rack, at=doing.now + timedelta(seconds=299))
    entry = Entry.objects.get(chain=mold.chain)
    assert entry.happened_at <= entry.written_at + timedelta(seconds=300)


def test_a_mold_with_something_open_is_set_only_with_a_lead_s_reason(
    doing: Doing, technician: Person, mold: Mold, press: Spot
) -> None:
    note_condition(
        doing, mold=mold, at=doing.now - hours(2), condition="incomplete", note="pin 4 is out"
    )
    with pytest.raises(OpenMatters, match="incomplete") as refused:
        set_mold(doing, mold=mold, press=press, at=doing.now)
    assert [matter.kind for matter in refused.value.matters] == ["condition"]
    with pytest.raises(OpenMatters, match="Only a lead"):
        set_mold(
            Doing(person=technician, now=doing.now),
            mold=mold,
            press=press,
            at=doing.now,
            accepts_open="runs without it",
        )

    answer = set_mold(
        doing, mold=mold, press=press, at=doing.now, accepts_open="cavity 4 is blocked anyway"
    )

    assert answer.accepted == ["condition: incomplete"]
    sentence = Entry.objects.get(pk=answer.entry_id).sentence
    assert "condition: incomplete" in sentence
    assert "cavity 4 is blocked anyway" in sentence


def test_setting_a_mold_begins_the_run_that_was_planned(
    doing: Doing, mold: Mold, press: Spot, bench: Spot
) -> None:
    planned = plan_run(
        doing,
        mold=mold,
        press=press,
        planned_from=doing.now - hours(1),
        planned_to=doing.now + hours(30),
    )

    assert set_mold(doing, mold=mold, press=press, at=doing.now).run_id == planned.run_id

    other = factories.counted_mold()
    with pytest.raises(DoesNotFit, match="another mold or press"):
        set_mold(
            doing,
            mold=other,
            press=factories.spot(),
            at=doing.now,
            run=Run.objects.get(pk=planned.run_id),
        )
    later = Doing(person=doing.person, now=doing.now + hours(9))
    pull_mold(later, mold=mold, to=bench, at=later.now)
    assert RunEvent.objects.get(act="pulled").run_id == planned.run_id


def test_a_reader_moves_nothing(reader: Person, now: datetime, mold: Mold, rack: Spot) -> None:
    with pytest.raises(NotAllowed):
        move_mold(Doing(person=reader, now=now), mold=mold, to=rack, at=now)


def test_a_withdrawn_mold_goes_nowhere(doing: Doing, mold: Mold, rack: Spot) -> None:
    Mold.objects.filter(pk=mold.pk).update(withdrawn_at=doing.now)

    with pytest.raises(NotFound, match="was withdrawn"):
        move_mold(doing, mold=mold, to=rack, at=doing.now)


def test_places_of_many_molds_take_as_many_queries_as_of_one(
    doing: Doing, press: Spot, rack: Spot, django_assert_num_queries: object
) -> None:
    molds = [factories.counted_mold() for _each in range(6)]
    for mold in molds:
        factories.move(mold, to=rack, author=doing.person)
        note_condition(doing, mold=mold, at=doing.now, condition="fit")
    set_mold(doing, mold=molds[0], press=press, at=doing.now)

    with django_assert_num_queries(3):  # type: ignore[operator]
        today = molds_today(molds)

    assert [each.place.spot for each in today if each.place] == [press, *[rack] * 5]
    earlier = places_of(at=doing.now - hours(1))
    assert {move.spot for move in earlier.values()} == {rack}


class AnyOrderOfMoves(TestCase):
    """Whatever is entered, in any order, a mold is in one place and a press holds one mold."""

    @given(
        tries=st.lists(
            st.tuples(
                st.sampled_from(["set", "pull", "move", "past"]),
                st.integers(0, 2),
                st.integers(0, 3),
                st.integers(0, 40),
                st.integers(1, 12),
            ),
            max_size=12,
        )
    )
    def test_a_mold_is_in_one_place_and_a_press_holds_one_mold(
        self, tries: list[tuple[str, int, int, int, int]]
    ) -> None:
        factories.begin_again()
        now = factories.ENTERED_AT + timedelta(days=10)
        doing = Doing(person=factories.person(role="lead"), now=now)
        molds = [factories.counted_mold() for _each in range(3)]
        presses = [factories.spot(number=str(n)) for n in (1, 2)]
        racks = [factories.spot(kind="rack", number=str(n)) for n in (1, 2)]
        for act, mold_at, spot_at, hour, lasting in tries:
            mold, at = molds[mold_at], now - hours(hour)
            press, rack = presses[spot_at % 2], racks[spot_at % 2]
            try:
                if act == "set":
                    set_mold(doing, mold=mold, press=press, at=at)
                elif act == "pull":
                    pull_mold(doing, mold=mold, to=rack, at=at)
                elif act == "move":
                    move_mold(doing, mold=mold, to=rack, at=at)
                else:
                    until = min(now, at + hours(lasting))
                    add_past_run(doing, mold=mold, press=press, set_at=at, pulled_at=until, to=rack)
            except DoesNotFit:
                continue
        in_press: dict[int, list[tuple[datetime, datetime]]] = {}
        for mold in molds:
            moves = list(Move.objects.filter(mold=mold).order_by("at"))
            assert len({move.at for move in moves}) == len(moves)
            runs = run_spans(mold=mold)
            sat = [stay for stay in stays(mold) if stay.spot.kind == "press"]
            assert [(r.set.at, r.pulled.at if r.pulled else None) for r in runs] == [
                (stay.from_at, stay.to_at) for stay in sat
            ]
            for stay in sat:
                span = (stay.from_at, stay.to_at or now + hours(1))
                in_press.setdefault(stay.spot.pk, []).append(span)
        for spans in in_press.values():
            spans.sort()
            for (_begin, end), (begin, _end) in pairwise(spans):
                assert end <= begin
