from datetime import UTC, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest

from moldcare.acts.doing import Doing
from moldcare.acts.errors import DoesNotFit, Incomplete, NotAllowed, NotFound
from moldcare.acts.orders import hand_out, strike_out, write_order
from moldcare.acts.sheet import (
    StepWritten,
    bring_forward,
    grade_tasks,
    leave_task,
    not_needed,
    record_look,
    record_step,
    record_steps,
    set_minutes,
    take_up_task,
    undo_step,
)
from moldcare.care.models import CareRule, Cover, Step
from moldcare.files.models import File
from moldcare.plant.models import Person
from moldcare.work.convert import StepState
from moldcare.work.models import Order, OrderState, OrderTask, StepValue
from moldcare.work.numbers import NoNumber
from moldcare.work.queries import sheet_of
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def rule() -> CareRule:
    """Vents: wash, measure one, say how the land looks, photograph, say where."""
    factories.plant()
    rule = factories.care_rule(mold=factories.mold(number="M-2041"), name="Clean the vents")
    Step.objects.create(rule=rule, place=1, text="Wash the vents", kind="tick")
    Step.objects.create(
        rule=rule,
        place=2,
        text="Measure the depth at cavity 1",
        kind="value",
        unit="mm",
        low=Decimal("0.012"),
        high=Decimal("0.020"),
    )
    Step.objects.create(
        rule=rule, place=3, text="Vent land", kind="choice", choices=["sharp", "rounded"]
    )
    Step.objects.create(rule=rule, place=4, text="Photograph the vents", kind="photo")
    Step.objects.create(rule=rule, place=5, text="Worst position", kind="position")
    return rule


@pytest.fixture
def order(doing: Doing, rule: CareRule) -> Order:
    written = write_order(doing, mold=rule.mold, rules=[rule])
    found = Order.objects.get(number=written.number)
    hand_out(doing, order=found)
    return found


@pytest.fixture
def task(order: Order) -> OrderTask:
    return order.tasks.get()


@pytest.fixture
def photo(doing: Doing) -> File:
    return File.objects.create(
        sha256="a" * 64,
        kind="image/jpeg",
        size_bytes=1000,
        name="vents.jpg",
        added_by=doing.person,
        written_at=doing.now,
    )


def states(order: Order) -> list[str]:
    return [step.state.value for step in sheet_of(order).steps]


def test_the_look_comes_first_then_the_steps_in_order(order: Order) -> None:
    sheet = sheet_of(order)
    assert [step.text for step in sheet.steps] == [
        "Look and photograph before cleaning",
        "Wash the vents",
        "Measure the depth at cavity 1",
        "Vent land",
        "Photograph the vents",
        "Worst position",
    ]
    assert states(order) == ["now", "next", "later", "later", "later", "later"]
    assert sheet.now == sheet.look
    assert not sheet.is_ready_to_sign


def test_a_sheet_is_worked_through_step_by_step(
    doing: Doing, order: Order, task: OrderTask, photo: File
) -> None:
    record_look(doing, order=order, grades={task.pk: "heavy"}, photo=photo)
    order.refresh_from_db()
    assert order.state is OrderState.BEGUN
    assert states(order)[:3] == ["done", "now", "next"]
    record_step(doing, order=order, task=task, step=1)
    within = record_step(doing, order=order, task=task, step=2, value="0,015")
    assert within.is_within is True
    record_step(doing, order=order, task=task, step=3, value="sharp")
    record_step(doing, order=order, task=task, step=4, photo=photo)
    record_step(doing, order=order, task=task, step=5, value="cavity 3, gate side")
    sheet = sheet_of(order)
    assert sheet.is_ready_to_sign
    assert sheet.now is None
    assert sheet.tasks[0].is_done
    assert sheet.tasks[0].task.grade == "heavy"
    value = sheet.tasks[0].steps[1].value
    assert value is not None
    assert (value.number, value.value, value.unit) == (Decimal("0.015"), "0.015", "mm")


def test_a_step_carries_the_instant_it_was_done(
    doing: Doing, order: Order, task: OrderTask
) -> None:
    at = doing.now - timedelta(minutes=7)
    record_step(doing, order=order, task=task, step=1, at=at)
    assert sheet_of(order).tasks[0].steps[0].at == at
    with pytest.raises(DoesNotFit, match="future"):
        record_step(doing, order=order, task=task, step=1, at=doing.now + timedelta(hours=5))


def test_outside_the_limits_a_step_waits_for_a_reason(
    doing: Doing, order: Order, task: OrderTask
) -> None:
    written = record_step(doing, order=order, task=task, step=2, value="0.034")
    assert (written.is_within, written.needs_reason) == (False, True)
    step = sheet_of(order).tasks[0].steps[1]
    assert step.needs_reason
    assert not step.is_done
    record_step(
        doing, order=order, task=task, step=2, value="0.034", reason="vent was recut, drawing 7"
    )
    assert sheet_of(order).tasks[0].steps[1].is_done


def test_outside_the_limits_a_second_value_does_too(
    doing: Doing, order: Order, task: OrderTask
) -> None:
    record_step(doing, order=order, task=task, step=2, value="0.034")
    again = record_step(doing, order=order, task=task, step=2, value="0.033")
    assert (again.is_within, again.needs_reason) == (False, False)
    step = sheet_of(order).tasks[0].steps[1]
    assert step.is_done
    assert step.value is not None
    assert step.value.value == "0.033"
    assert [earlier.value for earlier in step.earlier] == ["0.034"]


def test_the_last_value_counts_and_all_stay(doing: Doing, order: Order, task: OrderTask) -> None:
    for value in ("0.013", "0.014", "0.016"):
        record_step(doing, order=order, task=task, step=2, value=value)
    step = sheet_of(order).tasks[0].steps[1]
    assert step.value is not None
    assert step.value.value == "0.016"
    assert StepValue.objects.filter(task=task, step=2).count() == 3


def test_undoing_opens_a_step_and_keeps_what_was_written(
    doing: Doing, order: Order, task: OrderTask
) -> None:
    record_step(doing, order=order, task=task, step=1)
    undo_step(doing, order=order, task=task, step=1)
    undo_step(doing, order=order, task=task, step=1)
    step = sheet_of(order).tasks[0].steps[0]
    assert not step.is_done
    rows = StepValue.objects.filter(task=task, step=1)
    assert [row.is_undone for row in rows] == [False, True]
    # a value written before the step was undone is no first value of two
    record_step(doing, order=order, task=task, step=2, value="0.034")
    undo_step(doing, order=order, task=task, step=2)
    assert record_step(doing, order=order, task=task, step=2, value="0.034").needs_reason


@pytest.mark.parametrize(
    ("step", "value", "error"),
    [
        (2, "a lot", NoNumber),
        (2, "", NoNumber),
        (3, "blunt", DoesNotFit),
        (4, "", Incomplete),
        (5, " ", Incomplete),
        (9, "", NotFound),
        (5, "x" * 401, Incomplete),
        (5, "a\0b", Incomplete),
    ],
)
def test_what_a_step_does_not_ask_for_is_refused(
    doing: Doing, order: Order, task: OrderTask, step: int, value: str, error: type[Exception]
) -> None:
    with pytest.raises(error):
        record_step(doing, order=order, task=task, step=step, value=value)
    assert not StepValue.objects.exists()


def test_several_steps_go_in_together_or_not_at_all(
    doing: Doing, order: Order, task: OrderTask
) -> None:
    steps = [
        StepWritten(task=task, step=1),
        StepWritten(task=task, step=2, value="0.031"),
        StepWritten(task=task, step=2, value="0.018"),
    ]
    answers = record_steps(doing, order=order, steps=steps)
    assert [(each.is_within, each.needs_reason) for each in answers] == [
        (None, False),
        (False, True),
        (True, False),
    ]
    with pytest.raises(DoesNotFit):
        record_steps(
            doing,
            order=order,
            steps=[StepWritten(task=task, step=1), StepWritten(task=task, step=3, value="blunt")],
        )
    assert StepValue.objects.count() == 3


def test_the_same_hand_in_twice_writes_one_value(
    doing: Doing, order: Order, task: OrderTask
) -> None:
    named = Doing(person=doing.person, now=doing.now, hand_in=uuid4())
    first = record_step(named, order=order, task=task, step=2, value="0.015")
    assert record_step(named, order=order, task=task, step=2, value="0.015") == first
    assert StepValue.objects.count() == 1


def test_a_reader_writes_nothing_down(
    doing: Doing, order: Order, task: OrderTask, reader: Person
) -> None:
    with pytest.raises(NotAllowed):
        record_step(Doing(person=reader, now=doing.now), order=order, task=task, step=1)


def test_nothing_is_written_on_a_struck_out_order(
    doing: Doing, order: Order, task: OrderTask
) -> None:
    strike_out(doing, order=order, reason="not now")
    with pytest.raises(DoesNotFit, match="not now"):
        record_step(doing, order=order, task=task, step=1)


def test_without_a_photo_the_look_says_why(doing: Doing, order: Order, task: OrderTask) -> None:
    with pytest.raises(Incomplete, match="photo"):
        record_look(doing, order=order, grades={task.pk: "clean"})
    assert OrderTask.objects.get(pk=task.pk).grade == ""
    record_look(doing, order=order, grades={task.pk: "clean"}, without_photo="camera is broken")
    assert sheet_of(order).look.is_done


def test_grades_are_asked_for_every_rule_and_begin_with_the_first(
    doing: Doing, order: Order
) -> None:
    task = order.tasks.get()
    other = factories.care_rule(mold=order.mold, name="Grease the pins")
    under = factories.care_rule(mold=order.mold, name="Wipe the faces")
    Cover.objects.create(covering=other, covered=under)
    write_order(doing, mold=order.mold, rules=[other])
    grade_tasks(doing, order=order, grades={task.pk: "light"})
    sheet = sheet_of(order)
    assert sheet.grade_before == "light"
    assert [line.rule for line in sheet.ungraded] == [other, under]
    with pytest.raises(DoesNotFit):
        grade_tasks(doing, order=order, grades={task.pk: "spotless"})
    with pytest.raises(NotFound):
        grade_tasks(doing, order=order, grades={task.pk + 999: "light"})


def test_a_task_that_is_left_needs_a_reason_and_leaves_its_steps_out(
    doing: Doing, order: Order, task: OrderTask
) -> None:
    with pytest.raises(Incomplete):
        leave_task(doing, task=task, reason="")
    leave_task(doing, task=task, reason="no solvent left")
    sheet = sheet_of(order)
    assert {step.state for step in sheet.tasks[0].steps} == {StepState.LEFT_OUT}
    assert not sheet.tasks[0].is_done
    take_up_task(doing, task=task)
    assert sheet_of(order).tasks[0].is_open
    not_needed(doing, task=task)
    assert OrderTask.objects.get(pk=task.pk).outcome == "not_needed"


def test_signs_seen_bring_a_task_forward(doing: Doing, task: OrderTask) -> None:
    bring_forward(doing, task=task)
    assert OrderTask.objects.get(pk=task.pk).is_brought_forward


def test_minutes_are_those_of_one_order(doing: Doing, order: Order) -> None:
    set_minutes(doing, order=order, minutes=45)
    order.refresh_from_db()
    assert order.minutes == 45
    for minutes in (-1, 10**9):
        with pytest.raises(DoesNotFit):
            set_minutes(doing, order=order, minutes=minutes)


def test_a_rule_without_steps_is_one_tick(doing: Doing) -> None:
    factories.plant()
    bare = factories.care_rule(mold=factories.mold(), name="Wipe the faces")
    order = Order.objects.get(number=write_order(doing, mold=bare.mold, rules=[bare]).number)
    (step,) = sheet_of(order).tasks[0].steps
    assert (step.text, step.kind) == ("Wipe the faces", "tick")
    record_step(doing, order=order, task=order.tasks.get(), step=1)
    assert sheet_of(order).tasks[0].is_done


def test_a_value_does_not_stand_at_a_step_that_asks_for_something_else_now(
    doing: Doing, order: Order, task: OrderTask
) -> None:
    record_step(doing, order=order, task=task, step=2, value="0.015")
    Step.objects.filter(rule=task.rule, place=2).update(text="Measure the depth at cavity 4")
    assert not sheet_of(order).tasks[0].steps[1].is_done


def test_a_sheet_takes_three_queries_however_many_tasks(
    doing: Doing,
    order: Order,
    django_assert_num_queries: pytest.FixtureRequest,
) -> None:
    more = [factories.care_rule(mold=order.mold) for _each in range(5)]
    write_order(doing, mold=order.mold, rules=more)
    with django_assert_num_queries(3):  # type: ignore[operator]
        list(sheet_of(order).steps)


def test_instants_come_back_in_utc(doing: Doing, order: Order, task: OrderTask) -> None:
    record_step(doing, order=order, task=task, step=1)
    at = sheet_of(order).tasks[0].steps[0].at
    assert at is not None
    assert at.tzinfo == UTC


def test_the_look_says_what_was_brought_forward(
    doing: Doing, order: Order, task: OrderTask
) -> None:
    stranger = {task.pk + 1_000: True}
    with pytest.raises(NotFound):
        record_look(doing, order=order, grades={}, brought_forward=stranger, without_photo="dark")
    assert not StepValue.objects.exists()
    record_look(
        doing, order=order, grades={}, brought_forward={task.pk: True}, without_photo="dark"
    )
    task.refresh_from_db()
    assert task.is_brought_forward
