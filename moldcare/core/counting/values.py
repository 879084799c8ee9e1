"""The plain values of counting: what a counter is, what was read, what became of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum, IntFlag, StrEnum

SECOND_US = 1_000_000
HOUR_US = 3_600 * SECOND_US

#: Shortest believable cycle where no mold, or no standard cycle, is known: 1 s.
UNKNOWN_CYCLE_US = SECOND_US

#: Allowed clock error of a device or a typed time where the plant sets no other: 5 min.
CLOCK_ERROR_US = 300 * SECOND_US


class State(IntEnum):
    """What became of a reading; the numbers are stored."""

    ACCEPTED = 1
    HELD = 2
    SET_ASIDE = 3


class Note(IntFlag):
    """What is to be said beside an accepted reading; the numbers are stored, several may be set."""

    PLAIN = 0
    FIRST = 1
    """Base of its fitting: the value shown at fitting is not known, so it counts nothing."""
    ROLLED_OVER = 2
    LATE = 4
    """It was handed in after a newer one."""
    RESTART = 8
    """The counter goes on from here; what it showed before is over."""
    DECIDED = 16
    ESTIMATED = 32
    UNSURE = 64
    """More than one number of full turns is possible, or a decision left no count that fits."""


class HoldReason(StrEnum):
    """Why a reading is held; the words are stored."""

    NONE = ""
    GOES_BACKWARDS = "goes_backwards"
    TOO_FAST = "too_fast"
    CONTRADICTS = "contradicts"
    DOES_NOT_FIT = "does_not_fit"
    CLOCK_IS_OFF = "clock_is_off"
    NOT_FITTED = "not_fitted"
    OUT_OF_RANGE = "out_of_range"


class DecisionKind(StrEnum):
    """What a person may decide about one reading; the words are stored."""

    ACCEPT = "accept"
    SET_ASIDE = "set_aside"
    RESTART = "restart"
    TURNS = "turns"
    JUDGE_ANEW = "judge_anew"


@dataclass(frozen=True, kw_only=True, slots=True)
class CounterSetup:
    """How far a counter counts before it starts again.

    Parameters
    ----------
    rollover : int or None
        Number of different values [cycles], 65,536 for a 16-bit register; None where not given.
    digits : int or None
        Number of decimal digits; used where no rollover is given.
    """

    rollover: int | None = None
    digits: int | None = None

    @property
    def wrap(self) -> int | None:
        """Value at which the counter starts again at 0 [cycles], None where unknown."""
        if self.rollover is not None:
            return self.rollover
        return None if self.digits is None else 10**self.digits


@dataclass(frozen=True, kw_only=True, slots=True)
class PaceStep:
    """From this instant on a cycle takes at least so long.

    Parameters
    ----------
    from_us : int
        Instant [us since 1970].
    shortest_us : int
        Shortest believable cycle [us], above 0.
    is_dry : bool
        No mold is set: the cycles of this stretch belong to no mold.
    """

    from_us: int
    shortest_us: int = UNKNOWN_CYCLE_US
    is_dry: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class RunningSpan:
    """A stretch in which the press is known to have run [us since 1970]."""

    from_us: int
    to_us: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Readings:
    """The readings of one counter as columns, in arrival order.

    Parameters
    ----------
    ids : sequence of int
        Arrival numbers, strictly ascending; may be empty.
    at_us : sequence of int
        Instants [us since 1970], as many as ids.
    values : sequence of int
        What the counter showed [cycles], not negative, as many as ids.
    sources : sequence of str or None
        Where each came from; "estimated" ones are noted as such.
    written_us : sequence of int or None
        When the server wrote each [us since 1970]; None leaves the clocks unchecked.
    """

    ids: Sequence[int]
    at_us: Sequence[int]
    values: Sequence[int]
    sources: Sequence[str] | None = None
    written_us: Sequence[int] | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Decision:
    """A person decided about one reading; it comes after reading ``after_reading``.

    Parameters
    ----------
    after_reading : int
        Highest arrival number when it was written.
    reading_id : int
        The reading it is about.
    kind : DecisionKind
        Accept it as it is, set it aside, restart from it, say how many full turns, or let one that
        was set aside be judged like a new one.
    turns : int
        Full turns of the counter since the reading before; with TURNS only.
    base_value : int or None
        Value from which the counter went on [cycles]; with RESTART only, None: its own value.
    """

    after_reading: int
    reading_id: int
    kind: DecisionKind
    turns: int = 0
    base_value: int | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Fitted:
    """The counter was fitted, showing this value (None: not known)."""

    after_reading: int
    at_us: int
    value_shown: int | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Removed:
    """The counter was taken off, showing this value (None: not known)."""

    after_reading: int
    at_us: int
    last_value: int | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class PaceKnown:
    """Steps of the shortest cycle became known; one at the same instant replaces the older."""

    after_reading: int
    steps: tuple[PaceStep, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class RunningKnown:
    """Running spans became known; with the first of them runs count as known at all."""

    after_reading: int
    spans: tuple[RunningSpan, ...]


Event = Decision | Fitted | Removed | PaceKnown | RunningKnown


@dataclass(frozen=True, kw_only=True, slots=True)
class Held:
    """A held reading with the numbers that explain why.

    Parameters
    ----------
    reading_id, at_us, value : int
        The reading.
    reason : HoldReason
        Why it is held.
    previous_at_us, previous_value : int or None
        The accepted point before it in the same fitting.
    next_at_us, next_value : int or None
        The accepted point after it in the same fitting.
    possible : int or None
        Most cycles since the point before [cycles].
    """

    reading_id: int
    at_us: int
    value: int
    reason: HoldReason
    previous_at_us: int | None = None
    previous_value: int | None = None
    next_at_us: int | None = None
    next_value: int | None = None
    possible: int | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class OpenHeld:
    """A held reading that a newer reading may yet settle."""

    reading_id: int
    at_us: int
    value: int
    is_clock_off: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Resume:
    """All that is needed to judge newer readings of a counter without its history.

    Parameters
    ----------
    newest_at_us, newest_value, newest_total : int
        The newest accepted point of the counter and its running total there.
    fitted_to_us : int or None
        End of the fitting it lies in.
    last_id : int
        Highest arrival number judged so far.
    open_held : tuple of OpenHeld
        Held readings that are not older than that point, in arrival order: what comes next to
        them is not known yet.
    """

    newest_at_us: int
    newest_value: int
    newest_total: int
    fitted_to_us: int | None
    last_id: int
    open_held: tuple[OpenHeld, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class FittingTotals:
    """One fitting of a counter with its running totals [cycles]."""

    from_us: int | None
    to_us: int | None
    from_total: int
    to_total: int
    is_base_known: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Judged:
    """The verdicts on one counter's readings, as columns beside the readings.

    Parameters
    ----------
    ids : list of int
        Arrival numbers, as handed in.
    states : list of int
        `State` of each.
    notes : list of int
        `Note` bits of each accepted reading, 0 otherwise.
    reasons : list of str
        `HoldReason` of each held reading, "" otherwise.
    cycles : list of int
        Cycles since the accepted point before [cycles]; 0 where not accepted.
    totals : list of int or None
        Running total of the counter at each accepted reading [cycles], None otherwise.
    candidates : dict of int to tuple of int
        Arrival number to the possible counts of its span [cycles], for each unsure one.
    held : tuple of Held
        The held readings in arrival order.
    point_at_us, point_totals, point_values : list of int
        Accepted points in time order with running totals and values [cycles]; the fittings' own
        values are among them.
    point_ids : list of int or None
        Arrival number of each point, None for a fitting's own value.
    fittings : tuple of FittingTotals
        The fittings in time order.
    unfit_last_values : tuple of Removed
        Removals whose last value does not fit the readings; it counts nothing.
    void_decisions : tuple of Decision
        Decisions that could not take effect (no such reading, no known rollover).
    resume : Resume or None
        State for `extend`; None where the newest fitting has no point yet.
    """

    ids: list[int]
    states: list[int]
    notes: list[int]
    reasons: list[str]
    cycles: list[int]
    totals: list[int | None]
    candidates: dict[int, tuple[int, ...]]
    held: tuple[Held, ...]
    point_at_us: list[int]
    point_totals: list[int]
    point_values: list[int]
    point_ids: list[int | None]
    fittings: tuple[FittingTotals, ...]
    unfit_last_values: tuple[Removed, ...]
    void_decisions: tuple[Decision, ...]
    resume: Resume | None
