"""Places, conditions and counts of molds in the reader's words."""

from datetime import datetime

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from moldcare.care.models import CareRule
from moldcare.core.due import State, UnsureWhy
from moldcare.counters.models import Life
from moldcare.molds.models import ConditionNote, Position
from moldcare.pages.words import moment_words
from moldcare.plant.models import Spot


def state_words(state: str) -> str:
    """Return a state as it stands beside a rule."""
    return {
        State.NOT_DUE: _("Not due"),
        State.WAITING: _("Waiting"),
        State.DUE_SOON: _("Due soon"),
        State.UNSURE: _("Unsure"),
        State.DEFERRED: _("Deferred"),
        State.DUE: _("Due"),
        State.OVERDUE: _("Overdue"),
        State.PAST_LIMIT: _("Past limit"),
    }[State(state)]


def place_words(spot: Spot | None) -> str:
    """Return where a mold is: in press 7, on bench 2."""
    if spot is None:
        return _("Its place is not known")
    form = {
        Spot.Kind.PRESS: _("In press %(number)s"),
        Spot.Kind.BENCH: _("On bench %(number)s"),
        Spot.Kind.RACK: _("In rack %(number)s"),
        Spot.Kind.AWAY: _("Away at %(number)s"),
    }[Spot.Kind(spot.kind)]
    return form % {"number": spot.number}


def since_words(spot: Spot | None, *, since: datetime | None, now: datetime) -> str:
    """Return where a mold is and since when."""
    place = place_words(spot)
    if spot is None or since is None:
        return f"{place}."
    return _("%(place)s since %(when)s.") % {
        "place": place,
        "when": moment_words(since, now=now),
    }


def condition_words(note: ConditionNote | None) -> str:
    """Return a mold's condition and what it needs next, as a sentence."""
    if note is None:
        return _("not noted yet")
    said = str(note.get_condition_display())
    if note.needs_next:
        said = _("%(condition)s, needs %(next)s next") % {
            "condition": said,
            "next": note.get_needs_next_display(),
        }
    return said


def parts_out_words(positions: list[Position]) -> str:
    """Return which positions are empty."""
    names = ", ".join(position.ident for position in positions)
    return ngettext("part out: %(names)s", "parts out: %(names)s", len(positions)) % {
        "names": names
    }


def count_marks(life: Life | None, *, now: datetime) -> list[str]:
    """Return what must be said beside a life count before it is trusted."""
    if life is None:
        return []
    marks = []
    if life.is_estimated:
        marks.append(_("estimated"))
    if life.unsure_at is not None and life.unsure_at <= now:
        why = {
            UnsureWhy.OLD_READING: _("the newest reading is too old"),
            UnsureWhy.HELD_READING: _("a newer reading is held"),
            UnsureWhy.AMBIGUOUS_SPAN: _("the count can be read in two ways"),
        }[UnsureWhy(life.unsure_why)]
        marks.append(
            _("unsure since %(when)s: %(why)s")
            % {"when": moment_words(life.unsure_at, now=now), "why": why}
        )
    elif life.is_unsure:
        marks.append(_("a part of it is unsure"))
    return marks


def target_words(rule: CareRule) -> str:
    """Return what a rule looks after, where that is not the whole mold."""
    if rule.position is not None:
        return _("position %(ident)s") % {"ident": rule.position.ident}
    if rule.circuit is not None:
        return _("circuit %(ident)s") % {"ident": rule.circuit.ident}
    if rule.target == CareRule.Target.ALL_CIRCUITS:
        return _("all circuits")
    return ""
