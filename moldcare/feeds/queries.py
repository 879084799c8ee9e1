"""Questions about files that came in, and which of ours they name."""

import hashlib
from collections.abc import Iterable, Mapping, Sequence

from django.db.models import Count, QuerySet

from moldcare.counters.models import Counter
from moldcare.counters.queries import LARGEST_KEY
from moldcare.feeds.models import ColumnMatch, ImportBatch, ImportRow, Upload
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


def remembered_meanings(rows: Iterable[Sequence[str]]) -> dict[str, Meaning]:
    """Return what headings meant the last time, if one of the rows is such a row of headings."""
    row = ColumnMatch.objects.filter(
        kind=ImportBatch.Kind.READINGS, headings__in={headings_hash(cells) for cells in rows}
    ).first()
    meanings = row.meanings if row is not None else {}
    return {words: Meaning(meaning) for words, meaning in meanings.items()}


def earlier_batch(sha256: str) -> ImportBatch | None:
    """Return when a file with these bytes was brought in last."""
    rows = ImportBatch.objects.select_related("person").filter(sha256=sha256)
    return rows.order_by("-id").first()


def batches() -> QuerySet[ImportBatch]:
    """Return what was brought in, newest first, with how many rows were kept for mending."""
    return ImportBatch.objects.select_related("person").annotate(kept=Count("rows")).order_by("-id")


def batch_numbered(number: int) -> ImportBatch | None:
    """Return an import by its number."""
    if number > LARGEST_KEY:
        return None
    return ImportBatch.objects.select_related("person").filter(pk=number).first()


def kept_rows(batch: ImportBatch) -> QuerySet[ImportRow]:
    """Return the rows of an import that were kept for mending, in the file's order."""
    return ImportRow.objects.filter(batch=batch).order_by("row", "id")


def upload_of(person: Person, *, number: int) -> Upload | None:
    """Return a file that a person is looking at before it is brought in."""
    if number > LARGEST_KEY:
        return None
    return Upload.objects.filter(pk=number, person=person).first()


def importers() -> QuerySet[Person]:
    """Return everybody in service who leads or manages: who may bring in files."""
    return Person.objects.filter(
        is_active=True, role__in=(Person.Role.LEAD, Person.Role.MANAGER)
    ).order_by("pk")
