"""Stored verdicts as the words of the table reader."""

from collections.abc import Sequence

from django.utils import timezone
from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _

from moldcare.core.counting import Proposal as CountProposal
from moldcare.core.counting import ProposalKind
from moldcare.core.counting.values import Held, HoldReason
from moldcare.counters.convert import instant_of
from moldcare.feeds.tables import Proposal


def held_reason(held: Held) -> str:
    """Return why a reading is held, with the numbers behind it."""
    before = held.previous_value
    values = {
        "before": "" if before is None else _counted(before),
        "when": "" if held.previous_at_us is None else _said(held.previous_at_us),
        "cycles": "" if before is None else _counted(held.value - before),
        "possible": "" if held.possible is None else _counted(held.possible),
        "after": "" if held.next_value is None else _counted(held.next_value),
        "later": "" if held.next_at_us is None else _said(held.next_at_us),
    }
    sentences = {
        HoldReason.GOES_BACKWARDS: _("It goes backwards: the counter showed %(before)s, %(when)s."),
        HoldReason.TOO_FAST: _(
            "It is too fast: %(cycles)s cycles since %(before)s, %(when)s; at most %(possible)s "
            "were possible."
        ),
        HoldReason.CONTRADICTS: _("It contradicts %(before)s, accepted for the same instant."),
        HoldReason.CLOCK_IS_OFF: _("Its clock is off: it is dated after it arrived."),
        HoldReason.NOT_FITTED: _("The counter sat on nothing at that time."),
        HoldReason.OUT_OF_RANGE: _("The counter cannot show so much."),
    }
    doubt = _("It does not fit what was read before and after it.")
    if before is not None and held.next_value is not None:
        doubt = _("It does not fit between %(before)s, %(when)s, and %(after)s, %(later)s.")
    return sentences.get(held.reason, doubt) % values


def count_proposals(proposals: Sequence[CountProposal]) -> tuple[Proposal, ...]:
    """Return what a held reading may have meant, as rows of a file propose it."""
    return tuple(_proposal(each) for each in proposals)


def _proposal(each: CountProposal) -> Proposal:
    match each.kind:
        case ProposalKind.SLIP:
            value = each.value or 0
            return Proposal(value=str(value), text=_("It was %(n)s.") % {"n": _counted(value)})
        case ProposalKind.WRAP:
            wrap = each.wrap or 0
            return Proposal(
                value=f"wrap:{wrap}",
                text=_("The counter begins again after %(n)s.") % {"n": _counted(wrap)},
            )
        case ProposalKind.INSTANT:
            at_us = each.at_us or 0
            at = instant_of(at_us).isoformat().replace("+00:00", "Z")
            return Proposal(value=at, text=_("It was read %(at)s.") % {"at": _said(at_us)})
        case ProposalKind.RESTART:
            return Proposal(value="restart", text=_("The counter was reset or replaced."))


def _counted(count: int) -> str:
    return number_format(count, use_l10n=True, force_grouping=True)


def _said(at_us: int) -> str:
    return date_format(timezone.localtime(instant_of(at_us)), "Y-m-d H:i")
