"""Reading an archive into an empty database: all of it, or nothing."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, BinaryIO
from zoneinfo import ZoneInfo

from django.core.management.color import no_style
from django.db import DatabaseError, connection, transaction
from django.utils.translation import gettext as _

from moldcare.acts.rebuild import rebuild
from moldcare.bulk import insert_values, roomy, weigh_tables
from moldcare.feeds.archive.container import (
    MANIFEST,
    MOST_FILE_BYTES,
    MOST_MANIFEST_BYTES,
    Container,
    opened_container,
)
from moldcare.feeds.archive.errors import ArchiveRefused
from moldcare.feeds.archive.fitting import Fit, TableToRead, fit
from moldcare.feeds.archive.manifest import Manifest, read_manifest
from moldcare.feeds.archive.rows import rows_in
from moldcare.feeds.archive.tables import NEED_BYTES, archive_tables, names_bytes, own_models
from moldcare.files import store
from moldcare.logbook.verify import verify_logbook
from moldcare.plant.models import Plant


@dataclass(frozen=True, kw_only=True, slots=True)
class ReadIn:
    """What was read in.

    Parameters
    ----------
    made_at : datetime
        When the archive was made.
    plant : str
    rows, derived_rows, files : int
    lost : int
        Photos that were lost before the archive was made.
    new_tables, new_columns : tuple of str
        What an older archive did not know yet: empty, or filled with defaults.
    difference : str
        Where the logbook is not whole; only where that was accepted.
    """

    made_at: datetime
    plant: str
    rows: int
    derived_rows: int
    files: int
    lost: int
    new_tables: tuple[str, ...]
    new_columns: tuple[str, ...]
    difference: str


def read_archive(
    file: BinaryIO,
    *,
    accepts_broken_logbook: bool = False,
    at_the_end: Callable[[], None] | None = None,
) -> ReadIn:
    """Read an archive into an empty database, derive what follows, and verify the logbook.

    Parameters
    ----------
    file : binary file
        Seekable.
    accepts_broken_logbook : bool
        Read it in though its chains do not verify: a plant whose logbook was changed is still
        there, and still says so.
    at_the_end : callable or None
        What else belongs into the same transaction; what it raises takes everything back.

    Raises
    ------
    ArchiveRefused
        If the database is not empty, or the archive is damaged, changed, newer than the program
        or contradicts itself. Nothing was written, and no photo put down.
    """
    with opened_container(file) as container:
        manifest = read_manifest(container.content(MANIFEST, most=MOST_MANIFEST_BYTES))
        found = fit(manifest)
        _check_bytes(container, manifest=manifest, found=found)
        put_down: list[Path] = []
        try:
            with roomy(), transaction.atomic():
                _check_empty()
                rows = sum(_fill(container, each=each) for each in found.tables)
                _check_rows(container, manifest=manifest)
                _reset_numbers()
                derived = _derive()
                difference = verify_logbook().difference
                if difference and not accepts_broken_logbook:
                    raise _not_whole(difference)
                if at_the_end is not None:
                    at_the_end()
                for sha256, name in sorted(container.files.items()):
                    put_down += _put_down(container, sha256=sha256, name=name)
        except BaseException:
            for path in put_down:
                path.unlink(missing_ok=True)
            raise
    return ReadIn(
        made_at=manifest.made_at,
        plant=manifest.plant,
        rows=rows,
        derived_rows=derived,
        files=len(container.files),
        lost=len(manifest.files_lost),
        new_tables=found.new_tables,
        new_columns=found.new_columns,
        difference=difference,
    )


def _check_bytes(container: Container, *, manifest: Manifest, found: Fit) -> None:
    """Hash every file of the archive, before anything of it is believed."""
    lines = [*(each.line for each in found.tables), *found.left_empty]
    for line in lines:
        if container.sha256(line.file) != line.sha256:
            raise _changed(line.file)
    for line in found.left_empty:
        with container.opened(line.file) as stream:
            if stream.read(1):
                raise _changed(line.file)
    strange = container.tables - {line.file for line in lines}
    if strange:
        raise ArchiveRefused(
            _("The archive holds %(name)s, which its manifest does not name. Nothing was written.")
            % {"name": min(strange)}
        )
    for sha256, name in container.files.items():
        if container.sha256(name) != sha256:
            raise _changed(name)
    if len(container.files) != manifest.files_count:
        raise ArchiveRefused(
            _("The archive holds %(there)d photos and says %(said)d. Nothing was written.")
            % {"there": len(container.files), "said": manifest.files_count}
        )


def _check_empty() -> None:
    for model in own_models():
        if model._base_manager.exists():
            raise ArchiveRefused(
                _(
                    "The database is not empty: it has rows of %(table)s. An archive is read into "
                    "a new one only: name another in DATABASE_URL, with a MOLDCARE_DATA of its "
                    "own, and run manage.py migrate there. Nothing was written."
                )
                % {"table": model._meta.verbose_name_plural}
            )


def _fill(container: Container, *, each: TableToRead) -> int:
    """Write the rows of a table, and return how many."""
    names = [*each.line.columns, *each.filled]
    with container.opened(each.line.file) as stream:
        found = rows_in(stream, table=each.table, names=each.line.columns)
        try:
            more = [value() for value in each.filled.values()]
            rows = insert_values(each.table.model, names, _with(found, more=more))
        except (DatabaseError, OverflowError, UnicodeEncodeError) as error:
            raise _cannot_stand(each.line.file, why=error) from None
        if rows != each.line.rows:
            raise ArchiveRefused(
                _("%(file)s has %(there)d rows and says %(said)d. Nothing was written.")
                % {"file": each.line.file, "there": rows, "said": each.line.rows}
            )
    return rows


def _with(found: Iterator[Sequence[Any]], *, more: Sequence[Any]) -> Iterator[Sequence[Any]]:
    if not more:
        return found
    return ([*row, *more] for row in found)


def _check_rows(container: Container, *, manifest: Manifest) -> None:
    """Look whether the rows fit together, and whether the bytes that they name are there."""
    try:
        connection.check_constraints()
    except DatabaseError as error:
        raise _cannot_stand(_("the archive"), why=error) from None
    named: set[str] = set()
    for table in archive_tables():
        if not names_bytes(table):
            continue
        for sha256 in table.model._base_manager.values_list("sha256", flat=True).iterator():
            named.add(sha256)
            is_there = sha256 in container.files or sha256 in manifest.files_lost
            if table.model in NEED_BYTES and not is_there:
                raise ArchiveRefused(
                    _("The archive lacks the file %(sha256)s. Nothing was written.")
                    % {"sha256": sha256[:64]}
                )
    strange = container.files.keys() - named
    if strange:
        raise ArchiveRefused(
            _("The archive holds %(name)s, which nothing in it names. Nothing was written.")
            % {"name": container.files[min(strange)]}
        )
    for zone in Plant.objects.values_list("zone", flat=True):
        try:
            ZoneInfo(zone)
        except (LookupError, OSError, ValueError):
            raise _cannot_stand("plant.Plant.zone", why=ValueError(zone)) from None


def _reset_numbers() -> None:
    """Let new rows get numbers after those that came."""
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), own_models()):
            cursor.execute(statement)


def _derive() -> int:
    weigh_tables()
    try:
        return rebuild()
    # whatever rows of strangers make of the derivation, it is theirs and not ours
    except Exception as error:
        raise _cannot_stand(_("what follows from the archive"), why=error) from error


def _put_down(container: Container, *, sha256: str, name: str) -> list[Path]:
    """Put a file into the store, and return where it lies unless it was there before."""
    path = store.path_of(sha256)
    if store.hash_now(sha256) == sha256:
        return []
    path.unlink(missing_ok=True)
    store.put(container.content(name, most=MOST_FILE_BYTES))
    return [path]


def _changed(name: str) -> ArchiveRefused:
    return ArchiveRefused(
        _("The archive was changed: %(name)s has another SHA-256. Nothing was written.")
        % {"name": name}
    )


def _cannot_stand(what: str, *, why: Exception) -> ArchiveRefused:
    said = (str(why).strip().splitlines() or [type(why).__name__])[0].rstrip(".")
    return ArchiveRefused(
        _("%(what)s cannot stand as it is: %(why)s. Nothing was written.")
        % {"what": what, "why": said}
    )


def _not_whole(difference: str) -> ArchiveRefused:
    return ArchiveRefused(
        _("The logbook in the archive is not whole. %(difference)s Nothing was written.")
        % {"difference": difference}
    )
