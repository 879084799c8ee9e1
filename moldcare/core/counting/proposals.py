"""What a held reading may have meant."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from moldcare.core.counting.fits import counts_between
from moldcare.core.counting.pace import Pace, Running, last_tenth
from moldcare.core.counting.values import (
    HOUR_US,
    CounterSetup,
    Held,
    HoldReason,
    PaceStep,
    RunningSpan,
)

#: At most so many proposals for one reading.
MOST_PROPOSALS = 5

#: Where registers start again: 16 bits, 23 bits in tenths, 24 and 32 bits, four to eight digits.
#: Seen in public fault reports of metering software; no standard.
USUAL_WRAPS = (10**4, 65_536, 10**5, 838_861, 10**6, 10**7, 2**24, 10**8, 2**32)


class ProposalKind(StrEnum):
    """What a proposal would do; the words are stored with the decision that takes it."""

    SLIP = "slip"
    RESTART = "restart"
    WRAP = "wrap"
    INSTANT = "instant"


@dataclass(frozen=True, kw_only=True, slots=True)
class Proposal:
    """One thing a held reading may have meant; nothing happens until a person takes it.

    Parameters
    ----------
    kind : ProposalKind
        Another value (one slip of the hand away), the counter went on from here, the counter
        starts again at a usual value, or another instant.
    cycles : int or None
        Cycles since the point before, were it taken [cycles]; None where there is none.
    value : int or None
        The other value; with SLIP.
    wrap : int or None
        Where the counter would start again; with WRAP.
    at_us : int or None
        The other instant [us since 1970]; with INSTANT.
    """

    kind: ProposalKind
    cycles: int | None = None
    value: int | None = None
    wrap: int | None = None
    at_us: int | None = None


def one_slip_away(value: int) -> set[int]:
    """Return every count one slip of the hand away from a typed one.

    Parameters
    ----------
    value : int
        What was typed, not negative.

    Returns
    -------
    set of int
        One digit wrong, one missing, one too many, or two neighbours swapped.

    Examples
    --------
    >>> sorted(one_slip_away(10))[:4]
    [0, 1, 11, 12]
    """
    typed = str(value)
    found: set[str] = set()
    for place in range(len(typed) + 1):
        head, tail = typed[:place], typed[place:]
        found.update(head + digit + tail for digit in "0123456789")
        if tail:
            found.update(head + digit + tail[1:] for digit in "0123456789")
            found.add(head + tail[1:])
        if len(tail) > 1:
            found.add(head + tail[1] + tail[0] + tail[2:])
    return {int(each) for each in found if each} - {value}


def proposals(
    held: Held,
    *,
    setup: CounterSetup,
    pace: Iterable[PaceStep] = (),
    running: Iterable[RunningSpan] | None = None,
    later: Sequence[tuple[int, int]] = (),
    recent_cycles_h: float | None = None,
    proposed_at_us: int | None = None,
) -> list[Proposal]:
    """Return what a held reading may have meant, the likeliest first, at most five.

    Parameters
    ----------
    held : Held
        The reading with its neighbours.
    setup : CounterSetup
        How far the counter counts.
    pace, running
        As for `judge_counter`, as known now.
    later : sequence of (int, int)
        Instants [us since 1970] and values [cycles] of the counter's newer readings that nobody
        set aside, held ones included; may be empty.
    recent_cycles_h : float or None
        Recent pace [cycles/h]; None where there is none.
    proposed_at_us : int or None
        Corrected instant of a reading with a wrong clock [us since 1970].

    Returns
    -------
    list of Proposal
        An exchange or reset comes first where a newer reading runs on from the low value; it is
        among the five whenever the reading goes backwards.

    Notes
    -----
    The rest are ranked by nearness to the recent pace; without one to the middle between the
    neighbours, or to standing still where there is no later neighbour.
    """
    if held.reason is HoldReason.CLOCK_IS_OFF:
        if proposed_at_us is None:
            return []
        return [Proposal(kind=ProposalKind.INSTANT, at_us=proposed_at_us)]
    if held.reason in (HoldReason.CONTRADICTS, HoldReason.NOT_FITTED):
        return []
    if held.previous_at_us is None or held.previous_value is None:
        return []
    around = _Surroundings(
        before=(held.previous_at_us, held.previous_value),
        here=(held.at_us, held.value),
        after=(
            None
            if held.next_at_us is None or held.next_value is None
            else (held.next_at_us, held.next_value)
        ),
        wrap=setup.wrap,
        pace=Pace(pace),
        running=None if running is None else Running(running),
    )
    expected = around.expected(recent_cycles_h)
    is_low = held.reason is HoldReason.GOES_BACKWARDS
    others = sorted(
        [*around.slips(), *(around.wraps() if is_low and setup.wrap is None else [])],
        key=lambda each: (abs((each.cycles or 0) - expected), each.value or 0, each.wrap or 0),
    )
    if not is_low:
        return others[:MOST_PROPOSALS]
    restart = Proposal(kind=ProposalKind.RESTART, cycles=0)
    if any(around.runs_on(each) for each in later):
        return [restart, *others][:MOST_PROPOSALS]
    return [*others[: MOST_PROPOSALS - 1], restart]


@dataclass(frozen=True, slots=True)
class _Surroundings:
    """The points around one held reading and what is believed possible there."""

    before: tuple[int, int]
    here: tuple[int, int]
    after: tuple[int, int] | None
    wrap: int | None
    pace: Pace
    running: Running | None

    def counts(self, before: tuple[int, int], after: tuple[int, int]) -> tuple[int, ...]:
        return counts_between(before, after, wrap=self.wrap, pace=self.pace, running=self.running)

    def count_with(self, value: int) -> int | None:
        """Return the cycles since the point before, were this the value; None: does not fit."""
        if self.wrap is not None and value >= self.wrap:
            return None
        here = (self.here[0], value)
        left = self.counts(self.before, here)
        if not left or self.after is None:
            return left[0] if left else None
        whole = self.counts(self.before, self.after)
        right = self.counts(here, self.after)
        fits = any(total - count in right for total in whole for count in left)
        return left[0] if fits else None

    def expected(self, recent_cycles_h: float | None) -> float:
        """Return the cycles that the pace would give since the point before."""
        elapsed_us = self.here[0] - self.before[0]
        if recent_cycles_h is not None:
            return recent_cycles_h * elapsed_us / HOUR_US
        if self.after is None:
            return 0.0
        share = elapsed_us / (self.after[0] - self.before[0])
        return max(0, self.after[1] - self.before[1]) * share

    def runs_on(self, later: tuple[int, int]) -> bool:
        """Return whether a newer reading fits the low value and not the point before it."""
        return (
            later[0] > self.here[0]
            and bool(self.counts(self.here, later))
            and not self.counts(self.before, later)
        )

    def slips(self) -> list[Proposal]:
        """Return every value one slip away that is possible."""
        counted = ((value, self.count_with(value)) for value in one_slip_away(self.here[1]))
        return [
            Proposal(kind=ProposalKind.SLIP, cycles=cycles, value=value)
            for value, cycles in counted
            if cycles is not None
        ]

    def wraps(self) -> list[Proposal]:
        """Return usual values at which a counter of unknown width would have started again."""
        value = self.before[1]
        most = self.pace.possible(self.before[0], self.here[0])
        return [
            Proposal(kind=ProposalKind.WRAP, cycles=self.here[1] + wrap - value, wrap=wrap)
            for wrap in USUAL_WRAPS
            if value < wrap and last_tenth(value, wrap=wrap) and self.here[1] + wrap - value <= most
        ]
