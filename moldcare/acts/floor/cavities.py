"""Blocking cavities, and freeing them again."""

from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.answers import Written, answer_of
from moldcare.acts.doing import Doing, check_happened, once
from moldcare.acts.errors import DoesNotFit
from moldcare.acts.locks import lock_mold
from moldcare.acts.records import checked_fact
from moldcare.acts.refresh import refresh_care
from moldcare.acts.rights import Right, require
from moldcare.acts.words import local_words, reason_given, sentence_end, tidy
from moldcare.logbook.append import append_entry
from moldcare.molds.models import Block, Cavity
from moldcare.plant.queries import the_plant


@dataclass(frozen=True, kw_only=True, slots=True)
class CavityBlocked(Written):
    """A cavity was blocked or freed, and how many of how many run from then on."""

    cavities: int
    active: int

    @property
    def more_cycles(self) -> Fraction:
        """Share of cycles that the same parts take more than with all cavities: 2 of 8, a third."""
        return Fraction(self.cavities - self.active, self.active)


def block_cavity(doing: Doing, *, cavity: Cavity, at: datetime, reason: str) -> CavityBlocked:
    """Block a cavity: the mold runs on without it.

    Raises
    ------
    DoesNotFit
        If it is blocked already, or no cavity would be left.
    Incomplete
        If no reason is given.
    """
    return _write(doing, cavity=cavity, at=at, is_blocked=True, reason=reason)


def free_cavity(doing: Doing, *, cavity: Cavity, at: datetime, note: str = "") -> CavityBlocked:
    """Free a blocked cavity.

    Raises
    ------
    DoesNotFit
        If it is not blocked at that instant.
    """
    return _write(doing, cavity=cavity, at=at, is_blocked=False, reason=note)


def _write(
    doing: Doing, *, cavity: Cavity, at: datetime, is_blocked: bool, reason: str
) -> CavityBlocked:
    require(doing.person, Right.MOVE_MOLDS)

    def do() -> dict[str, Any]:
        plant = the_plant()
        check_happened(at, doing=doing, plant=plant)
        held = lock_mold(cavity.mold)
        words = reason_given(reason) if is_blocked else tidy(reason)
        keys = list(Cavity.objects.filter(mold=held).values_list("pk", flat=True))
        rows = list(Block.objects.filter(cavity__mold=held).order_by("at", "id"))
        last = next((r for r in reversed(rows) if r.cavity_id == cavity.pk and r.at <= at), None)
        if last is not None and last.at == at:
            raise DoesNotFit(
                _("There is an entry about this cavity at this very time. Give another minute.")
            )
        if is_blocked == (last is not None and last.is_blocked):
            raise DoesNotFit(
                _("Cavity %(cavity)s is blocked already since %(at)s.")
                % {"cavity": cavity.ident, "at": local_words(last.at, plant=plant)}
                if last is not None and is_blocked
                else _("Cavity %(cavity)s is not blocked then.") % {"cavity": cavity.ident}
            )
        active = _active_after(rows, keys=keys, cavity=cavity, at=at, is_blocked=is_blocked)
        if is_blocked and active[1] < 1:
            raise DoesNotFit(
                _(
                    "Cavity %(cavity)s is the last that runs: a mold without a cavity does not "
                    "run. Note its condition or pull it."
                )
                % {"cavity": cavity.ident}
            )
        running = f"{active[0]} of {len(keys)} cavities run"
        if active[0] < len(keys):
            running += f"; the same parts take {len(keys)} cycles for every {active[0]} before"
        what = "blocked" if is_blocked else "freed"
        sentence = f"Cavity {cavity.ident} {what}; {running}."
        row = Block(
            cavity=cavity,
            at=at,
            is_blocked=is_blocked,
            reason=words,
            person=doing.person,
            written_at=doing.now,
        )
        checked_fact(row)
        row.entry = append_entry(
            held.chain,
            kind=f"cavity_{what}",
            happened_at=at,
            written_at=doing.now,
            author=doing.person,
            sentence=f"{sentence} {sentence_end(words)}" if words else sentence,
            facts={
                "mold": held.number,
                "cavity": cavity.ident,
                "reason": words,
                "cavities": len(keys),
                "active": active[0],
            },
        )
        row.save()
        refresh_care(molds=[held.pk])
        return answer_of(row, entry=row.entry, cavities=len(keys), active=active[0])

    act = "block_cavity" if is_blocked else "free_cavity"
    body = {"cavity": cavity, "at": at, "reason": reason}
    return CavityBlocked.read(once(doing, act, body, do))


def _active_after(
    rows: list[Block], *, keys: list[int], cavity: Cavity, at: datetime, is_blocked: bool
) -> tuple[int, int]:
    """Return how many cavities run from `at` on, and the fewest until this one changes again."""
    blocked = {row.cavity_id for row in rows if row.at <= at and row.is_blocked}
    for row in rows:
        if row.at <= at:
            (blocked.add if row.is_blocked else blocked.discard)(row.cavity_id)
    (blocked.add if is_blocked else blocked.discard)(cavity.pk)
    at_once = fewest = len(keys) - len(blocked)
    for row in rows:
        if row.at <= at:
            continue
        if row.cavity_id == cavity.pk:
            break
        (blocked.add if row.is_blocked else blocked.discard)(row.cavity_id)
        fewest = min(fewest, len(keys) - len(blocked))
    return at_once, fewest
