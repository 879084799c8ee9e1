"""Readings that wait for somebody: the list, and all that is known about one."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _

from moldcare.core.counting.values import State
from moldcare.counters.convert import setup_of
from moldcare.counters.doubts import Doubt, doubt_about, held_of, proposals_for
from moldcare.counters.models import Reading, ReadingDecision, Verdict
from moldcare.counters.queries import (
    ambiguous_verdicts,
    decisions_about,
)
from moldcare.pages.readings.words import (
    Offer,
    became_words,
    cycles_words,
    head_words,
    offer_of,
    turn_offers,
    why_words,
)
from moldcare.pages.sits import Sits, where_counters_sit
from moldcare.pages.words import count_words, moment_words

AMBIGUOUS_SHOWN = 20


@dataclass(frozen=True, kw_only=True, slots=True)
class HeldEntry:
    """A line of the list: whose reading it is, why it waits, what it probably meant."""

    verdict: Verdict
    sits: Sits
    head: str
    why: str
    guess: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class ReadingPage:
    """All that the page of one reading shows."""

    verdict: Verdict
    sits: Sits
    head: str
    why: str
    offers: list[Offer]
    doubt: Doubt
    decisions: list[ReadingDecision]

    @property
    def reading(self) -> Reading:
        """The reading itself."""
        return self.verdict.reading

    @property
    def is_held(self) -> bool:
        """Whether it waits for somebody."""
        return self.verdict.state == State.HELD

    @property
    def is_odd(self) -> bool:
        """Whether it is the one that later readings speak against."""
        return self.doubt.odd is not None and self.doubt.odd.reading.pk == self.verdict.pk

    @property
    def is_set_aside(self) -> bool:
        """Whether it counts no more."""
        return self.verdict.state == State.SET_ASIDE


def held_entries(verdicts: Sequence[Verdict], *, now: datetime) -> list[HeldEntry]:
    """Return the lines of held readings: a fixed number of queries."""
    sits = where_counters_sit(verdict.reading.counter_id for verdict in verdicts)
    meant = proposals_for(verdicts)
    found = []
    for verdict in verdicts:
        held = held_of(verdict)
        if held is None:
            continue
        offers = [offer_of(each, now=now) for each in meant.get(verdict.pk, [])]
        found.append(
            HeldEntry(
                verdict=verdict,
                sits=sits[verdict.reading.counter_id],
                head=head_words(held),
                why=why_words(held, reading=verdict.reading, now=now),
                guess=offers[0].label if offers else "",
            )
        )
    return found


def ambiguous_entries(*, now: datetime) -> list[HeldEntry]:
    """Return the lines of accepted readings whose span can be read in several ways."""
    verdicts = list(ambiguous_verdicts()[:AMBIGUOUS_SHOWN])
    sits = where_counters_sit(verdict.reading.counter_id for verdict in verdicts)
    return [
        HeldEntry(
            verdict=verdict,
            sits=sits[verdict.reading.counter_id],
            head=_("%(value)s can mean several counts.")
            % {"value": count_words(verdict.reading.value)},
            why=_("The counter may have begun again: %(counts)s.")
            % {
                "counts": _(" or ").join(
                    cycles_words(count) for count in (verdict.detail or {}).get("candidates", [])
                )
            },
        )
        for verdict in verdicts
    ]


def reading_page(verdict: Verdict, *, now: datetime) -> ReadingPage:
    """Return all that is known about one reading; reads its counter's whole history."""
    doubt = doubt_about(verdict)
    reading = verdict.reading
    counter_id = reading.counter_id
    head, why = _said(verdict, doubt=doubt, now=now)
    offers = [offer_of(each, now=now) for each in doubt.proposals]
    if verdict.state == State.ACCEPTED:
        wrap = setup_of(reading.counter).wrap
        offers += turn_offers(doubt.turns, value=reading.value, wrap=wrap)
    return ReadingPage(
        verdict=verdict,
        sits=where_counters_sit([counter_id])[counter_id],
        head=head,
        why=why,
        offers=offers,
        doubt=doubt,
        decisions=list(decisions_about(reading.pk)),
    )


def _said(verdict: Verdict, *, doubt: Doubt, now: datetime) -> tuple[str, str]:
    reading = verdict.reading
    value = {"value": count_words(reading.value)}
    if doubt.held is not None:
        return head_words(doubt.held), why_words(doubt.held, reading=reading, now=now)
    if verdict.state == State.SET_ASIDE:
        return _("%(value)s is set aside.") % value, _("It counts no more, and stays to be seen.")
    if len(doubt.turns) > 1:
        return (
            _("%(value)s can mean several counts.") % value,
            _("The counter may have begun again. Choose how many cycles it was."),
        )
    if doubt.odd is not None and doubt.odd.reading.pk == reading.pk:
        return (
            _("%(value)s stands out.") % value,
            _("Later readings fit one another, but not it. Read %(when)s.")
            % {"when": moment_words(reading.at, now=now)},
        )
    return _("%(value)s is accepted.") % value, became_words(verdict)
