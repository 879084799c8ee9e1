"""When work falls due: dates, weeks and clock changes, from the signature to the page.

Each case is made up after a kind of fault that public reports about calendars and task lists
describe. The dates are the calendar's own; each answer is worked out by hand.
"""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from moldcare.acts.floor import set_mold
from moldcare.acts.refresh import refresh_counts
from moldcare.care.models import CareRule, Completion, Standing
from moldcare.molds.models import Mold
from tests import factories
from tests.cases.story import Story

pytestmark = pytest.mark.django_db


def dated_rule(
    story: Story, mold: Mold, *, since: str, name: str = "Leak test", **terms: object
) -> CareRule:
    rule = factories.care_rule(
        mold=mold, name=name, count_base=None, entered_at=story.at(since), **terms
    )
    refresh_counts(molds=[mold.pk])
    return rule


def due_on(story: Story, rule: CareRule) -> str:
    """Return the local date whose midnight the rule is due at."""
    shown = story.local(Standing.objects.get(rule=rule).due_at)
    assert shown.endswith(" 00:00")
    return shown.removesuffix(" 00:00")


def test_the_31st_comes_back_after_every_short_month(story: Story) -> None:
    mold = story.mold("0417", since="2027-01-10 08:00")
    rule = dated_rule(
        story,
        mold,
        since="2027-01-10 08:00",
        period_n=1,
        period_unit="month",
        anchor_on=date(2027, 1, 31),
    )
    seen = []
    for _month in range(15):
        seen.append(due_on(story, rule))
        story.done(rule, at=f"{seen[-1]} 09:00")
    assert [text[5:] for text in seen] == [
        "01-31", "02-28", "03-31", "04-30", "05-31", "06-30", "07-31", "08-31",
        "09-30", "10-31", "11-30", "12-31", "01-31", "02-29", "03-31",
    ]  # fmt: skip


def test_29_february_comes_back_in_the_leap_year(story: Story) -> None:
    mold = story.mold("0417", since="2028-02-01 08:00")
    rule = dated_rule(
        story,
        mold,
        since="2028-02-01 08:00",
        period_n=1,
        period_unit="year",
        anchor_on=date(2028, 2, 29),
    )
    seen = []
    for _year in range(5):
        seen.append(due_on(story, rule))
        story.done(rule, at=f"{seen[-1]} 09:00")
    assert seen == ["2028-02-29", "2029-02-28", "2030-02-28", "2031-02-28", "2032-02-29"]


def test_half_a_year_from_31_march_is_30_september(story: Story) -> None:
    mold = story.mold("0417", since="2027-03-01 08:00")
    rule = dated_rule(
        story,
        mold,
        since="2027-03-01 08:00",
        period_n=6,
        period_unit="month",
        anchor_on=date(2027, 3, 31),
    )
    story.done(rule, at="2027-03-31 09:00")
    assert due_on(story, rule) == "2027-09-30"
    story.done(rule, at="2027-09-30 09:00")
    assert due_on(story, rule) == "2028-03-31"


@pytest.mark.parametrize(
    ("done_at", "next_on", "served_on"),
    [
        ("2027-03-10 09:00", "2027-04-15", date(2027, 3, 15)),
        ("2027-03-05 09:00", "2027-03-15", date(2027, 2, 15)),
        ("2027-03-15 00:10", "2027-04-15", date(2027, 3, 15)),
    ],
)
def test_work_serves_the_date_ahead_only_inside_its_window(
    story: Story, done_at: str, next_on: str, served_on: date
) -> None:
    mold = story.mold("0417", since="2027-01-01 08:00")
    rule = dated_rule(
        story,
        mold,
        since="2027-01-01 08:00",
        period_n=1,
        period_unit="month",
        anchor_on=date(2027, 1, 15),
        early_window_days=7,
    )
    story.done(rule, at="2027-02-15 09:00")
    order = story.done(rule, at=done_at)
    assert due_on(story, rule) == next_on
    assert Standing.objects.get(rule=rule).served_on == served_on
    assert order.entry is not None
    said = story.due(at=f"{next_on} 12:00")["Leak test"]["reason"]
    assert f"Last work served {served_on:%a} {served_on.day} {served_on:%b %Y}." in said


def test_four_weeks_late_and_done_once_is_due_next_monday(story: Story) -> None:
    mold = story.mold("0417", since="2027-02-20 08:00")
    rule = dated_rule(
        story,
        mold,
        since="2027-02-20 08:00",
        period_n=1,
        period_unit="week",
        anchor_on=date(2027, 2, 22),
    )
    story.done(rule, at="2027-03-01 08:00")
    assert due_on(story, rule) == "2027-03-08"
    assert story.due(at="2027-03-31 07:00")["Leak test"]["state"] == "overdue"
    story.done(rule, at="2027-03-31 10:00")
    assert due_on(story, rule) == "2027-04-05"
    assert Completion.objects.filter(rule=rule).count() == 2
    assert story.due(at="2027-03-31 11:00")["Leak test"]["state"] == "not_due"


@pytest.mark.parametrize(
    ("done_at", "due_local", "day_before", "later", "days"),
    [
        ("2026-10-24 12:00", "2026-10-31", "2026-10-30 23:59", "2026-11-02 00:30", "9 of 7 days"),
        ("2027-03-27 12:00", "2027-04-03", "2027-04-02 23:59", "2027-04-05 00:30", "9 of 7 days"),
    ],
)
def test_days_are_days_of_the_calendar_over_a_change_of_clocks(
    story: Story, done_at: str, due_local: str, day_before: str, later: str, days: str
) -> None:
    mold = story.mold("0417", since="2026-10-01 08:00")
    rule = dated_rule(
        story, mold, since="2026-10-01 08:00", period_n=1, period_unit="week", margin_days=1
    )
    story.done(rule, at=done_at)
    assert due_on(story, rule) == due_local
    assert story.due(at=day_before)["Leak test"]["state"] == "due_soon"
    assert story.due(at=f"{due_local} 00:00")["Leak test"]["state"] == "due"
    late = story.due(at=later)["Leak test"]
    assert late["state"] == "overdue"
    assert days in late["reason"]
    # the interval is seven days, of which nine have passed
    assert late["share"] == pytest.approx(9 / 7, abs=0.01)


@pytest.mark.parametrize(
    ("set_at", "stopped_at", "hours"),
    [
        ("2026-10-24 22:00", "2026-10-25 06:00", 9),
        ("2026-03-28 22:00", "2026-03-29 06:00", 7),
    ],
)
def test_a_night_over_a_change_of_clocks_has_its_real_hours(
    story: Story, set_at: str, stopped_at: str, hours: int
) -> None:
    press = factories.spot(kind="press", number="7")
    bench = factories.spot(kind="bench", number="2")
    mold = story.mold("0417", cycle_s="20", since="2026-03-01 08:00")
    factories.move(mold, to=bench, author=story.lead, at=story.at("2026-03-01 08:00"))
    counter = story.counter(mold, label="Z1", since=set_at, shown=0)
    dated_rule(
        story, mold, since="2026-03-01 08:00", name="Grease", hours_limit=hours, hard_hours=90
    )
    set_mold(
        story.doing(set_at),
        mold=mold,
        press=press,
        at=story.at(set_at),
        accepts_open="nothing is open",
    )
    # due after that many hours on the press: not a minute before the shift's end
    before = story.at(stopped_at).astimezone(UTC)
    assert Standing.objects.get(rule__name="Grease").due_at == before
    # at least 17 s a cycle: one more than fits into the real hours, and two, is held
    most = hours * 3600 // 17 + 2
    story.read(counter, (set_at, 0))
    held, taken = story.read(
        counter, (stopped_at, most + 1), (stopped_at, most), written=stopped_at
    )
    assert (held.verdict, held.reason) == ("held", "too_fast")
    assert taken.verdict == "accepted"


def test_a_night_shift_belongs_to_the_day_it_began_on(story: Story) -> None:
    shown = story.page("/", at="2026-11-25 02:00")
    assert "night" in shown
    assert "Tuesday, night shift" in shown


def test_what_happens_on_the_last_evening_is_of_that_month(story: Story) -> None:
    factories.plant(zone="America/New_York")
    there = Story(zone=ZoneInfo("America/New_York"), lead=story.lead)
    mold = there.mold("0417", since="2026-03-01 08:00")
    rule = dated_rule(there, mold, since="2026-03-01 08:00", period_n=1, period_unit="month")
    there.done(rule, at="2026-03-31 23:30")
    # 31 March at 23:30 in New York is 1 April in UTC; a month later is 30 April there
    assert Completion.objects.get().happened_at == datetime(2026, 4, 1, 3, 30, tzinfo=UTC)
    assert due_on(there, rule) == "2026-04-30"
