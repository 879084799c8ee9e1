"""Why a row cannot be taken as it stands, in sentences."""

from django.utils.translation import gettext as _

from moldcare.feeds.tables.matching import Match
from moldcare.feeds.tables.rows import Flaw
from moldcare.feeds.tables.text import REPLACEMENT_MARK
from moldcare.feeds.tables.verdicts import Problem, Proposal, Verdict


def refused(reason: str) -> Problem:
    """Give a problem that only mending the file solves."""
    return Problem(verdict=Verdict.REFUSED, reason=reason)


def skipped(reason: str) -> Problem:
    """Give a problem that needs nothing done: there is no reading."""
    return Problem(verdict=Verdict.SKIPPED, reason=reason)


def waiting(reason: str, *, proposals: tuple[Proposal, ...] = ()) -> Problem:
    """Give a problem that an answer solves."""
    return Problem(verdict=Verdict.NEEDS_ANSWER, reason=reason, proposals=proposals)


def flawed(flaw: Flaw, *, text: str, column: str = "") -> Problem:
    """Say why a workbook's cell cannot be used, and in which column it stands."""
    reason = {
        Flaw.ERROR: _("%(where)s holds the error “%(text)s”."),
        Flaw.NOT_CALCULATED: _(
            "%(where)s holds a formula whose result was not saved. Open the workbook in a "
            "spreadsheet and save it."
        ),
        Flaw.TOO_LONG: _(
            "“%(text)s” is longer than the 15 digits that a spreadsheet keeps; the last may be "
            "lost. Enter it as text."
        ),
    }[flaw]
    return refused(reason % {"text": text, "where": f"“{column}”" if column else _("The cell")})


def too_long(fact: str) -> Problem:
    """Say that a cell holds a longer text than such a fact ever is."""
    return refused(_("The text in this cell is too long for a %(fact)s.") % {"fact": fact})


def more_cells() -> Problem:
    """Say that a row has more cells than the heading, where commas part them."""
    return refused(
        _(
            "This row has more cells than the heading: a comma inside a number or a note must "
            "stand in quotes."
        )
    )


def nameless() -> Problem:
    """Say that nothing tells whose reading it is."""
    return refused(_("This row names neither a mold nor a counter."))


def damaged_name(text: str) -> Problem:
    """Say that a spreadsheet has turned a name into a power of ten."""
    return refused(
        _("“%(text)s” is what a spreadsheet makes of a name with an E in it. Enter it as text.")
        % {"text": text}
    )


def lost_letters(text: str) -> Problem | None:
    """Say that a text has lost letters, None where it has not."""
    if text.isascii() or REPLACEMENT_MARK not in text:
        return None
    return refused(_("“%(text)s” has lost letters before it came here.") % {"text": text})


def shown_or_held(shown: str, *, holds: str) -> Problem:
    """Say that a mold's cell shows one name and holds another."""
    return waiting(
        _("The cell shows %(shown)s but holds %(holds)s.") % {"shown": shown, "holds": holds},
        proposals=(Proposal(value="shown", text=shown), Proposal(value="held", text=holds)),
    )


def not_ours(kind: str, *, text: str) -> Problem:
    """Say that nothing of ours has this name."""
    sentence = {
        "mold": _("No mold of ours is called “%(text)s”. Assign it or leave it."),
        "counter": _("No counter of ours is called “%(text)s”. Assign it or leave it."),
        "press": _("No press of ours is called “%(text)s”. Assign it or leave it."),
    }[kind]
    return Problem(verdict=Verdict.NOT_OURS, reason=sentence % {"text": text})


def several(text: str, *, found: tuple[Match, ...]) -> Problem:
    """Say that a name may be several of ours."""
    return waiting(
        _("“%(text)s” may be several of ours.") % {"text": text},
        proposals=tuple(Proposal(value=str(one.key), text=one.label) for one in found),
    )
