"""Standings and boards as they follow from facts, through acts and the derived tables."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import IntegrityError, transaction

from moldcare.acts.doing import Doing
from moldcare.acts.readings import ReadingEntry, record_readings
from moldcare.acts.rebuild import first_difference, rebuild
from moldcare.acts.refresh import refresh_care, refresh_counts
from moldcare.acts.rules import NewStep, change_rule, write_rule
from moldcare.care.convert import standing_value
from moldcare.care.models import Board, CareRule, Completion, Cover, Deferral, Standing, TakenBack
from moldcare.care.past import standings_as_of
from moldcare.core.due import State, state_at
from moldcare.counters.models import Counter, Life
from moldcare.molds.models import Component, Fitting, Mold, Move, Position, RunEvent
from moldcare.plant.models import Person
from moldcare.plant.queries import the_calendar, the_plant
from tests import factories

pytestmark = pytest.mark.django_db
START = datetime(2026, 11, 2, 6, tzinfo=UTC)
SHIFT = timedelta(hours=8)


@pytest.fixture
def lead() -> Person:
    return factories.person(role="lead")


@pytest.fixture
def running(lead: Person) -> tuple[Mold, Counter]:
    """A mold with its own counter, set in a press since the start."""
    factories.plant(zone="UTC")
    factories.three_shifts()
    mold = factories.mold(opening_at=START, entered_at=START, opening_count=1_000)
    counter = factories.counter(on=mold, author=lead, at=START)
    factories.cycle_time(mold, author=lead, standard_s="20", valid_from=START)
    factories.set_in_press(mold, press=factories.spot(), author=lead, at=START)
    return mold, counter


def read(counter: Counter, *, at: datetime, value: int, by: Person) -> str:
    entry = ReadingEntry(counter=counter, at=at, value=value)
    return record_readings(Doing(person=by, now=at), [entry])[0].verdict


def state_of(rule: CareRule, *, at: datetime) -> State:
    return state_at(standing_value(Standing.objects.get(rule=rule)), at=at)


def done(rule: CareRule, *, at: datetime, by: Person, **fields: object) -> Completion:
    entry = factories.entry(rule.mold.chain, author=by, at=at, kind="order")
    row = Completion.objects.create(
        rule=rule, happened_at=at, person=by, entry=entry, written_at=at, **fields
    )
    refresh_care(molds=[rule.mold_id])
    return row


def test_accepted_counts_make_a_rule_due_soon_due_and_overdue(
    running: tuple[Mold, Counter], lead: Person
) -> None:
    mold, counter = running
    rule = factories.care_rule(mold=mold, count_base=4_000, entered_at=START)
    refresh_counts(molds=[mold.pk])
    seen = []
    for shift in range(1, 5):
        at = START + shift * SHIFT
        read(counter, at=at, value=1_300 * shift, by=lead)
        seen.append(state_of(rule, at=at))
    assert seen == [State.NOT_DUE, State.NOT_DUE, State.DUE_SOON, State.OVERDUE]
    assert Life.objects.get(mold=mold).cycles == 1_000 + 5_200


def test_time_passing_changes_no_row_and_a_date_makes_a_rule_due(
    running: tuple[Mold, Counter],
) -> None:
    mold, _counter = running
    rule = factories.care_rule(
        mold=mold, count_base=None, period_n=10, period_unit="day", entered_at=START
    )
    refresh_counts(molds=[mold.pk])
    assert state_of(rule, at=START + timedelta(days=9, hours=17)) is State.DUE_SOON
    assert state_of(rule, at=START + timedelta(days=10)) is State.DUE
    assert state_of(rule, at=START + timedelta(days=12)) is State.OVERDUE


def test_a_completion_restarts_its_rule_and_taking_it_back_undoes_that(
    running: tuple[Mold, Counter], lead: Person
) -> None:
    mold, counter = running
    rule = factories.care_rule(mold=mold, count_base=3_000, entered_at=START)
    refresh_counts(molds=[mold.pk])
    at = START + 3 * SHIFT
    read(counter, at=at, value=4_200, by=lead)
    assert state_of(rule, at=at) is State.OVERDUE
    completion = done(rule, at=at, by=lead)
    assert state_of(rule, at=at) is State.NOT_DUE
    assert Standing.objects.get(rule=rule).since_count == 0
    TakenBack.objects.create(
        completion=completion,
        reason="wrong mold",
        person=lead,
        entry=factories.entry(mold.chain, author=lead, at=at),
        written_at=at,
    )
    refresh_care(molds=[mold.pk])
    assert state_of(rule, at=at) is State.OVERDUE


@pytest.mark.parametrize(
    ("is_inspection", "state"), [(False, State.OVERDUE), (True, State.NOT_DUE)]
)
def test_found_not_needed_restarts_an_inspection_only(
    running: tuple[Mold, Counter], lead: Person, is_inspection: bool, state: State
) -> None:
    mold, counter = running
    family = factories.family(key="inspection", is_inspection=is_inspection)
    rule = factories.care_rule(mold=mold, family=family, count_base=3_000, entered_at=START)
    refresh_counts(molds=[mold.pk])
    at = START + 3 * SHIFT
    read(counter, at=at, value=4_200, by=lead)
    done(rule, at=at, by=lead, is_not_needed=True)
    assert state_of(rule, at=at) is state


def test_a_deferral_holds_until_its_new_limit_and_is_past_limit_then(
    running: tuple[Mold, Counter], lead: Person
) -> None:
    mold, counter = running
    rule = factories.care_rule(
        mold=mold, count_base=1_000, count_basis="cycles", hard_count=1_200, entered_at=START
    )
    refresh_counts(molds=[mold.pk])
    first, second = START + SHIFT, START + 2 * SHIFT
    read(counter, at=first, value=1_300, by=lead)
    assert state_of(rule, at=first) is State.PAST_LIMIT
    Deferral.objects.create(
        rule=rule,
        made_at=first,
        made_count=2_300,
        until_count=1_000 + 2_500,
        reason="order ends tonight",
        person=lead,
        entry=factories.entry(mold.chain, author=lead, at=first),
        written_at=first,
    )
    refresh_care(molds=[mold.pk])
    assert state_of(rule, at=first) is State.DEFERRED
    read(counter, at=second, value=2_600, by=lead)
    assert state_of(rule, at=second) is State.PAST_LIMIT


def test_old_readings_make_a_count_unsure_and_a_date_does_not_care(
    running: tuple[Mold, Counter], lead: Person
) -> None:
    mold, counter = running
    counted = factories.care_rule(
        mold=mold, name="By count", count_base=90_000, lead_count=1, entered_at=START
    )
    dated = factories.care_rule(
        mold=mold,
        name="By date",
        count_base=None,
        period_n=6,
        period_unit="month",
        entered_at=START,
    )
    refresh_counts(molds=[mold.pk])
    read(counter, at=START + SHIFT, value=1_300, by=lead)
    later = START + SHIFT + 3 * SHIFT
    assert state_of(counted, at=later - timedelta(seconds=1)) is State.NOT_DUE
    assert state_of(counted, at=later) is State.UNSURE
    assert state_of(dated, at=later) is State.NOT_DUE
    assert Board.objects.get(mold=mold).unsure_at == later


def test_a_held_reading_makes_its_mold_unsure_and_is_counted_on_the_board(
    running: tuple[Mold, Counter], lead: Person
) -> None:
    mold, counter = running
    factories.care_rule(mold=mold, count_base=90_000, entered_at=START)
    refresh_counts(molds=[mold.pk])
    assert read(counter, at=START + SHIFT, value=13_000, by=lead) == "held"
    assert Board.objects.get(mold=mold).held_count == 1
    assert Life.objects.get(mold=mold).unsure_why == "held_reading"


def test_a_rule_on_a_position_follows_the_piece_that_sits_in_it(
    running: tuple[Mold, Counter], lead: Person
) -> None:
    mold, counter = running
    position = Position.objects.create(mold=mold, ident="S1")
    rule = factories.care_rule(
        mold=mold,
        target="position",
        position=position,
        count_base=5_000,
        count_basis="cycles",
        changes_component=True,
        entered_at=START,
    )
    old = Component.objects.create(serial="SP-1", name="Spring set", opening_cycles=4_000)
    new = Component.objects.create(serial="SP-2", name="Spring set")
    Fitting.objects.create(
        component=old, position=position, at=START, person=lead, written_at=START
    )
    refresh_counts(molds=[mold.pk])
    first, second = START + SHIFT, START + 2 * SHIFT
    read(counter, at=first, value=1_300, by=lead)
    assert Standing.objects.get(rule=rule).since_count == 5_300
    assert state_of(rule, at=first) is State.DUE
    for row in (Fitting(component=old, position=None), Fitting(component=new, position=position)):
        row.at, row.person, row.written_at = first, lead, first
        row.save()
    refresh_care(molds=[mold.pk])
    read(counter, at=second, value=2_000, by=lead)
    assert Standing.objects.get(rule=rule).since_count == 700


def test_end_of_a_run_makes_its_rule_due(running: tuple[Mold, Counter], lead: Person) -> None:
    mold, _counter = running
    rule = factories.care_rule(mold=mold, count_base=None, event="end_of_run", entered_at=START)
    refresh_counts(molds=[mold.pk])
    at = START + timedelta(days=2)
    assert state_of(rule, at=at) is State.NOT_DUE
    bench = factories.spot(kind="bench")
    press = RunEvent.objects.get(mold=mold).press
    RunEvent.objects.create(
        mold=mold, press=press, act="pulled", at=at, person=lead, after_reading=0, written_at=at
    )
    Move.objects.create(mold=mold, spot=bench, at=at, person=lead, written_at=at)
    refresh_counts(molds=[mold.pk])
    assert state_of(rule, at=at) is State.DUE
    board = Board.objects.get(mold=mold)
    assert (board.spot_kind, board.spot_id) == ("bench", bench.pk)


def test_what_was_due_is_answered_from_the_facts_of_then(
    running: tuple[Mold, Counter], lead: Person
) -> None:
    mold, counter = running
    rule = factories.care_rule(mold=mold, count_base=1_000, entered_at=START)
    refresh_counts(molds=[mold.pk])
    calendar = the_calendar(the_plant())
    told: list[tuple[datetime, State]] = []
    for shift in range(1, 6):
        at = START + shift * SHIFT
        read(counter, at=at, value=500 * shift, by=lead)
        if shift == 4:
            done(rule, at=at, by=lead)
        told.append((at, state_of(rule, at=at)))
    for at, state in told:
        [then] = standings_as_of(at, calendar=calendar)
        assert state_at(standing_value(then), at=at) is state


def test_a_rule_that_was_changed_since_is_answered_with_the_terms_of_then(
    running: tuple[Mold, Counter], lead: Person
) -> None:
    mold, counter = running
    family = factories.family()
    first, second = START + SHIFT, START + 2 * SHIFT
    written = write_rule(
        Doing(person=lead, now=START),
        of=mold,
        terms={"name": "Vents", "family": family, "count_base": 5_000},
        reason="starting value",
        steps=[NewStep(text="Brush the vents clean.")],
    )
    rule = CareRule.objects.get(pk=written.row_id)
    read(counter, at=first, value=1_300, by=lead)
    change_rule(
        Doing(person=lead, now=second),
        rule=rule,
        changes={"count_base": 1_000},
        reason="found heavy",
    )
    [then] = standings_as_of(first, calendar=the_calendar(the_plant()))
    assert then.due_count == 1_000 + 5_000
    assert Standing.objects.get(rule=rule).due_count == 1_000 + 1_000


def test_rebuilding_changes_nothing_and_a_changed_row_is_named(
    running: tuple[Mold, Counter], lead: Person
) -> None:
    mold, counter = running
    for name, basis in (("Vents", "shots"), ("Slides", "cycles")):
        factories.care_rule(
            mold=mold, name=name, count_base=2_000, count_basis=basis, entered_at=START
        )
    refresh_counts(molds=[mold.pk])
    for shift, value in enumerate((1_300, 2_500, 25_000, 3_900, 3_700, 5_100), start=1):
        read(counter, at=START + shift * SHIFT, value=value, by=lead)
    assert first_difference() is None
    before = list(Standing.objects.order_by("pk").values())
    rebuild()
    assert list(Standing.objects.order_by("pk").values()) == before
    assert first_difference() is None
    Standing.objects.filter(rule__name="Vents").update(since_count=1)
    difference = first_difference()
    assert difference is not None
    assert "care_standing" in str(difference)
    assert "since_count" in str(difference)


def test_a_cover_is_never_on_itself(running: tuple[Mold, Counter]) -> None:
    mold, _counter = running
    rule = factories.care_rule(mold=mold)
    with pytest.raises(IntegrityError), transaction.atomic():
        Cover.objects.create(covering=rule, covered=rule)


def test_a_rule_without_any_limit_is_refused_by_the_database(
    running: tuple[Mold, Counter],
) -> None:
    mold, _counter = running
    with pytest.raises(IntegrityError), transaction.atomic():
        factories.care_rule(mold=mold, count_base=None)


def test_an_imported_last_done_by_date_counts_from_that_date(
    running: tuple[Mold, Counter], lead: Person
) -> None:
    mold, _counter = running
    rule = factories.care_rule(
        mold=mold, count_base=None, period_n=1, period_unit="month", entered_at=START
    )
    entry = factories.entry(mold.chain, author=lead, at=START)
    Completion.objects.create(
        rule=rule, declared_on=date(2026, 10, 20), person=lead, entry=entry, written_at=START
    )
    refresh_counts(molds=[mold.pk])
    assert Standing.objects.get(rule=rule).due_on == date(2026, 11, 20)
