from datetime import datetime, timedelta

import pytest

from moldcare.molds.models import Block, Component, ConditionNote, Fitting, Position, Run, RunEvent
from moldcare.molds.queries import (
    block_spans,
    components_in,
    conditions_of,
    mold_in_press,
    place_of,
    planned_runs,
    position_of,
    run_spans,
    set_events_now,
)
from moldcare.plant.models import Person
from tests import factories

pytestmark = pytest.mark.django_db


def hours(n: float) -> timedelta:
    return timedelta(hours=n)


def pulled(set_event: RunEvent, *, at: datetime, author: Person) -> RunEvent:
    return RunEvent.objects.create(
        mold=set_event.mold,
        press=set_event.press,
        act="pulled",
        at=at,
        person=author,
        after_reading=0,
        written_at=at,
    )


def test_a_place_is_asked_for_at_any_instant(lead: Person, now: datetime) -> None:
    mold = factories.mold()
    rack, bench = factories.spot(kind="rack"), factories.spot(kind="bench")
    factories.move(mold, to=bench, author=lead, at=now - hours(1))
    factories.move(mold, to=rack, author=lead, at=now - hours(9))

    def spot(at: datetime | None) -> object:
        move = place_of(mold, at=at)
        return move.spot if move else None

    assert spot(None) == bench
    assert spot(now - hours(1)) == bench
    assert spot(now - hours(1.5)) == rack
    assert spot(now - hours(10)) is None


def test_a_press_whose_mold_was_changed_at_one_instant_holds_the_new_one(
    lead: Person, now: datetime
) -> None:
    press = factories.spot()
    old, new = factories.mold(), factories.mold()
    first = factories.set_in_press(old, press=press, author=lead, at=now - hours(9))
    factories.set_in_press(new, press=press, author=lead, at=now - hours(2))
    pulled(first, at=now - hours(2), author=lead)

    found = mold_in_press(press)
    assert found is not None
    assert found.mold == new
    assert [event.mold for event in set_events_now()] == [new]
    assert [event.mold for event in set_events_now(at=now - hours(3))] == [old]
    assert [(span.set.mold, span.pulled is None) for span in run_spans(press=press)] == [
        (old, False),
        (new, True),
    ]


def test_planned_runs_touch_the_span_and_were_not_called_off(now: datetime) -> None:
    press = factories.spot()

    def run(begin: int, end: int | None, *, called_off: bool = False) -> Run:
        return Run.objects.create(
            mold=factories.mold(),
            press=press,
            planned_from=now + hours(begin),
            planned_to=None if end is None else now + hours(end),
            is_called_off=called_off,
        )

    run(-9, 0)
    inside, across, open_end = run(2, 4), run(-5, 30), run(-2, None)
    run(10, 12)
    run(2, 4, called_off=True)

    assert list(planned_runs(from_at=now, to_at=now + hours(10))) == [across, open_end, inside]


def test_components_are_where_their_newest_fitting_says(
    lead: Person, now: datetime, django_assert_num_queries: object
) -> None:
    mold = factories.mold()
    places = [Position.objects.create(mold=mold, ident=f"core {n}") for n in (1, 2)]
    cores = [Component.objects.create(serial=f"C-{n}", name="core") for n in (1, 2)]

    def fit(core: Component, position: Position | None, before: int) -> None:
        Fitting.objects.create(
            component=core,
            position=position,
            at=now - hours(before),
            person=lead,
            written_at=now,
        )

    fit(cores[0], places[0], 9)
    fit(cores[1], places[1], 9)
    fit(cores[0], None, 5)
    fit(cores[1], None, 4)
    fit(cores[1], places[0], 3)
    keys = [place.pk for place in places]

    with django_assert_num_queries(1):  # type: ignore[operator]
        today = components_in(keys)
    assert today == {places[0].pk: cores[1]}
    assert components_in(keys, at=now - hours(6)) == {
        places[0].pk: cores[0],
        places[1].pk: cores[1],
    }
    shelf = position_of(cores[0])
    assert shelf is not None
    assert shelf.position is None


def test_a_cavity_that_was_entered_as_blocked_twice_is_blocked_from_the_first_on(
    lead: Person, now: datetime
) -> None:
    mold = factories.mold()
    cavity = mold.cavities.get(ident="1")
    for before, is_blocked in ((9, True), (7, True), (5, False), (4, False), (2, True)):
        Block.objects.create(
            cavity=cavity,
            at=now - hours(before),
            is_blocked=is_blocked,
            reason="flash",
            person=lead,
            written_at=now,
        )

    assert [(span.from_at, span.to_at) for span in block_spans(mold)] == [
        (now - hours(9), now - hours(5)),
        (now - hours(2), None),
    ]


def test_conditions_of_all_molds_are_their_newest_notes(lead: Person, now: datetime) -> None:
    molds = [factories.mold() for _each in range(3)]
    for before, condition in ((1, "fit"), (9, "out_of_use")):
        for mold in molds[:2]:
            ConditionNote.objects.create(
                mold=mold,
                at=now - hours(before),
                condition=condition,
                person=lead,
                written_at=now,
            )

    found = conditions_of()
    assert {pk: note.condition for pk, note in found.items()} == {
        molds[0].pk: "fit",
        molds[1].pk: "fit",
    }
    assert list(conditions_of([molds[1].pk])) == [molds[1].pk]
