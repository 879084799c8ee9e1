from datetime import timedelta
from fractions import Fraction

import pytest

from moldcare.acts.doing import Doing
from moldcare.acts.errors import DoesNotFit, Incomplete, NotAllowed
from moldcare.acts.floor import (
    Change,
    OpenMatters,
    block_cavity,
    call_off_run,
    change_run,
    fit_component,
    free_cavity,
    note_change,
    note_condition,
    plan_run,
    set_mold,
    take_out_component,
)
from moldcare.care.models import Completion
from moldcare.logbook.models import Entry
from moldcare.molds.models import Block, Cavity, Component, Fitting, Mold, Position, Run
from moldcare.molds.queries import (
    block_spans,
    blocked_cavities,
    component_in,
    condition_of,
    fitting_spans,
    parts_out_of,
)
from moldcare.plant.models import Person
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def mold() -> Mold:
    return factories.counted_mold(number="M-2044", cavity_count=8)


@pytest.fixture
def cavities(mold: Mold) -> list[Cavity]:
    return list(mold.cavities.order_by("id"))


@pytest.fixture
def position(mold: Mold) -> Position:
    return Position.objects.create(mold=mold, ident="core 1", is_forming=True)


@pytest.fixture
def core() -> Component:
    return Component.objects.create(serial="C-0071", name="core")


def hours(n: float) -> timedelta:
    return timedelta(hours=n)


def test_two_of_eight_cavities_blocked_take_a_third_more_cycles(
    doing: Doing, mold: Mold, cavities: list[Cavity]
) -> None:
    # plain arithmetic: the parts of 8 cavities from 6 take 8/6 of the cycles
    block_cavity(doing, cavity=cavities[2], at=doing.now - hours(2), reason="gate burnt")
    answer = block_cavity(doing, cavity=cavities[5], at=doing.now, reason="pin broken")

    assert (answer.cavities, answer.active) == (8, 6)
    assert answer.more_cycles == Fraction(1, 3)
    assert Entry.objects.get(pk=answer.entry_id).sentence == (
        "Cavity 6 blocked; 6 of 8 cavities run; the same parts take 8 cycles for every 6 before. "
        "pin broken."
    )
    assert blocked_cavities() == {mold.pk: [cavities[2], cavities[5]]}


def test_the_last_cavity_that_runs_cannot_be_blocked(doing: Doing) -> None:
    mold = factories.counted_mold(cavity_count=2)
    one, two = mold.cavities.order_by("id")
    block_cavity(doing, cavity=one, at=doing.now - hours(1), reason="flash")

    with pytest.raises(DoesNotFit, match="the last that runs"):
        block_cavity(doing, cavity=two, at=doing.now, reason="flash")
    # nor by an entry about the time before the other was blocked
    with pytest.raises(DoesNotFit, match="the last that runs"):
        block_cavity(doing, cavity=two, at=doing.now - hours(3), reason="flash")
    assert Block.objects.count() == 1


def test_a_cavity_is_blocked_until_it_is_freed(
    doing: Doing, mold: Mold, cavities: list[Cavity]
) -> None:
    with pytest.raises(DoesNotFit, match="not blocked"):
        free_cavity(doing, cavity=cavities[0], at=doing.now - hours(9))
    with pytest.raises(Incomplete, match="reason"):
        block_cavity(doing, cavity=cavities[0], at=doing.now, reason="  ")
    block_cavity(doing, cavity=cavities[0], at=doing.now - hours(6), reason="burn")
    with pytest.raises(DoesNotFit, match="blocked already"):
        block_cavity(doing, cavity=cavities[0], at=doing.now - hours(3), reason="burn")
    free_cavity(doing, cavity=cavities[0], at=doing.now - hours(1), note="gate opened")

    (span,) = block_spans(mold)
    assert (span.from_at, span.to_at) == (doing.now - hours(6), doing.now - hours(1))
    assert blocked_cavities([mold.pk]) == {}


def test_one_component_sits_in_one_position_and_one_position_holds_one(
    doing: Doing, mold: Mold, position: Position, core: Component
) -> None:
    other = Component.objects.create(serial="C-0072", name="core")
    elsewhere = Position.objects.create(mold=mold, ident="core 2")
    fit_component(doing, component=core, position=position, at=doing.now - hours(5))

    with pytest.raises(DoesNotFit, match="sits in position core 1"):
        fit_component(doing, component=other, position=position, at=doing.now)
    with pytest.raises(DoesNotFit, match="Take it out first"):
        fit_component(doing, component=core, position=elsewhere, at=doing.now)
    with pytest.raises(DoesNotFit, match="has a later entry"):
        fit_component(doing, component=other, position=position, at=doing.now - hours(8))

    fit_component(
        doing,
        component=other,
        position=position,
        at=doing.now - hours(8),
        taken_out_at=doing.now - hours(5),
    )
    assert component_in(position) == core
    assert component_in(position, at=doing.now - hours(6)) == other
    assert [(span.component, span.to_at) for span in fitting_spans(mold)] == [
        (other, doing.now - hours(5)),
        (core, None),
    ]


def test_a_component_that_was_taken_out_leaves_its_position_empty_and_the_mold_says_so(
    doing: Doing, mold: Mold, position: Position, core: Component
) -> None:
    fit_component(doing, component=core, position=position, at=doing.now - hours(5))
    assert parts_out_of(mold) == []

    take_out_component(doing, component=core, at=doing.now - hours(1), note="to be ground")

    assert component_in(position) is None
    assert parts_out_of(mold) == [position]
    with pytest.raises(OpenMatters, match="core 1"):
        set_mold(doing, mold=mold, press=factories.spot(), at=doing.now)
    with pytest.raises(DoesNotFit, match="sits in no position"):
        take_out_component(doing, component=core, at=doing.now)
    with pytest.raises(DoesNotFit, match="taken out at this very time"):
        fit_component(doing, component=core, position=position, at=doing.now - hours(1))


def test_a_new_component_completes_its_position_s_change_rule_and_a_used_one_does_not(
    doing: Doing, mold: Mold, position: Position, core: Component
) -> None:
    rule = factories.care_rule(
        mold=mold,
        target="position",
        position=position,
        name="Change the core",
        changes_component=True,
    )
    used = Component.objects.create(serial="C-9", name="core", opening_cycles=12_000)
    fit_component(
        doing,
        component=used,
        position=position,
        at=doing.now - hours(9),
        taken_out_at=doing.now - hours(8),
    )
    assert not Completion.objects.exists()

    answer = fit_component(doing, component=core, position=position, at=doing.now - hours(2))

    assert answer.completed == ["Change the core"]
    completion = Completion.objects.get()
    assert (completion.rule, completion.happened_at) == (rule, doing.now - hours(2))
    assert (completion.entry_id, completion.component_id) == (answer.entry_id, core.pk)
    take_out_component(doing, component=core, at=doing.now - hours(1))
    fit_component(doing, component=core, position=position, at=doing.now)
    assert Completion.objects.count() == 1


def test_a_component_moves_from_mold_to_mold_and_both_logbooks_say_so(
    doing: Doing, mold: Mold, position: Position, core: Component
) -> None:
    second = factories.counted_mold(number="M-2045")
    there = Position.objects.create(mold=second, ident="core 1")
    fit_component(doing, component=core, position=position, at=doing.now - hours(5))
    take_out_component(doing, component=core, at=doing.now - hours(4))
    fit_component(doing, component=core, position=there, at=doing.now - hours(3))

    assert component_in(there) == core
    kinds = Entry.objects.order_by("id").values_list("chain__label", "kind")
    assert list(kinds) == [
        ("M-2044", "component_fitted"),
        ("M-2044", "component_taken_out"),
        ("M-2045", "component_fitted"),
    ]
    assert Fitting.objects.filter(component=core).count() == 3
    assert [span.position for span in fitting_spans(mold)] == [position]


def test_the_newest_note_is_the_condition_whatever_was_entered_last(
    technician: Person, doing: Doing, mold: Mold
) -> None:
    hand = Doing(person=technician, now=doing.now)
    note_condition(hand, mold=mold, at=doing.now, condition="fit")
    note_condition(
        hand,
        mold=mold,
        at=doing.now - hours(8),
        condition="needs_work",
        needs_next="part",
        note="spring set ordered",
    )

    newest = condition_of(mold)
    assert newest is not None
    assert newest.condition == "fit"
    assert [entry.sentence for entry in Entry.objects.order_by("number")] == [
        "Fit to run.",
        "Needs work; needs a part next. spring set ordered.",
    ]


@pytest.mark.parametrize(
    ("condition", "needs_next", "note"),
    [("broken", "", ""), ("fit", "miracle", ""), ("fit", "", "x" * 401)],
)
def test_unknown_words_and_long_notes_are_refused_with_a_sentence(
    doing: Doing, mold: Mold, condition: str, needs_next: str, note: str
) -> None:
    with pytest.raises(Incomplete):
        note_condition(
            doing,
            mold=mold,
            at=doing.now,
            condition=condition,
            needs_next=needs_next,
            note=note,
        )
    assert not Entry.objects.exists()


def test_a_change_of_resin_is_an_entry_of_its_own_and_the_mold_knows_the_new_one(
    doing: Doing, mold: Mold
) -> None:
    answer = note_change(
        doing,
        mold=mold,
        at=doing.now,
        change=Change.RESIN,
        text="customer moved to a flame retardant grade",
        resin="PA66 V0",
        resin_group="corrosive",
    )

    mold.refresh_from_db()
    assert (mold.resin, mold.resin_group, mold.filler) == ("PA66 V0", "corrosive", "none")
    entry = Entry.objects.get(pk=answer.entry_id)
    assert entry.kind == "resin_changed"
    assert '"before":{"resin":"","resin_group":"mild"}' in entry.facts
    with pytest.raises(Incomplete, match="belongs to a change of resin"):
        note_change(
            doing, mold=mold, at=doing.now, change=Change.MOLD, text="new insert", resin="PP"
        )
    with pytest.raises(Incomplete):
        note_change(
            doing, mold=mold, at=doing.now, change=Change.RESIN, text="?", resin_group="magic"
        )


def test_a_mold_is_planned_once_at_a_time_and_a_press_says_what_overlaps(
    doing: Doing, technician: Person, mold: Mold
) -> None:
    press, other_press = factories.spot(number="7"), factories.spot(number="8")
    second = factories.counted_mold()
    with pytest.raises(NotAllowed):
        plan_run(
            Doing(person=technician, now=doing.now),
            mold=mold,
            press=press,
            planned_from=doing.now,
        )
    first = plan_run(
        doing,
        mold=mold,
        press=press,
        planned_from=doing.now,
        planned_to=doing.now + hours(40),
        planned_cycles=12_000,
    )
    with pytest.raises(DoesNotFit, match="is planned in press 7"):
        plan_run(doing, mold=mold, press=other_press, planned_from=doing.now + hours(39))
    with pytest.raises(Incomplete):
        plan_run(
            doing,
            mold=second,
            press=press,
            planned_from=doing.now,
            planned_to=doing.now - hours(1),
        )
    beside = plan_run(doing, mold=second, press=press, planned_from=doing.now + hours(39))
    assert beside.press_overlaps == [first.run_id]

    run = Run.objects.get(pk=first.run_id)
    changed = change_run(
        doing,
        run=run,
        press=press,
        planned_from=doing.now,
        planned_to=doing.now + hours(20),
        planned_cycles=6_000,
    )
    assert changed.press_overlaps == []
    call_off_run(doing, run=run)
    with pytest.raises(DoesNotFit, match="called off"):
        change_run(
            doing,
            run=run,
            press=press,
            planned_from=doing.now,
            planned_to=None,
            planned_cycles=None,
        )


def test_a_run_that_has_begun_is_not_called_off(doing: Doing, mold: Mold) -> None:
    press = factories.spot()
    planned = plan_run(doing, mold=mold, press=press, planned_from=doing.now)
    set_mold(doing, mold=mold, press=press, at=doing.now)

    with pytest.raises(DoesNotFit, match="has begun"):
        call_off_run(doing, run=Run.objects.get(pk=planned.run_id))
