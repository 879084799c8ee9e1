"""Naming a mold's cavities and the parts they form, and adding further ones."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.answers import Written, answer_of
from moldcare.acts.doing import Doing, checked, once
from moldcare.acts.errors import DoesNotFit, Incomplete
from moldcare.acts.locks import lock_mold
from moldcare.acts.refresh import refresh_counts
from moldcare.acts.rights import Right, require
from moldcare.acts.words import tidy
from moldcare.logbook.append import append_entry
from moldcare.molds.models import Cavity, Mold, name_key

MOST_CAVITIES = 999


@dataclass(frozen=True, kw_only=True, slots=True)
class CavityNamed:
    """What a cavity is called and which part it forms."""

    ident: str
    part: str = ""


def name_cavities(
    doing: Doing, *, mold: Mold, named: Mapping[int, CavityNamed], cavity_count: int
) -> Written:
    """Name cavities by their keys, and bring the mold to `cavity_count` cavities.

    Further cavities are called by the lowest numbers that are free. Cavities are never taken
    away: readings were counted with them.

    Raises
    ------
    DoesNotFit
        If nothing is different, cavities would be taken away, or one is of another mold.
    Incomplete
        If two cavities would have one name, or one none.
    """
    require(doing.person, Right.EDIT_MOLDS)

    def do() -> dict[str, Any]:
        held = lock_mold(mold)
        rows = {row.pk: row for row in Cavity.objects.filter(mold=held).order_by("id")}
        if not set(named) <= set(rows):
            raise DoesNotFit(_("One of the cavities belongs to another mold."))
        before = {row.ident: row.part for row in rows.values()}
        changed = _named(rows, named=named)
        added = _further(held, rows=rows, count=cavity_count)
        if not changed and not added:
            raise DoesNotFit(_("Nothing is different from what is there; nothing was written."))
        _save(changed, added=added)
        if added:
            held.cavity_count = cavity_count
            held.save(update_fields=["cavity_count"])
        after = {row.ident: row.part for row in [*rows.values(), *added]}
        entry = append_entry(
            held.chain,
            kind="cavities_named",
            happened_at=doing.now,
            written_at=doing.now,
            author=doing.person,
            sentence=f"Cavities: {_words(before)} → {_words(after)}.",
            facts={"mold": held.number, "before": before, "after": after},
        )
        refresh_counts(molds=[held.pk])
        return answer_of(held, entry=entry)

    body = {
        "mold": mold,
        "named": {str(key): asdict(value) for key, value in named.items()},
        "cavity_count": cavity_count,
    }
    return Written.read(once(doing, "name_cavities", body, do))


def _named(rows: dict[int, Cavity], *, named: Mapping[int, CavityNamed]) -> list[Cavity]:
    """Put the names on the rows and return those that are different now."""
    changed = []
    for key, new in named.items():
        row, ident, part = rows[key], tidy(new.ident), tidy(new.part)
        if not ident:
            raise Incomplete(_("Give every cavity a name."))
        if (row.ident, row.part) != (ident, part):
            row.ident, row.part = ident, part
            changed.append(row)
    keys = [name_key(row.ident) for row in rows.values()]
    twice = next((row.ident for row in rows.values() if keys.count(name_key(row.ident)) > 1), "")
    if twice:
        raise Incomplete(
            _("Two cavities are called %(ident)s. Give each a name of its own.") % {"ident": twice}
        )
    return changed


def _further(mold: Mold, *, rows: dict[int, Cavity], count: int) -> list[Cavity]:
    if count < len(rows):
        raise DoesNotFit(
            _("A mold keeps its cavities: block those that do not run. Nothing was changed.")
        )
    if count > MOST_CAVITIES:
        raise Incomplete(_("A mold has at most %(most)d cavities here.") % {"most": MOST_CAVITIES})
    taken = {name_key(row.ident) for row in rows.values()}
    free = (str(n) for n in range(1, 2 * MOST_CAVITIES + 1) if str(n) not in taken)
    return [Cavity(mold=mold, ident=next(free)) for _each in range(count - len(rows))]


def _save(changed: list[Cavity], *, added: list[Cavity]) -> None:
    """Save the names: two that are exchanged must not stand in each other's way."""
    for row in changed:
        checked(row, exclude=("mold", "ident"))
        Cavity._meta.get_field("ident").clean(row.ident, row)
    for n, row in enumerate(changed):
        # a name that nobody can type, for as long as it takes to give all of them theirs
        Cavity.objects.filter(pk=row.pk).update(ident=f"\x1f{n}")
    Cavity.objects.bulk_update(changed, ["ident", "part"])
    Cavity.objects.bulk_create(added)


def _words(cavities: Mapping[str, str]) -> str:
    return ", ".join(f"{ident} ({part})" if part else ident for ident, part in cavities.items())
