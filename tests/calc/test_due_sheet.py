"""Due dates and states against formulas that another program computes."""

import random
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from moldcare.core.due import (
    CalendarLimit,
    CountLimit,
    Factor,
    KnotCourse,
    RuleHistory,
    RuleTerms,
    Usage,
    microseconds,
    standing,
    state_at,
)
from moldcare.core.recurrence import Period, Unit
from moldcare.core.shifts import ShiftCalendar, local_instant
from tests.calc.sheet import SheetRow, recalculate, write_due_sheet

BERLIN = ZoneInfo("Europe/Berlin")
ROWS = 3000
SEED = 20261125


def random_rows():
    """Rules around their thresholds, at month ends, over leap days and clock changes."""
    chance = random.Random(SEED)

    def maybe(value, share=0.5):
        return value if chance.random() < share else None

    rows = []
    for _ in range(ROWS):
        unit = chance.choice(["day", "week", "month", "year"])
        period = chance.randint(1, {"day": 200, "week": 30, "month": 24, "year": 4}[unit])
        done_on = date(2024, 1, 1) + timedelta(days=chance.randrange(1500))
        if chance.random() < 0.3:
            done_on = done_on.replace(day=1) - timedelta(days=1)
        interval = chance.choice([20, 999, 10_000, 20_000, 100_000])
        factor = chance.choice([1.0, 0.8, 0.6, 0.57, 0.36, 0.3, 0.25])
        scaled = interval * max(0.3, factor)
        length = period * {"day": 1, "week": 7, "month": 30, "year": 365}[unit]
        # Most rows lie near a threshold: a few days or counts on either side of due or overdue.
        days = max(0, round(length * chance.choice([0.2, 0.9, 1.0, 1.1])) + chance.randint(-3, 3))
        used = max(
            0, round(scaled * chance.choice([0.1, 0.5, 0.9, 1.0, 1.1])) + chance.randint(-1, 1)
        )
        start = chance.randrange(500_000)
        anchor_on = maybe(date(2023, 1, 31) + timedelta(days=chance.randrange(1200)), 0.4)
        rows.append(
            SheetRow(
                interval=interval,
                factor=factor,
                start_count=start,
                count=start + used,
                lead=maybe(chance.randrange(interval), 0.2),
                margin=maybe(chance.randrange(interval), 0.2),
                hard_limit=maybe(round(interval * chance.uniform(0.8, 1.4)), 0.3),
                period=period,
                unit=unit,
                done_on=done_on,
                anchor_on=anchor_on,
                window_days=None if anchor_on is None else maybe(chance.randint(0, 5), 0.3),
                as_of=datetime.combine(
                    done_on + timedelta(days=days), time(chance.choice([0, 6, 12, 18]))
                ),
            )
        )
    return rows


def standing_of(row):
    calendar = ShiftCalendar(zone=BERLIN)
    begun_at = calendar.midnight(row.done_on)
    as_of = max(begun_at, local_instant(row.as_of, zone=BERLIN))
    course = KnotCourse(
        at_us=[microseconds(begun_at), microseconds(as_of) + 1], counts=[row.start_count, row.count]
    )
    terms = RuleTerms(
        count=CountLimit(
            n=row.interval, lead=row.lead, margin=row.margin, hard_limit=row.hard_limit
        ),
        calendar=CalendarLimit(
            period=Period(n=row.period, unit=Unit(row.unit)),
            anchor_on=row.anchor_on,
            window_days=row.window_days,
        ),
        factors=(Factor(value=Decimal(str(row.factor))),),
    )
    history = RuleHistory(entered_on=row.done_on, done_on=row.done_on, done_count=row.start_count)
    found = standing(
        terms,
        history=history,
        usage=Usage(newest_fact_at=as_of, cycles=course),
        calendar=calendar,
    )
    return found, state_at(found, at=as_of + timedelta(microseconds=1))


@pytest.mark.calc
def test_a_spreadsheet_comes_to_the_same_dates_counts_and_states(tmp_path):
    rows = random_rows()
    write_due_sheet(rows, tmp_path / "due.xlsx")
    answers = recalculate(tmp_path / "due.xlsx")
    assert len(answers) == ROWS
    for row, answer in zip(rows, answers, strict=True):
        found, state = standing_of(row)
        assert found.due_on == answer.due_on, row
        assert found.due_soon_count == answer.soon_count, row
        assert found.due_count == answer.due_count, row
        assert found.past_limit_count == answer.past_limit_count, row
        # The sheet keeps an overdue count where past limit comes first; nothing reads it there.
        assert found.overdue_count in {answer.overdue_count, None}, row
        assert state == answer.state, row
    assert {answer.state for answer in answers} == {
        "not_due",
        "due_soon",
        "due",
        "overdue",
        "past_limit",
    }
