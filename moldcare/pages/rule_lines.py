"""One rule as a line of a list: its state, its reason in words, its strip."""

from dataclasses import dataclass
from datetime import datetime

from moldcare.care.convert import standing_value
from moldcare.care.models import CareRule, Standing
from moldcare.core import due
from moldcare.core.due import LimitKind, State
from moldcare.core.shifts import ShiftCalendar
from moldcare.pages.strip import Strip, strip
from moldcare.pages.words import why_words

TENTH = 0.1

# a mold is named by the worst state of its rules
WORST_FIRST = (
    State.PAST_LIMIT,
    State.OVERDUE,
    State.DUE,
    State.UNSURE,
    State.DUE_SOON,
    State.DEFERRED,
    State.WAITING,
    State.NOT_DUE,
)


@dataclass(frozen=True, kw_only=True, slots=True)
class RuleLine:
    """What components/_rule.html shows of a rule."""

    rule: CareRule
    name: str
    state: State
    say: str
    strip: Strip
    minutes: int
    when_at: datetime | None

    @property
    def is_pressing(self) -> bool:
        """Whether the line belongs above the fold."""
        return self.state not in (State.NOT_DUE, State.WAITING)


def rule_line(row: Standing, *, at: datetime, calendar: ShiftCalendar) -> RuleLine:
    """Return the line of a stored standing. Its rule comes with it."""
    standing = standing_value(row)
    state = due.state_at(standing, at=at)
    return RuleLine(
        rule=row.rule,
        name=row.rule.name,
        state=state,
        say=why_words(standing, at=at, calendar=calendar),
        strip=strip_of(row, standing, state=state, at=at, calendar=calendar),
        minutes=row.rule.minutes,
        when_at=when_of(standing, state=state),
    )


def when_of(standing: due.Standing, *, state: State) -> datetime | None:
    """Return the instant that a rule is listed by: when its state began, or when it will be due."""
    if state is State.PAST_LIMIT:
        return standing.past_limit_at
    if state is State.OVERDUE:
        return standing.due_at or standing.overdue_at
    if state is State.DEFERRED:
        return standing.deferred_until_at
    return standing.forecast_due_at or standing.due_at


def strip_of(
    row: Standing,
    standing: due.Standing,
    *,
    state: State,
    at: datetime,
    calendar: ShiftCalendar,
) -> Strip:
    """Return the strip of the limit of which most is used."""
    rule = row.rule
    share = due.share_at(standing, at=at, calendar=calendar)
    margin, hard = TENTH, None
    interval = row.interval or 0
    days = due.overtaking_days(standing, at=at, calendar=calendar)
    if days is not None:
        if rule.margin_days is not None:
            margin = rule.margin_days / days[1]
        if rule.hard_days is not None:
            hard = rule.hard_days / days[1]
    elif standing.limiting is LimitKind.COUNT and interval:
        if rule.margin_count is not None:
            margin = rule.margin_count / interval
        if rule.hard_count is not None:
            hard = rule.hard_count / interval
    elif standing.limiting is LimitKind.CALENDAR and interval:
        if rule.margin_days is not None:
            margin = rule.margin_days / interval
        if rule.hard_days is not None:
            hard = rule.hard_days / interval
    elif standing.limiting is LimitKind.RUNNING_HOURS and interval:
        if rule.hard_hours is not None:
            hard = rule.hard_hours / interval
    elif standing.limiting is LimitKind.EVENT:
        share = min(share, 1.0)
    return strip(
        max(0.0, share),
        margin_share=margin,
        hard_limit_share=None if hard is None else max(1.0, hard),
        state=state.value,
    )
