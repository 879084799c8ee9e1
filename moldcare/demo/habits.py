"""How people read counters, with the slips of real life at rates that are common in plants.

The rates are invented, in the order of size that anybody finds who compares a month of shift
sheets with the counters. They are not chosen by what counting handles.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from random import Random


class Slip(StrEnum):
    """What went wrong with a reading; empty where nothing did."""

    NONE = ""
    MISSED = "missed"
    WRONG_DIGIT = "wrong digit"
    DIGITS_SWAPPED = "two digits swapped"
    DIGIT_MISSING = "digit missing"
    DIGIT_TOO_MANY = "digit too many"
    PRESSES_SWAPPED = "two presses swapped"
    COPIED = "copied from the shift before"
    LATE = "handed in late"
    HOUR_OFF = "time off by an hour"
    COUNTER_RESET = "counter was reset"


@dataclass(frozen=True, kw_only=True, slots=True)
class Rates:
    """How often each slip happens [share of readings]."""

    missed: float = 0.03
    typed_wrong: float = 0.007
    presses_swapped: float = 0.002
    copied: float = 0.002
    late: float = 0.01
    hour_off: float = 0.002


TYPING = (Slip.WRONG_DIGIT, Slip.DIGITS_SWAPPED, Slip.DIGIT_MISSING, Slip.DIGIT_TOO_MANY)


@dataclass(frozen=True, kw_only=True, slots=True)
class Taken:
    """What somebody writes down: the value and time noted, the truth, and the slip behind it."""

    value: int
    at: datetime
    true_value: int
    slip: Slip
    delay: timedelta = timedelta(0)


def mistyped(rng: Random, value: int) -> tuple[int, Slip]:
    """Return a value with one slip of the hand, and which it was; never the same value."""
    digits = str(value)
    while True:
        slip = rng.choice(TYPING)
        place = rng.randrange(len(digits))
        match slip:
            case Slip.WRONG_DIGIT:
                typed = digits[:place] + rng.choice("0123456789") + digits[place + 1 :]
            case Slip.DIGITS_SWAPPED:
                typed = digits[:place] + digits[place : place + 2][::-1] + digits[place + 2 :]
            case Slip.DIGIT_MISSING:
                typed = digits[:place] + digits[place + 1 :]
            case _:
                typed = digits[:place] + rng.choice("0123456789") + digits[place:]
        if typed and int(typed) != value:
            return int(typed), slip


def take(
    rng: Random, *, rates: Rates, true_value: int, before: int | None, now: datetime
) -> Taken | None:
    """Return what somebody notes who stands before a counter; None when it is forgotten."""
    drawn = rng.random()
    # people note the time when they write, a few minutes after they looked
    at = now.replace(second=0, microsecond=0) + timedelta(minutes=rng.randrange(0, 4))
    if drawn < rates.missed:
        return None
    drawn -= rates.missed
    if drawn < rates.typed_wrong:
        value, slip = mistyped(rng, true_value)
        return Taken(value=value, at=at, true_value=true_value, slip=slip)
    drawn -= rates.typed_wrong
    if drawn < rates.copied and before is not None and before != true_value:
        return Taken(value=before, at=at, true_value=true_value, slip=Slip.COPIED)
    drawn -= rates.copied
    if drawn < rates.late:
        return Taken(
            value=true_value,
            at=at,
            true_value=true_value,
            slip=Slip.LATE,
            delay=timedelta(hours=rng.uniform(6, 30)),
        )
    drawn -= rates.late
    if drawn < rates.hour_off:
        return Taken(
            value=true_value, at=at - timedelta(hours=1), true_value=true_value, slip=Slip.HOUR_OFF
        )
    return Taken(value=true_value, at=at, true_value=true_value, slip=Slip.NONE)


def swap_neighbors(rng: Random, *, rates: Rates, rows: list[Taken | None]) -> None:
    """Let two neighbors in a round be written into each other's line, now and then."""
    for place in range(len(rows) - 1):
        left, right = rows[place], rows[place + 1]
        if left is None or right is None or rng.random() >= rates.presses_swapped:
            continue
        if left.slip is Slip.NONE and right.slip is Slip.NONE and left.value != right.value:
            rows[place] = _with(left, value=right.value)
            rows[place + 1] = _with(right, value=left.value)


def _with(taken: Taken, *, value: int) -> Taken:
    return Taken(value=value, at=taken.at, true_value=taken.true_value, slip=Slip.PRESSES_SWAPPED)
