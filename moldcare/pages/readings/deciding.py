"""From a button about a reading to the act behind it."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _

from moldcare.acts.counters import say_rollover
from moldcare.acts.doing import Doing
from moldcare.acts.errors import NotFound
from moldcare.acts.readings import (
    accept_reading,
    correct_reading,
    restart_from_reading,
    say_turns,
    set_reading_aside,
)
from moldcare.counters.convert import instant_of
from moldcare.counters.models import Reading
from moldcare.counters.queries import reading_numbered
from moldcare.pages.words import count_words

LONGEST = 18
TURNS_AT_MOST = 9_999


@dataclass(frozen=True, kw_only=True, slots=True)
class Given:
    """What was typed beside the buttons: a reason, and what the reading really was."""

    reason: str = ""
    value: int | None = None
    at: datetime | None = None


NOTHING_GIVEN = Given()


def decide(doing: Doing, *, asked: str, given: Given = NOTHING_GIVEN) -> str:
    """Do what a button says, such as 12:slip:482301; return a sentence about it.

    A proposal brings its own reason; to put a reading right by hand, to accept it as it is or to
    set it aside needs a typed one.

    Raises
    ------
    DomainError
        If it cannot be done, or the button is none of ours.
    """
    number, _colon, key = asked.partition(":")
    kind, _colon, text = key.partition(":")
    reading = reading_numbered(_whole(number))
    if reading is None or kind not in _ACTS:
        raise NotFound(_("That was not one of the choices. Open the list again."))
    return _ACTS[kind](doing, reading, _whole(text), given)


def _whole(text: str) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) <= LONGEST else -1


def _slip(doing: Doing, reading: Reading, value: int, given: Given) -> str:
    # the reason goes into the logbook, which is kept in English
    why = given.reason or f"a slip of the hand: {value} was meant"
    correct_reading(doing, reading=reading, value=value, reason=why)
    return _("%(value)s takes the place of %(typed)s.") % {
        "value": count_words(value),
        "typed": count_words(reading.value),
    }


def _instant(doing: Doing, reading: Reading, at_us: int, given: Given) -> str:
    why = given.reason or "the clock of the device was off"
    try:
        at = instant_of(at_us)
    except OverflowError:
        raise NotFound(_("That was not one of the choices. Open the list again.")) from None
    correct_reading(doing, reading=reading, at=at, reason=why)
    return _("The time of the reading is put right.")


def _restart(doing: Doing, reading: Reading, _value: int, given: Given) -> str:
    why = given.reason or "the counter was reset or replaced"
    restart_from_reading(doing, reading=reading, reason=why)
    return _("The counter goes on from %(value)s.") % {"value": count_words(reading.value)}


def _wrap(doing: Doing, reading: Reading, wrap: int, given: Given) -> str:
    why = given.reason or "its readings show it"
    say_rollover(doing, counter=reading.counter, rollover=wrap, reason=why)
    return _("Counter %(counter)s begins again after %(wrap)s.") % {
        "counter": reading.counter.label,
        "wrap": count_words(wrap),
    }


def _turns(doing: Doing, reading: Reading, turns: int, given: Given) -> str:
    if turns > TURNS_AT_MOST:
        raise NotFound(_("That was not one of the choices. Open the list again."))
    why = given.reason or f"{turns} full turns lie between the two readings"
    say_turns(doing, reading=reading, turns=turns, reason=why)
    return _("It is settled how often the counter began again.")


def _odd(doing: Doing, reading: Reading, _value: int, given: Given) -> str:
    why = given.reason or "later readings fit one another, but not this one"
    set_reading_aside(doing, reading=reading, reason=why)
    return _("%(value)s is set aside.") % {"value": count_words(reading.value)}


def _aside(doing: Doing, reading: Reading, _value: int, given: Given) -> str:
    set_reading_aside(doing, reading=reading, reason=given.reason)
    return _("%(value)s is set aside.") % {"value": count_words(reading.value)}


def _accept(doing: Doing, reading: Reading, _value: int, given: Given) -> str:
    accept_reading(doing, reading=reading, reason=given.reason)
    return _("%(value)s is accepted as it is.") % {"value": count_words(reading.value)}


def _correct(doing: Doing, reading: Reading, _value: int, given: Given) -> str:
    correct_reading(doing, reading=reading, value=given.value, at=given.at, reason=given.reason)
    return _("The reading is put right.")


_ACTS: dict[str, Callable[[Doing, Reading, int, Given], str]] = {
    "slip": _slip,
    "instant": _instant,
    "restart": _restart,
    "wrap": _wrap,
    "turns": _turns,
    "odd": _odd,
    "aside": _aside,
    "accept": _accept,
    "correct": _correct,
}

#: The buttons that need a typed reason.
BY_HAND = ("accept", "aside", "correct")
