"""Counters that lie, and readings that were wrong: from the act to the life count and the page.

Each history is made up after a kind of fault that public reports about metering software describe.
The right answers are worked out by hand. After each, a count from all facts must agree.
"""

from collections.abc import Iterator
from itertools import pairwise, permutations

import pytest

from moldcare.acts.counters import exchange_counter, remove_counter
from moldcare.acts.readings import restart_from_reading, set_reading_aside
from moldcare.acts.rebuild import first_difference
from moldcare.acts.refresh import refresh_counts
from moldcare.core.counting.values import Note, State
from moldcare.counters.history import mold_courses
from moldcare.counters.models import Counter, Reading, ReadingDecision, Verdict
from moldcare.logbook.models import Entry
from moldcare.molds.models import Mold
from tests import factories
from tests.cases.story import Story, life_of

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def counted_twice() -> Iterator[None]:
    """After each case: what was derived step by step is what all facts together say."""
    yield
    assert first_difference() is None


def verdicts(counter: Counter) -> list[str]:
    rows = Verdict.objects.filter(counter=counter).order_by("reading_id")
    return [row.reason or "accepted" for row in rows]


def test_a_dip_of_one_is_held_and_counts_nothing(story: Story) -> None:
    mold = story.mold("0417", since="2026-03-02 09:00")
    counter = story.counter(mold, label="Z1", since="2026-03-02 09:00", shown=215_710, digits=6)
    rows = [("2026-03-02 09:00", 215_710), ("2026-03-02 09:05", 215_709)]
    answers = story.read(counter, *rows, ("2026-03-02 09:10", 215_714))
    assert [each.verdict for each in answers] == ["accepted", "held", "accepted"]
    assert answers[1].reason == "goes_backwards"
    assert life_of(mold).cycles == 4
    assert "1 reading is held." in story.page("/molds/0417", at="2026-03-02 09:11")


def test_a_zero_from_a_device_after_a_power_cut_blocks_nothing(story: Story) -> None:
    mold = story.mold("0417", since="2026-03-02 02:00")
    counter = story.counter(mold, label="Z1", since="2026-03-02 02:00", shown=37_300, digits=5)
    rows = [("2026-03-02 02:50:00", 37_370), ("2026-03-02 03:29:18", 0)]
    story.read(counter, *rows, ("2026-03-02 03:29:22", 37_376), source="device")
    assert verdicts(counter) == ["accepted", "goes_backwards", "accepted"]
    assert life_of(mold).cycles == 76


def test_a_wrong_reading_that_was_possible_is_named_and_set_aside(story: Story) -> None:
    mold = story.mold("0417", cycle_s="20", since="2026-03-06 18:00")
    counter = story.counter(mold, label="Z1", since="2026-03-06 18:00", shown=40_120, digits=5)
    at = story.at("2026-03-06 18:00")
    factories.care_rule(mold=mold, name="Vents, wipe", count_base=5_000, entered_at=at)
    refresh_counts(molds=[mold.pk])
    rows = [("2026-03-06 18:00", 40_120), ("2026-03-09 06:00", 48_120)]
    later = [("2026-03-09 07:00", 40_290), ("2026-03-09 08:00", 40_460)]
    story.read(counter, *rows, *later)
    assert life_of(mold).cycles == 8_000
    assert life_of(mold).held_count == 2
    assert story.due(at="2026-03-09 08:05")["Vents, wipe"]["state"] in {"overdue", "past_limit"}
    assert "A reading stands out." in story.page("/molds/0417", at="2026-03-09 08:05")

    odd = Reading.objects.get(value=48_120)
    set_reading_aside(story.doing("2026-03-09 08:10"), reading=odd, reason="misread by 8,000")
    assert verdicts(counter) == ["accepted", "accepted", "accepted", "accepted"]
    assert Verdict.objects.get(reading=odd).state == State.SET_ASIDE
    assert life_of(mold).cycles == 340
    assert life_of(mold).held_count == 0
    assert story.due(at="2026-03-09 08:15")["Vents, wipe"]["state"] == "not_due"
    assert "stands out" not in story.page("/molds/0417", at="2026-03-09 08:15")
    # both facts stay
    assert Reading.objects.filter(value=48_120).exists()
    assert ReadingDecision.objects.get().reason == "misread by 8,000"
    assert "48120" in Entry.objects.get(kind="reading decision").sentence


def test_a_wrong_reading_taken_back_moves_work_that_was_counted_from_it(story: Story) -> None:
    mold = story.mold("0417", cycle_s="20", since="2026-03-06 18:00")
    counter = story.counter(mold, label="Z1", since="2026-03-06 18:00", shown=40_120, digits=5)
    at = story.at("2026-03-06 18:00")
    rule = factories.care_rule(mold=mold, name="Vents, wipe", count_base=5_000, entered_at=at)
    refresh_counts(molds=[mold.pk])
    story.read(counter, ("2026-03-06 18:00", 40_120), ("2026-03-09 06:00", 48_120))
    story.done(rule, at="2026-03-09 06:00")
    assert story.due(at="2026-03-09 06:05")["Vents, wipe"]["since_count"] == 0
    story.read(counter, ("2026-03-09 07:00", 40_290))
    odd = Reading.objects.get(value=48_120)
    set_reading_aside(story.doing("2026-03-09 08:10"), reading=odd, reason="misread by 8,000")
    found = story.due(at="2026-03-09 08:15")["Vents, wipe"]
    # 61 hours made 170 cycles: at 06:00, an hour before, 167 of them were made (170 * 60 / 61)
    assert (found["count"], found["since_count"]) == (170, 170 - 167)


def test_a_new_counter_counts_from_what_it_shows(story: Story) -> None:
    mold = story.mold("0417", since="2026-03-02 06:00")
    old = story.counter(mold, label="old", since="2026-03-02 06:00", shown=83_000)
    story.read(old, ("2026-03-02 09:00", 83_300))
    new = Counter.objects.create(label="new", digits=7)
    exchange_counter(
        story.doing("2026-03-02 10:00"),
        old=old,
        new=new,
        at=story.at("2026-03-02 10:00"),
        last_value=83_412,
        value_shown=37,
    )
    assert life_of(mold).cycles == 412
    story.read(new, ("2026-03-02 12:00", 57))
    assert life_of(mold).cycles == 412 + 20
    said = Entry.objects.get(kind="counter_exchanged").sentence
    assert "83412" in said
    assert "37" in said


def test_a_restored_older_value_goes_on_and_counts_once(story: Story) -> None:
    mold = story.mold("0417", since="2026-03-02 06:00")
    counter = story.counter(mold, label="Z1", since="2026-03-02 06:00", shown=61_000)
    story.read(counter, ("2026-03-02 12:00", 61_250), ("2026-03-02 12:10", 61_202))
    assert verdicts(counter) == ["accepted", "goes_backwards"]
    restored = Reading.objects.get(value=61_202)
    restart_from_reading(
        story.doing("2026-03-02 12:30"), reading=restored, reason="restored after the power cut"
    )
    story.read(counter, ("2026-03-02 13:00", 61_260))
    assert life_of(mold).cycles == 250 + 58


def test_a_restart_that_is_decided_later_counts_the_same(story: Story) -> None:
    mold = story.mold("0417", since="2026-03-02 06:00")
    counter = story.counter(mold, label="Z1", since="2026-03-02 06:00", shown=61_000)
    rows = [("2026-03-02 12:00", 61_250), ("2026-03-02 12:10", 61_202)]
    story.read(counter, *rows, ("2026-03-02 13:00", 61_260))
    assert life_of(mold).cycles == 260
    restored = Reading.objects.get(value=61_202)
    restart_from_reading(
        story.doing("2026-03-02 14:00"), reading=restored, reason="restored after the power cut"
    )
    assert life_of(mold).cycles == 250 + 58


def test_a_register_of_a_press_that_wraps_at_65536_goes_on(story: Story) -> None:
    press = factories.spot(kind="press", number="7")
    mold = story.mold("0417", cycle_s="20", since="2026-03-02 06:00")
    counter = story.counter(
        press, label="P7", since="2026-03-02 06:00", shown=65_000, digits=None, rollover=65_536
    )
    factories.set_in_press(mold, press=press, author=story.lead, at=story.at("2026-03-02 06:00"))
    refresh_counts(counters=[counter.pk], molds=[mold.pk])
    story.read(counter, ("2026-03-02 10:00", 65_500), ("2026-03-02 10:30", 40))
    assert verdicts(counter) == ["accepted", "accepted"]
    assert Verdict.objects.get(reading__value=40).note & Note.ROLLED_OVER
    assert life_of(mold).cycles == 500 + 76


@pytest.mark.parametrize(("value", "minutes"), [(65_500, 30), (18_200, 10)])
def test_a_width_that_is_not_known_is_never_guessed(story: Story, value: int, minutes: int) -> None:
    mold = story.mold("0417", cycle_s="20", since="2026-03-02 06:00")
    counter = story.counter(
        mold, label="Z1", since="2026-03-02 06:00", shown=value - 100, digits=None
    )
    story.read(counter, ("2026-03-02 10:00", value), (f"2026-03-02 10:{minutes}", 40))
    assert verdicts(counter) == ["accepted", "goes_backwards"]
    assert life_of(mold).cycles == 100


def test_the_press_counts_while_the_molds_counter_is_broken(story: Story) -> None:
    press = factories.spot(kind="press", number="7")
    mold = story.mold("0417", since="2026-03-02 06:00")
    own = story.counter(mold, label="own", since="2026-03-02 06:00", shown=4_600)
    of_press = story.counter(press, label="P7", since="2026-03-02 06:00", shown=87_700)
    factories.set_in_press(mold, press=press, author=story.lead, at=story.at("2026-03-02 06:00"))
    refresh_counts(counters=[own.pk, of_press.pk], molds=[mold.pk])
    story.read(own, ("2026-03-02 10:00", 5_000))
    story.read(of_press, ("2026-03-02 10:00", 88_100))
    remove_counter(
        story.doing("2026-03-02 10:00"),
        counter=own,
        at=story.at("2026-03-02 10:00"),
        last_value=5_000,
        reason="broken off",
    )
    story.read(of_press, ("2026-03-02 14:00", 88_580))
    assert life_of(mold).cycles == 400 + 480
    assert "on press 7" in story.page("/molds/0417", at="2026-03-02 14:00")
    new = story.counter(mold, label="new", since="2026-03-02 14:00", shown=0)
    story.read(new, ("2026-03-02 15:00", 118))
    story.read(of_press, ("2026-03-02 15:00", 88_698))
    # 480 from the press over four hours, then 118 from the new one: not 598 + 118
    assert life_of(mold).cycles == 400 + 480 + 118
    shown = story.page("/molds/0417", at="2026-03-02 15:05")
    assert "Its own counter and the press&#x27;s differ." not in shown
    assert "Its own counter and the press's differ." not in shown


def test_life_before_the_records_goes_on_from_the_value_shown(story: Story) -> None:
    mold = story.mold("0417", since="2026-03-02 06:00", opening_count=250_000)
    counter = story.counter(mold, label="Z1", since="2026-03-02 06:00", shown=12_340)
    story.read(counter, ("2026-03-02 08:00", 12_400))
    assert life_of(mold).cycles == 250_060
    assert "250,060" in story.page("/molds/0417", at="2026-03-02 08:05")


def test_without_the_value_shown_the_first_reading_counts_nothing(story: Story) -> None:
    mold = story.mold("0417", since="2026-03-02 06:00", opening_count=250_000)
    counter = story.counter(mold, label="Z1", since="2026-03-02 06:00", shown=None)
    story.read(counter, ("2026-03-02 08:00", 12_400))
    assert life_of(mold).cycles == 250_000
    shown = story.page("/molds/0417", at="2026-03-02 08:05")
    assert "counts from its first reading" in shown
    story.read(counter, ("2026-03-02 10:00", 12_460))
    assert life_of(mold).cycles == 250_060


ARRIVALS = (
    ("2026-03-02 06:00", 1_000),
    ("2026-03-02 10:00", 1_450),
    ("2026-03-02 11:00", 1_950),
    ("2026-03-02 14:00", 1_900),
)


@pytest.mark.parametrize("order", list(permutations(range(4))), ids=str)
def test_readings_in_any_order_of_arrival_count_the_same(
    story: Story, order: tuple[int, ...]
) -> None:
    mold = story.mold("0417", cycle_s="5", since="2026-03-02 05:00")
    counter = story.counter(mold, label="Z1", since="2026-03-02 05:00", shown=1_000)
    story.read(counter, *(ARRIVALS[place] for place in order), written="2026-03-02 15:00")
    # 1,950 at 11:00 and 1,900 at 14:00 contradict each other: whichever came second is held
    assert life_of(mold).held_count == 1
    held = Verdict.objects.exclude(reason="").get().reading.value
    assert held == (1_950 if order.index(3) < order.index(2) else 1_900)
    set_reading_aside(
        story.doing("2026-03-02 15:30"),
        reading=Reading.objects.get(value=1_950),
        reason="one digit wrong",
    )
    assert (life_of(mold).held_count, life_of(mold).cycles) == (0, 900)


def test_a_late_reading_from_before_an_exchange_belongs_to_the_old_counter(story: Story) -> None:
    mold = story.mold("0417", since="2026-03-02 06:00")
    old = story.counter(mold, label="old", since="2026-03-02 06:00", shown=83_000)
    new = Counter.objects.create(label="new", digits=7)
    exchange_counter(
        story.doing("2026-03-02 10:00"),
        old=old,
        new=new,
        at=story.at("2026-03-02 10:00"),
        last_value=83_412,
        value_shown=0,
    )
    story.read(new, ("2026-03-02 12:00", 200))
    (late,) = story.read(old, ("2026-03-02 08:00", 83_200), written="2026-03-02 13:00")
    assert late.verdict == "accepted"
    assert life_of(mold).cycles == 612
    (stranger,) = story.read(old, ("2026-03-02 12:30", 83_900), written="2026-03-02 13:00")
    assert (stranger.verdict, stranger.reason) == ("held", "not_fitted")
    assert life_of(mold).cycles == 612


def exchanged_in_march(story: Story) -> Mold:
    mold = story.mold("0417", since="2026-02-27 12:00")
    old = story.counter(mold, label="old", since="2026-02-27 12:00", shown=96_000, digits=5)
    story.read(old, ("2026-03-01 00:00", 97_000))
    new = Counter.objects.create(label="new", digits=5)
    exchange_counter(
        story.doing("2026-03-10 12:00"),
        old=old,
        new=new,
        at=story.at("2026-03-10 12:00"),
        last_value=98_700,
        value_shown=0,
    )
    story.read(new, ("2026-04-01 00:00", 2_300))
    return mold


def test_a_month_with_an_exchange_is_the_sum_over_both_counters(story: Story) -> None:
    mold = exchanged_in_march(story)
    course = mold_courses([mold.pk])[mold.pk].cycles
    counts = [course.count_at(story.at(f"2026-0{month}-01 00:00")) for month in (3, 4)]
    assert counts == [1_000, 1_000 + 1_700 + 2_300]


def test_whole_shots_of_three_shifts_add_up(story: Story) -> None:
    mold = story.mold("0417", since="2026-03-02 06:00")
    counter = story.counter(mold, label="Z1", since="2026-03-02 06:00", shown=0)
    story.read(counter, ("2026-03-02 06:00", 0), ("2026-03-03 06:00", 100))
    course = mold_courses([mold.pk])[mold.pk].cycles
    edges = ["2026-03-02 06:00", "2026-03-02 14:00", "2026-03-02 22:00", "2026-03-03 06:00"]
    counts = [course.count_at(story.at(edge)) for edge in edges]
    assert all(isinstance(count, int) for count in counts)
    shifts = [later - before for before, later in pairwise(counts)]
    assert sorted(shifts) == [33, 33, 34]
