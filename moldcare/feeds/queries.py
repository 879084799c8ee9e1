"""Questions about files that came in, and which of ours they name."""

import hashlib
from collections.abc import Iterable, Mapping, Sequence

from django.db.models import Count, Exists, OuterRef, QuerySet

from moldcare.counters.models import Counter
from moldcare.counters.queries import LARGEST_KEY
from moldcare.feeds.models import (
    BroughtIn,
    ColumnMatch,
    ImportBatch,
    ImportRow,
    ImportUndone,
    RowMended,
    Upload,
)
from moldcare.feeds.tables import Matcher, Meaning, matcher
from moldcare.feeds.tables.text import clean
from moldcare.molds.models import Mold
from moldcare.plant.models import Person, Spot

#: How an answer begins that says which of ours a text means: "is:mold:4711" = "0417".
ASSIGNED = "is"


def matchers(answers: Mapping[str, str] | None = None) -> dict[str, Matcher]:
    """Return what finds our molds, counters and presses by their names, three queries in all.

    `answers` may say which of ours a text means.
    """
    molds = list(
        Mold.objects.filter(withdrawn_at__isnull=True).order_by().values_list("pk", "number")
    )
    counters = list(Counter.objects.order_by().values_list("pk", "label"))
    spots = list(Spot.objects.filter(kind=Spot.Kind.PRESS).order_by())
    # lists name a press by its number alone, or with the word before it
    presses = [(spot.pk, name) for spot in spots for name in (spot.number, _with_word(spot))]
    return {
        kind: matcher(ours, assigned=_assigned(kind, ours=ours, answers=answers or {}))
        for kind, ours in (("mold", molds), ("counter", counters), ("press", presses))
    }


def _with_word(spot: Spot) -> str:
    return f"press {spot.number}"


def _assigned(
    kind: str, *, ours: Iterable[tuple[int, str]], answers: Mapping[str, str]
) -> dict[str, int]:
    find = matcher(ours)
    found: dict[str, int] = {}
    for key, text in answers.items():
        first, _colon, rest = key.partition(":")
        about, _colon, name = rest.partition(":")
        match = find(text) if first == ASSIGNED and about == kind else None
        if match is not None and not isinstance(match, tuple):
            found[name] = match.key
    return found


def headings_hash(cells: Iterable[str]) -> str:
    """Return what a row of headings is remembered by."""
    names = [" ".join(clean(cell).split()) for cell in cells]
    return hashlib.sha256("\n".join(names).rstrip("\n").encode()).hexdigest()


def remembered_meanings(
    rows: Iterable[Sequence[str]], *, kind: str = ImportBatch.Kind.READINGS
) -> dict[str, Meaning]:
    """Return what headings meant the last time, if one of the rows is such a row of headings."""
    row = ColumnMatch.objects.filter(
        kind=kind, headings__in={headings_hash(cells) for cells in rows}
    ).first()
    meanings = row.meanings if row is not None else {}
    return {words: Meaning(meaning) for words, meaning in meanings.items()}


def earlier_batch(sha256: str, *, kind: str = ImportBatch.Kind.READINGS) -> ImportBatch | None:
    """Return when a file with these bytes was brought in last and not taken back since."""
    rows = ImportBatch.objects.select_related("person").filter(sha256=sha256, kind=kind)
    return rows.filter(undone=None).order_by("-id").first()


def batches(*, kind: str = ImportBatch.Kind.READINGS) -> QuerySet[ImportBatch]:
    """Return what was brought in, newest first, with how many rows were kept for mending."""
    rows = ImportBatch.objects.filter(kind=kind).select_related("person", "undone")
    return rows.annotate(kept=Count("rows")).order_by("-id")


def batch_numbered(number: int) -> ImportBatch | None:
    """Return an import by its number."""
    if number > LARGEST_KEY:
        return None
    rows = ImportBatch.objects.select_related("person", "undone__person")
    return rows.filter(pk=number).first()


def rows_to_mend() -> QuerySet[ImportRow]:
    """Return the rows of all imports that wait to be mended, oldest import first."""
    mended = RowMended.objects.filter(row=OuterRef("pk"), batch__undone=None)
    rows = ImportRow.objects.filter(~Exists(mended)).select_related("batch")
    return rows.order_by("batch", "row", "id")


def kept_rows(batch: ImportBatch) -> QuerySet[ImportRow]:
    """Return the rows of an import that wait to be mended, in the file's order."""
    return rows_to_mend().filter(batch=batch)


def kept_row(number: int) -> ImportRow | None:
    """Return a row that was kept for mending, mended since or not."""
    if number > LARGEST_KEY:
        return None
    rows = ImportRow.objects.select_related("batch__undone")
    return rows.filter(pk=number).first()


def mended_by(row: ImportRow) -> ImportBatch | None:
    """Return the import by which a kept row was mended, None while it waits."""
    done = RowMended.objects.select_related("batch").filter(row=row, batch__undone=None).first()
    return None if done is None else done.batch


def mends_of(batch: ImportBatch) -> list[RowMended]:
    """Return the rows of other imports that an import mended."""
    return list(RowMended.objects.filter(batch=batch).select_related("row__batch").order_by("id"))


def brought_by(batches: Iterable[ImportBatch]) -> QuerySet[BroughtIn]:
    """Return what imports brought, in the order in which it was written."""
    return BroughtIn.objects.filter(batch__in=list(batches)).order_by("id")


def with_mends(batch: ImportBatch) -> list[ImportBatch]:
    """Return an import with those by which its kept rows were mended, and not taken back since."""
    whole, last = [batch], [batch]
    while last:
        mends = RowMended.objects.filter(row__batch__in=last, batch__undone=None)
        last = [row.batch for row in mends.select_related("batch").order_by("id")]
        whole += last
    return whole


def undone_entries(*, about: ImportBatch) -> set[int]:
    """Return the entries of imports that were taken back and of their being so.

    Of other imports, those that brought something to the same molds.
    """
    molds = BroughtIn.objects.filter(batch__in=with_mends(about), mold__isnull=False)
    rows = BroughtIn.objects.filter(
        batch__undone__isnull=False, mold__in=molds.order_by().values("mold")
    )
    found = set(rows.order_by().values_list("entry_id", flat=True))
    undone = ImportUndone.objects.filter(batch__in=rows.order_by().values("batch"))
    for entries in undone.values_list("entries", flat=True):
        found.update(entries)
    return found


def upload_of(person: Person, *, number: int) -> Upload | None:
    """Return a file that a person is looking at before it is brought in."""
    if number > LARGEST_KEY:
        return None
    return Upload.objects.select_related("look").filter(pk=number, person=person).first()


def uploads_of(person: Person, *, kind: str) -> QuerySet[Upload]:
    """Return the files that a person looked at and neither brought in nor left, newest first."""
    return Upload.objects.filter(person=person, kind=kind).order_by("-id")


def importers() -> QuerySet[Person]:
    """Return everybody in service who leads or manages: who may bring in files."""
    return Person.objects.filter(
        is_active=True, role__in=(Person.Role.LEAD, Person.Role.MANAGER)
    ).order_by("pk")
