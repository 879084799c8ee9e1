"""Why a reading is held and what it may have meant, in words."""

from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from moldcare.core.counting import Proposal, ProposalKind
from moldcare.core.counting.entry import duration_words
from moldcare.core.counting.values import Held, HoldReason, Note
from moldcare.counters.convert import instant_of, microseconds
from moldcare.counters.models import Reading, Verdict
from moldcare.pages.words import count_words, moment_words


@dataclass(frozen=True, kw_only=True, slots=True)
class Offer:
    """One way to settle a reading: `key` is sent back, `label` stands on the button."""

    key: str
    label: str
    say: str


def cycles_words(cycles: int) -> str:
    """Return a number of cycles."""
    return ngettext("%(n)s cycle", "%(n)s cycles", cycles) % {"n": count_words(cycles)}


def head_words(held: Held) -> str:
    """Return in a few words why a reading is held."""
    head = {
        HoldReason.GOES_BACKWARDS: _("%(value)s goes backwards."),
        HoldReason.TOO_FAST: _("%(value)s is more than the time allows."),
        HoldReason.CONTRADICTS: _("%(value)s contradicts another reading."),
        HoldReason.DOES_NOT_FIT: _("%(value)s does not fit."),
        HoldReason.CLOCK_IS_OFF: _("%(value)s comes from a clock that is off."),
        HoldReason.NOT_FITTED: _("%(value)s was read while the counter sat on nothing."),
        HoldReason.OUT_OF_RANGE: _("%(value)s is more than the counter can show."),
    }.get(held.reason, _("%(value)s does not fit."))
    return head % {"value": count_words(held.value)}


def why_words(held: Held, *, reading: Reading, now: datetime) -> str:
    """Return the numbers behind it: the value before, and how many cycles were possible."""
    if held.reason is HoldReason.CLOCK_IS_OFF:
        ahead_us = max(0, microseconds(reading.at) - microseconds(reading.written_at))
        return _("It was dated %(ahead)s after it arrived.") % {"ahead": duration_words(ahead_us)}
    if held.previous_value is None or held.previous_at_us is None:
        return ""
    before = {
        "before": count_words(held.previous_value),
        "when": moment_words(instant_of(held.previous_at_us), now=now),
    }
    if held.reason is HoldReason.CONTRADICTS:
        return _("%(before)s was accepted for the same instant, %(when)s.") % before
    said = [_("The counter showed %(before)s, %(when)s.") % before]
    if held.next_value is not None and held.next_at_us is not None:
        said.append(
            _("Later it showed %(after)s, %(when)s.")
            % {
                "after": count_words(held.next_value),
                "when": moment_words(instant_of(held.next_at_us), now=now),
            }
        )
    if held.possible is not None and held.value >= held.previous_value:
        said.append(
            _("That would be %(cycles)s; at most %(possible)s were possible.")
            % {
                "cycles": cycles_words(held.value - held.previous_value),
                "possible": count_words(held.possible),
            }
        )
    return " ".join(said)


def offer_of(proposal: Proposal, *, now: datetime) -> Offer:
    """Return a proposal as a button."""
    since = (
        ""
        if proposal.cycles is None
        else _("%(cycles)s since the value before.") % {"cycles": cycles_words(proposal.cycles)}
    )
    match proposal.kind:
        case ProposalKind.SLIP:
            value = proposal.value or 0
            return Offer(
                key=f"slip:{value}",
                label=_("It was %(value)s") % {"value": count_words(value)},
                say=since,
            )
        case ProposalKind.WRAP:
            wrap = proposal.wrap or 0
            return Offer(
                key=f"wrap:{wrap}",
                label=_("It begins again after %(wrap)s") % {"wrap": count_words(wrap)},
                say=since,
            )
        case ProposalKind.INSTANT:
            at_us = proposal.at_us or 0
            at = moment_words(instant_of(at_us), now=now)
            return Offer(
                key=f"instant:{at_us}",
                label=_("It was read %(at)s") % {"at": at},
                say=_("The value stays, the time is put right."),
            )
        case ProposalKind.RESTART:
            return Offer(
                key="restart",
                label=_("Reset or replaced"),
                say=_("The counter goes on from this value; what it counted before stays."),
            )


def turn_offers(counts: tuple[int, ...], *, value: int, wrap: int | None) -> list[Offer]:
    """Return the possible counts of a span in which the counter may have gone round."""
    if wrap is None:
        return []
    offers = []
    for count in counts:
        # value + turns x wrap - value before = count, and the value before is below wrap
        turns = max(0, -((value - count) // wrap))
        offers.append(
            Offer(
                key=f"turns:{turns}",
                label=cycles_words(count),
                say=ngettext(
                    "The counter began again %(n)d time.",
                    "The counter began again %(n)d times.",
                    turns,
                )
                % {"n": turns},
            )
        )
    return offers


def became_words(verdict: Verdict) -> str:
    """Return what became of an accepted reading."""
    said = [_("%(cycles)s since the value before.") % {"cycles": cycles_words(verdict.cycles)}]
    note = Note(verdict.note)
    if Note.FIRST in note:
        said = [_("It is the first one, and counts nothing by itself.")]
    if Note.ROLLED_OVER in note:
        said.append(_("The counter began again at 0."))
    if Note.LATE in note:
        said.append(_("It came in after a newer one."))
    if Note.RESTART in note:
        said.append(_("The counter was reset or replaced here."))
    if Note.DECIDED in note:
        said.append(_("Somebody decided so."))
    if Note.ESTIMATED in note:
        said.append(_("It is an estimate."))
    if Note.UNSURE in note:
        said.append(_("Its span is unsure."))
    return " ".join(said)
