"""Whether an archive fits the tables that this version of the program has."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from django.db import models
from django.utils.translation import gettext as _

from moldcare.feeds.archive.errors import ArchiveRefused
from moldcare.feeds.archive.manifest import Manifest, TableLine, migrations_now
from moldcare.feeds.archive.tables import ArchiveTable, Column, archive_tables, left_out
from moldcare.plant.models import Rate
from moldcare.plant.queries import the_plant
from moldcare.work.models import Handover

#: Columns that came later and take no default: what they hold of rows from before, as the
#: migration that brought them says too. Asked once the tables before theirs were read.
_OF_OLDER_ROWS: Final[Mapping[tuple[type[models.Model], str], Callable[[], Any]]] = {
    (Rate, "currency"): lambda: the_plant().currency
}
#: Columns that went before anything was written into their tables.
_GONE_WHILE_EMPTY: Final = frozenset({(Handover, "taken_by_id")})


@dataclass(frozen=True, kw_only=True, slots=True)
class TableToRead:
    """A table of ours, what the archive says of it, and what gives the columns that it lacks."""

    table: ArchiveTable
    line: TableLine
    filled: Mapping[str, Callable[[], Any]]


@dataclass(frozen=True, kw_only=True, slots=True)
class Fit:
    """The tables to read, and what an older archive did not know yet.

    Of `left_empty` there is nothing to read: they had no row and have other columns now.
    """

    tables: tuple[TableToRead, ...]
    left_empty: tuple[TableLine, ...]
    new_tables: tuple[str, ...]
    new_columns: tuple[str, ...]


def fit(manifest: Manifest) -> Fit:
    """Match the archive's tables and columns with ours.

    An older archive may lack tables and columns: they stay empty or take their defaults, and that
    is said. Of our own form it lacks nothing. A newer one is refused.

    Raises
    ------
    ArchiveRefused
        If it is newer, lacks something, or holds what is none of ours.
    """
    is_older = _is_older(manifest)
    lines = {line.table: line for line in manifest.tables}
    found: list[TableToRead] = []
    left_empty: list[TableLine] = []
    new_tables: list[str] = []
    new_columns: list[str] = []
    for table in archive_tables():
        line = lines.pop(table.label, None)
        if line is None:
            if not is_older:
                raise _lacks(table.label)
            new_tables.append(table.label)
            continue
        if line.file != table.path or len(set(line.columns)) < len(line.columns):
            raise _lacks(table.path)
        strange = sorted(set(line.columns) - set(table.names))
        if (
            strange
            and line.rows == 0
            and {(table.model, each) for each in strange} <= _GONE_WHILE_EMPTY
        ):
            left_empty.append(line)
            continue
        if strange:
            raise _strange(f"{table.label}.{strange[0]}")
        missing = [field for field in table.columns if field.attname not in line.columns]
        if missing and not is_older:
            raise _lacks(f"{table.label}.{missing[0].attname}")
        new_columns += [f"{table.label}.{field.attname}" for field in missing]
        filled = {str(field.attname): _of_older_rows(field, table=table) for field in missing}
        filled |= {name: _always(value) for name, value in left_out(table).items()}
        found.append(TableToRead(table=table, line=line, filled=filled))
    if lines:
        raise _strange(min(lines))
    return Fit(
        tables=tuple(found),
        left_empty=tuple(left_empty),
        new_tables=tuple(new_tables),
        new_columns=tuple(new_columns),
    )


def _is_older(manifest: Manifest) -> bool:
    ours = {(app, name) for app, names in migrations_now().items() for name in names}
    theirs = {(app, name) for app, names in manifest.migrations.items() for name in names}
    newer = sorted(theirs - ours)
    if newer:
        raise ArchiveRefused(
            _(
                "The archive was written by another, newer version of the program: this one does "
                "not know %(what)s. Update the program first; nothing was written."
            )
            % {"what": " ".join(newer[0])}
        )
    return bool(ours - theirs)


def _of_older_rows(field: Column, *, table: ArchiveTable) -> Callable[[], Any]:
    """Return what gives a column of rows that were written before it was there."""
    known = _OF_OLDER_ROWS.get((table.model, field.name))
    if known is not None:
        return known
    if field.has_default():
        return field.get_default
    if field.null:
        return _always(None)
    if isinstance(field, (models.CharField, models.TextField)) and field.blank:
        return _always("")
    raise _lacks(f"{table.label}.{field.attname}")


def _always(value: Any) -> Callable[[], Any]:
    return lambda: value


def _lacks(what: str) -> ArchiveRefused:
    return ArchiveRefused(_("The archive lacks %(what)s. Nothing was written.") % {"what": what})


def _strange(what: str) -> ArchiveRefused:
    return ArchiveRefused(
        _("The archive holds %(what)s, which this program has not. Nothing was written.")
        % {"what": what}
    )
