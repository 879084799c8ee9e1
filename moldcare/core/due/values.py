"""What a care rule asks, what is known of its last work and of its mold, and where it stands."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum

from moldcare.core.due.course import CountCourse, RunningSpans, Span
from moldcare.core.recurrence import Period


class Basis(StrEnum):
    """Which sum a limit by count goes by."""

    CYCLES = "cycles"
    SHOTS = "shots"


class CalendarCounts(StrEnum):
    """When the calendar part of a rule goes on."""

    ALWAYS = "always"
    WAITS_WHILE_STORED = "waits_while_stored"
    ONLY_WHILE_STORED = "only_while_stored"


class EventKind(StrEnum):
    """What happens to a mold that can make a rule due."""

    END_OF_RUN = "end_of_run"
    BEFORE_SET = "before_set"
    INTO_STORAGE = "into_storage"
    BACK_FROM_STORAGE = "back_from_storage"
    MOLD_OPENED = "mold_opened"
    EACH_SERVICE = "each_service"
    SET = "set"


class LimitKind(StrEnum):
    """The kinds of limits a rule can have."""

    COUNT = "count"
    CALENDAR = "calendar"
    RUNNING_HOURS = "running_hours"
    EVENT = "event"
    MEASURED = "measured"


class State(StrEnum):
    """What a standing says at an instant."""

    NOT_DUE = "not_due"
    WAITING = "waiting"
    DUE_SOON = "due_soon"
    UNSURE = "unsure"
    DEFERRED = "deferred"
    DUE = "due"
    OVERDUE = "overdue"
    PAST_LIMIT = "past_limit"


#: The order in which a standing gets worse; the other states have no place in it.
WORSENING = (State.NOT_DUE, State.DUE_SOON, State.DUE, State.OVERDUE, State.PAST_LIMIT)


@dataclass(frozen=True, kw_only=True, slots=True)
class CountLimit:
    """Every `n` cycles or shots since the last work.

    `lead`, `margin` in counts, a tenth of the interval where None; the lead then is at least what
    one shift makes at the recent rate. `hard_limit` counts from the last work and is not scaled by
    factors.
    """

    n: int
    basis: Basis = Basis.CYCLES
    lead: int | None = None
    margin: int | None = None
    hard_limit: int | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class CalendarLimit:
    """Every period, from the date of the last work or on fixed dates from `anchor_on`.

    Days where None: window a fifth of the period, lead a tenth but at least one shift, both rounded
    down; margin a tenth rounded up. `hard_limit_days` counts from the start of the period.
    """

    period: Period
    anchor_on: date | None = None
    window_days: int | None = None
    lead_days: int | None = None
    margin_days: int | None = None
    hard_limit_days: int | None = None
    counts: CalendarCounts = CalendarCounts.ALWAYS


@dataclass(frozen=True, kw_only=True, slots=True)
class RunningLimit:
    """Every so many running hours since the last work; lead and margin as for a count."""

    hours: float
    lead_h: float | None = None
    margin_h: float | None = None
    hard_limit_h: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class EventLimit:
    """Due at the first event of a kind after the last work; the margin is in whole shifts.

    `after_days` is for BACK_FROM_STORAGE: shorter stays do not count.
    """

    kind: EventKind
    after_days: int = 0
    margin_shifts: int = 1
    hard_limit_shifts: int | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class MeasuredLimit:
    """Due when the newest valid measurement of a quantity has gone from `baseline` to `limit`.

    The limit may lie on either side of the baseline. Parts are of the change from one to the other:
    due soon at `lead_part`, overdue at `margin_part` beyond the limit. `hard_limit` is a value.
    """

    quantity: str
    baseline: float
    limit: float
    lead_part: float = 0.1
    margin_part: float = 0.1
    hard_limit: float | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Factor:
    """One reason to do work more often, e.g. the resin: the interval is multiplied by `value`."""

    value: Decimal
    reason: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class RuleTerms:
    """The limits of one care rule for one target; what comes first counts.

    Factors scale the limits by count and by running hours. Calendar periods, events and measured
    limits are taken as they are written.
    """

    count: CountLimit | None = None
    calendar: CalendarLimit | None = None
    running: RunningLimit | None = None
    events: tuple[EventLimit, ...] = ()
    measured: tuple[MeasuredLimit, ...] = ()
    factors: tuple[Factor, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class RuleHistory:
    """The last work for a rule, or where counting begins without any.

    Parameters
    ----------
    entered_on : date
        Local date on which the target was entered.
    first_count : int
        The count, on the rule's basis, with which our records of the target begin.
    done_at : datetime, optional
        Instant of the last completion.
    done_on : date, optional
        Local date of an imported last work of which no instant is known.
    done_count : int, optional
        Count at the last work. Left out, it is taken from the facts of its instant or date.
    """

    entered_on: date
    first_count: int = 0
    done_at: datetime | None = None
    done_on: date | None = None
    done_count: int | None = None

    @property
    def is_done(self) -> bool:
        """Whether anything at all is known of a last work."""
        return not (self.done_at is None and self.done_on is None and self.done_count is None)


@dataclass(frozen=True, kw_only=True, slots=True)
class Measurement:
    """One valid measurement of a quantity."""

    at: datetime
    value: float


class UnsureWhy(StrEnum):
    """Why the count of a mold cannot be relied on."""

    OLD_READING = "old_reading"
    HELD_READING = "held_reading"
    AMBIGUOUS_SPAN = "ambiguous_span"


@dataclass(frozen=True, kw_only=True, slots=True)
class UnsureFrom:
    """From when the count of a target cannot be relied on, and why."""

    at: datetime
    why: UnsureWhy


@dataclass(frozen=True, kw_only=True, slots=True)
class Usage:
    """What the facts say of a rule's target; shared by the rules of one mold.

    Parameters
    ----------
    newest_fact_at : datetime
        Instant of the newest fact about the target; sums and shares are as of then.
    cycles, shots : CountCourse, optional
        Accepted counts over time. Pass the same course twice where dry cycles are not known apart.
    rate_per_h : float, optional
        Recent cycles per hour while in a press, None when none is known.
    is_in_press : bool
        Whether the mold is set; only then is anything forecast from the rate.
    running : RunningSpans
        Spans in which the target ran; the last may be open.
    stored : sequence of Span
        Stays in storage in the order of time; the last may be open.
    events : mapping of EventKind to sequence of datetime
        Instants in the order of time. BEFORE_SET is worked out from END_OF_RUN and SET, and
        BACK_FROM_STORAGE from `stored`.
    measurements : mapping of str to sequence of Measurement
        Per quantity, in the order of time.
    unsure : UnsureFrom, optional
        From when the counts cannot be relied on.
    """

    newest_fact_at: datetime
    cycles: CountCourse | None = None
    shots: CountCourse | None = None
    rate_per_h: float | None = None
    is_in_press: bool = False
    running: RunningSpans = field(default_factory=RunningSpans)
    stored: Sequence[Span] = ()
    events: Mapping[EventKind, Sequence[datetime]] = field(default_factory=dict)
    measurements: Mapping[str, Sequence[Measurement]] = field(default_factory=dict)
    unsure: UnsureFrom | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class DeferralTerms:
    """A named person let a mold run on: when, at which count, and up to which new limit.

    The new limit is reached from 00:00 of `until_on`, or at `until_count` on `basis`, whichever
    comes first.
    """

    made_at: datetime
    made_count: int | None = None
    until_on: date | None = None
    until_count: int | None = None
    basis: Basis = Basis.CYCLES


class Note(StrEnum):
    """What a standing has to say besides its state."""

    COUNT_OPEN = "count_open"
    DATE_OPEN = "date_open"
    NO_COUNTS = "no_counts"


@dataclass(frozen=True, kw_only=True, slots=True)
class Reached:
    """The instants that would count without the deferral in force."""

    due_at: datetime | None
    overdue_at: datetime | None
    past_limit_at: datetime | None


@dataclass(frozen=True, kw_only=True, slots=True)
class Standing:
    """Where a rule stands, as of the newest fact, for `state_at` to read at any instant.

    Each `..._at` is the earliest instant at which any limit says so, by accepted counts or by
    dates; None when that is not known. Each `..._count` is the total at which the limit by count
    says so. `forecast_...` are the earlier of that instant and of the one by the recent rate.

    `since_count` and `since_days` are from the last work to the newest fact; `interval` and
    `remaining` are in the unit of `limiting`: counts, days, hours or the measured quantity's.
    """

    due_soon_at: datetime | None = None
    due_at: datetime | None = None
    overdue_at: datetime | None = None
    past_limit_at: datetime | None = None
    due_soon_count: int | None = None
    due_count: int | None = None
    overdue_count: int | None = None
    past_limit_count: int | None = None
    forecast_soon_at: datetime | None = None
    forecast_due_at: datetime | None = None
    due_on: date | None = None
    served_on: date | None = None
    since_on: date | None = None
    since_count: int | None = None
    since_days: int = 0
    limiting: LimitKind | None = None
    limiting_name: str = ""
    interval: float | None = None
    since: float | None = None
    remaining: float | None = None
    share: float = 0.0
    basis: Basis | None = None
    is_waiting: bool = False
    deferred_from_at: datetime | None = None
    deferred_until_at: datetime | None = None
    deferred_until_count: int | None = None
    undeferred: Reached | None = None
    unsure_at: datetime | None = None
    unsure_why: UnsureWhy | None = None
    no_record_yet: bool = False
    notes: tuple[Note, ...] = ()
    computed_at: datetime
