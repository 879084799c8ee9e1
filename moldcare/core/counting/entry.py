"""What is refused, held or known already before a reading is stored."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from moldcare.core.counting.values import (
    CLOCK_ERROR_US,
    HOUR_US,
    SECOND_US,
    CounterSetup,
    HoldReason,
)
from moldcare.core.errors import ReadingRefused

_ABOUT = re.compile(r"^(?:ca\.?|approx\.?|about|~|≈|±)\s*", re.IGNORECASE)
_PLAIN = re.compile(r"^\d+$")
_SPACES = "\u00a0\u2009\u202f"
_GROUPED = re.compile(r"^\d{1,3}(?:([.,' ])\d{3})(?:\1\d{3})*$")
_WHOLE_DECIMAL = re.compile(r"^(\d+)[.,]0{1,2}$")
_MOST_DIGITS = 18


@dataclass(frozen=True, kw_only=True, slots=True)
class WrittenCount:
    """A count as somebody wrote it: the number, and whether it was only meant roughly."""

    value: int
    is_estimated: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Entry:
    """A reading at the door.

    Parameters
    ----------
    is_duplicate : bool
        The same counter, instant and value is stored already: answered, not stored again.
    hold : HoldReason
        CLOCK_IS_OFF where a device dated it into the future, else NONE.
    clock_off_by_us : int
        How far the device's clock is ahead [us]; 0 where it is not held.
    proposed_at_us : int or None
        The corrected instant to offer [us since 1970]; None where it is not held.
    """

    is_duplicate: bool = False
    hold: HoldReason = HoldReason.NONE
    clock_off_by_us: int = 0
    proposed_at_us: int | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class CounterStay:
    """A counter on a mold or press from one instant to another [us since 1970]."""

    counter: int
    from_us: int
    to_us: int | None = None


def read_count(text: str) -> WrittenCount | None:
    """Return the count that a text means [cycles].

    Parameters
    ----------
    text : str
        As typed or found in a file; groups of three may be parted by one kind of sign.

    Returns
    -------
    WrittenCount or None
        None where nothing is written; estimated where it says "ca." or the like.

    Raises
    ------
    ReadingRefused
        Not a whole number, negative, or parted so that it could mean several numbers.

    Examples
    --------
    >>> read_count("ca. 313000")
    WrittenCount(value=313000, is_estimated=True)
    >>> read_count("1,217,400").value
    1217400
    >>> read_count(" ") is None
    True
    """
    written = text.strip()
    for space in _SPACES:
        written = written.replace(space, " ")
    if not written.strip():
        return None
    rest = _ABOUT.sub("", written)
    is_estimated = rest != written
    if re.match(r"^[-\u2212]\s*\d", rest):
        raise ReadingRefused(f"“{text.strip()}” is negative; a counter shows 0 or more.")
    if not rest.isascii() or not (
        _PLAIN.match(rest) or _GROUPED.match(rest) or _WHOLE_DECIMAL.match(rest)
    ):
        raise ReadingRefused(
            f"“{text.strip()}” cannot be read as a whole number of cycles. "
            "Enter the digits as the counter shows them."
        )
    whole = _WHOLE_DECIMAL.match(rest)
    digits = whole.group(1) if whole else re.sub(r"\D", "", rest)
    if len(digits.lstrip("0")) > _MOST_DIGITS:
        raise ReadingRefused(f"“{text.strip()}” has more digits than any counter.")
    return WrittenCount(value=int(digits), is_estimated=is_estimated)


def check_entry(
    value: int,
    *,
    at_us: int,
    received_us: int,
    setup: CounterSetup,
    fitted_from_us: int | None = None,
    is_from_device: bool = False,
    device_sent_us: int | None = None,
    clock_error_us: int = CLOCK_ERROR_US,
    known: Collection[tuple[int, int]] = (),
) -> Entry:
    """Return how a reading passes the door.

    Parameters
    ----------
    value : int
        What the counter shows [cycles].
    at_us : int
        Instant of the reading [us since 1970].
    received_us : int
        Instant at which it arrived [us since 1970].
    setup : CounterSetup
        How far the counter counts.
    fitted_from_us : int or None
        When the counter was first fitted [us since 1970]; None: not recorded.
    is_from_device : bool
        It was queued by a tablet or came by a feed; False: typed on line or from a file.
    device_sent_us : int or None
        What the device's own clock showed when it sent the reading [us since 1970].
    clock_error_us : int
        Allowed clock error [us].
    known : collection of (int, int)
        Instants and values of this counter stored already, whatever became of them.

    Returns
    -------
    Entry
        Duplicate, held for its clock, or plain.

    Raises
    ------
    ReadingRefused
        Negative, more digits than the counter has, before its fitting, or typed for the future.

    Notes
    -----
    A device's clock is off by what it showed on sending less the instant of arrival; where that
    is not known the reading counts as taken when it arrived.
    """
    if value < 0:
        raise ReadingRefused(f"{value} is negative; a counter shows 0 or more.")
    wrap = setup.wrap
    if wrap is not None and value >= wrap:
        raise ReadingRefused(f"{value} is more than this counter can show; it ends at {wrap - 1}.")
    if (at_us, value) in known:
        return Entry(is_duplicate=True)
    ahead_us = at_us - received_us
    if ahead_us > clock_error_us:
        if not is_from_device:
            raise ReadingRefused(
                f"The reading is dated {duration_words(ahead_us)} in the future. "
                "Check its date and time."
            )
        off_by_us = ahead_us if device_sent_us is None else device_sent_us - received_us
        if not off_by_us > 0 or at_us - off_by_us > received_us:
            off_by_us = ahead_us
        return Entry(
            hold=HoldReason.CLOCK_IS_OFF,
            clock_off_by_us=off_by_us,
            proposed_at_us=at_us - off_by_us,
        )
    if fitted_from_us is not None and at_us < fitted_from_us:
        raise ReadingRefused(
            f"The reading is dated {duration_words(fitted_from_us - at_us)} "
            "before this counter was fitted."
        )
    return Entry()


def stay_at(stays: Sequence[CounterStay], *, at_us: int) -> CounterStay | None:
    """Return the counter that was fitted at an instant.

    Parameters
    ----------
    stays : sequence of CounterStay
        Stays of counters on one mold or press, in any order; may be empty.
    at_us : int
        Instant [us since 1970].

    Returns
    -------
    CounterStay or None
        At the instant of an exchange the new one; before it the old one.
    """
    found = [
        stay
        for stay in stays
        if stay.from_us <= at_us and (stay.to_us is None or at_us < stay.to_us)
    ]
    if not found:
        found = [stay for stay in stays if stay.to_us == at_us]
    return max(found, key=lambda stay: stay.from_us, default=None)


def duration_words(duration_us: int) -> str:
    """Return a duration in words, rounded up to whole minutes from one minute on.

    Examples
    --------
    >>> duration_words(7_500_000_000)
    '2 h 5 min'
    """
    if duration_us < 60 * SECOND_US:
        return f"{-(-duration_us // SECOND_US)} s"
    minutes = -(-duration_us // (60 * SECOND_US))
    days, minutes = (
        divmod(minutes, 24 * 60) if minutes * 60 * SECOND_US >= 48 * HOUR_US else (0, minutes)
    )
    hours, minutes = divmod(minutes, 60)
    parts = ((days, "days"), (hours, "h"), (minutes, "min"))
    return " ".join(f"{number} {unit}" for number, unit in parts if number)
