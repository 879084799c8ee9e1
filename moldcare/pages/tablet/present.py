"""Tablets in words: for leads, and for what needs a hand."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from moldcare.handin.models import Tablet
from moldcare.handin.queries import (
    SILENT_AFTER,
    known_tablets,
    tablets_to_look_at,
)
from moldcare.pages.words import moment_words
from moldcare.plant.queries import the_plant


@dataclass(frozen=True, kw_only=True, slots=True)
class TabletLine:
    """A tablet, and what is to be said about it."""

    tablet: Tablet
    name: str
    say: str
    wants: bool


def tablet_lines(*, now: datetime) -> list[TabletLine]:
    """Return the tablets that were heard of lately, those that want somebody first."""
    tolerance = timedelta(seconds=the_plant().clock_error_s)
    lines = [_line(row, now=now, tolerance=tolerance) for row in known_tablets(now=now)]
    return sorted(lines, key=lambda line: not line.wants)


@dataclass(frozen=True, kw_only=True, slots=True)
class TabletHand:
    """Something about tablets that needs a hand."""

    head: str
    say: str


def tablet_hands(*, now: datetime, tolerance: timedelta) -> list[TabletHand]:
    """Return what needs a hand: entries that are stuck, and tablets that want somebody."""
    hands = []
    rows = list(tablets_to_look_at(now=now, tolerance=tolerance))
    stuck: int = getattr(rows[0], "stuck_of_all", 0) if rows else 0
    if stuck:
        head = ngettext(
            "%(n)d entry of a tablet could not be handed in.",
            "%(n)d entries of tablets could not be handed in.",
            stuck,
        )
        hands.append(TabletHand(head=head % {"n": stuck}, say=_("A lead has to see to it.")))
    for row in rows:
        line = _line(row, now=now, tolerance=tolerance)
        if line.wants:
            hands.append(TabletHand(head=f"{line.name}.", say=line.say))
    return hands


def _line(row: Tablet, *, now: datetime, tolerance: timedelta) -> TabletLine:
    name = _("Tablet %(number)d") % {"number": row.pk}
    if row.last_person is not None:
        name = _("Tablet %(number)d, last used by %(person)s") % {
            "number": row.pk,
            "person": row.last_person.name,
        }
    when = moment_words(row.last_contact_at, now=now)
    said, wants = [_("Last heard of %(when)s.") % {"when": when}], False
    if row.lost:
        wants = True
        said.append(
            ngettext(
                "Its browser threw %(n)d entry away: ask for it.",
                "Its browser threw %(n)d entries away: ask for them.",
                row.lost,
            )
            % {"n": row.lost}
        )
    if row.waiting:
        wants |= row.last_contact_at <= now - SILENT_AFTER
        said.append(
            ngettext(
                "%(n)d entry waits on it since %(when)s.",
                "%(n)d entries wait on it, the oldest since %(when)s.",
                row.waiting,
            )
            % {
                "n": row.waiting,
                "when": moment_words(row.oldest_at or row.last_contact_at, now=now),
            }
        )
    off = timedelta(milliseconds=row.offset_ms)
    if abs(off) > tolerance:
        wants = True
        said.append(_offset_words(off))
    if row.is_kept is False:
        said.append(
            _("Its browser did not promise to keep what waits on it: let nothing wait for days.")
        )
    return TabletLine(tablet=row, name=name, say=" ".join(said), wants=wants)


def _offset_words(off: timedelta) -> str:
    minutes = round(abs(off).total_seconds() / 60)
    how_much = (
        _("%(n)d min") % {"n": minutes}
        if minutes < 120
        else _("%(n)d h") % {"n": round(minutes / 60)}
    )
    if off > timedelta():
        return _("Its clock is %(off)s behind; times are put right, set it.") % {"off": how_much}
    return _("Its clock is %(off)s ahead; times are put right, set it.") % {"off": how_much}
