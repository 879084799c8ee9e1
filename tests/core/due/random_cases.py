"""Random rules with their histories, in the oracle's plain form and in the core's."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from hypothesis import strategies as st

from moldcare.core.due import (
    Basis,
    CalendarCounts,
    CalendarLimit,
    CountLimit,
    DeferralTerms,
    EventKind,
    EventLimit,
    Factor,
    KnotCourse,
    MeasuredLimit,
    Measurement,
    RuleHistory,
    RuleTerms,
    RunningLimit,
    RunningSpans,
    Span,
    UnsureFrom,
    UnsureWhy,
    Usage,
    microseconds,
)
from moldcare.core.recurrence import Period, Unit
from moldcare.core.shifts import ShiftCalendar, ShiftPattern, ShiftSlot
from tests.core.oracles.due_oracle import Case

START = datetime(2026, 1, 10, tzinfo=UTC)
LAST_MINUTE = 330 * 1440
ZONES = ("Europe/Berlin", "America/New_York")
SHIFTS = ShiftPattern(
    valid_from=date(2000, 1, 1),
    slots=tuple(
        ShiftSlot(weekday=weekday, name=name, starts=time(starts), ends=time(ends))
        for weekday in range(7)
        for name, starts, ends in (("Early", 6, 14), ("Late", 14, 22), ("Night", 22, 6))
    ),
)
CALENDARS = {
    (zone, has_shifts): ShiftCalendar(zone=ZoneInfo(zone), patterns=[SHIFTS] if has_shifts else [])
    for zone in ZONES
    for has_shifts in (True, False)
}

# Instants lie on half hours, so that the oracle can walk by them.
minutes = st.integers(min_value=0, max_value=LAST_MINUTE // 30).map(lambda half: 30 * half)
maybe = st.booleans()


def instant(minute: int) -> datetime:
    return START + timedelta(minutes=minute)


def instants(*, max_size: int):
    return st.lists(minutes, max_size=max_size, unique=True).map(
        lambda found: [instant(minute) for minute in sorted(found)]
    )


def spans(at: list[datetime], *, may_be_open: bool) -> list[tuple]:
    """Pair instants to spans; one left over is open, or left out."""
    pairs = list(zip(at[0::2], at[1::2], strict=False))
    if may_be_open and len(at) % 2:
        return [*pairs, (at[-1], None)]
    return pairs


@st.composite
def readings(draw):
    at = draw(instants(max_size=8).filter(bool))
    counts = [draw(st.integers(min_value=0, max_value=500))]
    for _ in at[1:]:
        counts.append(counts[-1] + draw(st.integers(min_value=0, max_value=4000)))
    return list(zip(at, counts, strict=True))


def optional(values):
    return st.one_of(st.none(), values)


def whole(low: int, high: int):
    return st.integers(min_value=low, max_value=high)


counts_limits = st.fixed_dictionaries(
    {
        "n": whole(1, 9000),
        "lead": optional(whole(0, 9500)),
        "margin": optional(whole(0, 900)),
        "hard": optional(whole(1, 12000)),
    }
)
calendar_limits = st.fixed_dictionaries(
    {
        "n": whole(1, 7),
        "unit": st.sampled_from(["day", "week", "month", "year"]),
        "anchor_on": optional(st.dates(min_value=date(2025, 6, 1), max_value=date(2026, 12, 31))),
        "window": optional(whole(0, 20)),
        "lead": optional(whole(0, 40)),
        "margin": optional(whole(0, 20)),
        "hard": optional(whole(0, 400)),
        "counts": st.sampled_from(["always", "waits_while_stored", "only_while_stored"]),
    }
).filter(lambda limit: limit["anchor_on"] is None or limit["counts"] != "only_while_stored")
hours_limits = st.fixed_dictionaries({"hours": whole(1, 90), "hard": optional(whole(1, 120))})
event_limits = st.fixed_dictionaries(
    {
        "kind": st.sampled_from(
            ["before_set", "end_of_run", "set", "mold_opened", "back_from_storage"]
        ),
        "after_days": whole(0, 20),
        "margin": whole(0, 3),
        "hard": optional(whole(0, 4)),
    }
)
measure_limits = st.fixed_dictionaries(
    {
        "baseline": whole(0, 100),
        "limit": whole(-100, 200),
        "hard": optional(whole(-150, 250)),
    }
).filter(lambda limit: limit["limit"] != limit["baseline"])


@st.composite
def cases(draw, *, with_deferral: bool = True):
    """A rule with at least one limit and a history that could have happened."""
    kinds = draw(
        st.sets(st.sampled_from(["count", "calendar", "hours", "event", "measure"]), min_size=1)
    )
    turns = draw(instants(max_size=6))
    begins_in_press = draw(maybe)
    pulls, sets = (turns[0::2], turns[1::2]) if begins_in_press else (turns[1::2], turns[0::2])
    case = Case(
        zone=draw(st.sampled_from(ZONES)),
        has_shifts=draw(maybe),
        entered_on=(START + timedelta(days=draw(whole(0, 60)))).date(),
        readings=draw(readings()),
        rate_per_h=draw(optional(st.sampled_from([0.5, 20.0, 37.5, 120.0]))),
        is_in_press=(len(turns) % 2 == 0) == begins_in_press,
        runs=spans(draw(instants(max_size=5)), may_be_open=True),
        stored=spans(draw(instants(max_size=5)), may_be_open=True),
        pulls=pulls,
        sets=sets,
        opened=draw(instants(max_size=3)),
        measured=[(at, draw(whole(-150, 250))) for at in draw(instants(max_size=5))],
        factor_hundredths=[] if "hours" in kinds else draw(st.lists(whole(10, 150), max_size=3)),
        count=draw(counts_limits) if "count" in kinds else None,
        calendar=draw(calendar_limits) if "calendar" in kinds else None,
        hours=draw(hours_limits) if "hours" in kinds else None,
        event=draw(event_limits) if "event" in kinds else None,
        measure=draw(measure_limits) if "measure" in kinds else None,
        newest_at=instant(LAST_MINUTE + 30 * draw(whole(0, 100))),
        unsure_at=draw(optional(minutes.map(instant))),
    )
    case.first_count = draw(whole(0, case.readings[0][1]))
    ways = ["never", "instant", "instant and count", "date"]
    if "hours" not in kinds:
        # A count is passed between half hours, where the oracle does not walk.
        ways.append("count")
    how = draw(st.sampled_from(ways))
    if how.startswith("instant"):
        case.done_at = instant(draw(minutes))
    if how == "date":
        case.done_on = instant(draw(minutes)).date()
    if how in {"count", "instant and count"}:
        case.done_count = draw(whole(0, case.readings[-1][1] + 100))
    if with_deferral and draw(maybe):
        case.deferral = {
            "made_at": instant(draw(minutes)),
            "until_on": draw(optional(minutes.map(lambda minute: instant(2 * minute).date()))),
            "until_count": draw(optional(whole(0, 20000))),
        }
    return case


def span(pair: tuple) -> Span:
    return Span(from_at=pair[0], to_at=pair[1])


def terms_of(case: Case) -> RuleTerms:
    count, calendar, hours, event, measure = (
        case.count,
        case.calendar,
        case.hours,
        case.event,
        case.measure,
    )
    return RuleTerms(
        count=count
        and CountLimit(
            n=count["n"],
            basis=Basis.SHOTS,
            lead=count["lead"],
            margin=count["margin"],
            hard_limit=count["hard"],
        ),
        calendar=calendar
        and CalendarLimit(
            period=Period(n=calendar["n"], unit=Unit(calendar["unit"])),
            anchor_on=calendar["anchor_on"],
            window_days=calendar["window"],
            lead_days=calendar["lead"],
            margin_days=calendar["margin"],
            hard_limit_days=calendar["hard"],
            counts=CalendarCounts(calendar["counts"]),
        ),
        running=hours and RunningLimit(hours=hours["hours"], hard_limit_h=hours["hard"]),
        events=()
        if event is None
        else (
            EventLimit(
                kind=EventKind(event["kind"]),
                after_days=event["after_days"],
                margin_shifts=event["margin"],
                hard_limit_shifts=event["hard"],
            ),
        ),
        measured=()
        if measure is None
        else (
            MeasuredLimit(
                quantity="vent depth",
                baseline=measure["baseline"],
                limit=measure["limit"],
                hard_limit=measure["hard"],
            ),
        ),
        factors=tuple(
            Factor(value=Decimal(hundredths) / 100) for hundredths in case.factor_hundredths
        ),
    )


def history_of(case: Case) -> RuleHistory:
    return RuleHistory(
        entered_on=case.entered_on,
        first_count=case.first_count,
        done_at=case.done_at,
        done_on=case.done_on,
        done_count=case.done_count,
    )


def usage_of(case: Case) -> Usage:
    course = KnotCourse(
        at_us=[microseconds(at) for at, _ in case.readings],
        counts=[count for _, count in case.readings],
    )
    return Usage(
        newest_fact_at=case.newest_at,
        shots=course,
        rate_per_h=case.rate_per_h,
        is_in_press=case.is_in_press,
        running=RunningSpans([span(pair) for pair in case.runs]),
        stored=[span(pair) for pair in case.stored],
        events={
            EventKind.END_OF_RUN: case.pulls,
            EventKind.SET: case.sets,
            EventKind.MOLD_OPENED: case.opened,
        },
        measurements={
            "vent depth": [Measurement(at=at, value=value) for at, value in case.measured]
        },
        unsure=case.unsure_at and UnsureFrom(at=case.unsure_at, why=UnsureWhy.OLD_READING),
    )


def deferral_of(case: Case) -> DeferralTerms | None:
    if case.deferral is None:
        return None
    return DeferralTerms(
        made_at=case.deferral["made_at"],
        until_on=case.deferral["until_on"],
        until_count=case.deferral["until_count"],
        basis=Basis.SHOTS,
    )


def calendar_of(case: Case) -> ShiftCalendar:
    return CALENDARS[case.zone, case.has_shifts]
