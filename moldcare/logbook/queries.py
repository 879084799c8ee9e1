"""Questions about entries, corrections, chains' heads and seals."""

from collections.abc import Iterable
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.db.models import OuterRef, QuerySet, Subquery

from moldcare.core.chain import ChainHead
from moldcare.core.shifts import local_instant
from moldcare.logbook.convert import chain_head
from moldcare.logbook.models import Chain, Entry, Seal

CORRECTION_ENTRY = "correction"
TAKEN_BACK_ENTRY = "taken_back"


def entries_of(chain: Chain) -> QuerySet[Entry]:
    """Return a chain's entries in the order written, with what corrects them."""
    return Entry.objects.filter(chain=chain).select_related("corrects").order_by("number")


def month_span(month: date, *, zone: ZoneInfo) -> tuple[datetime, datetime]:
    """Return the instants at which a month begins and ends on the plant's clocks."""
    first = month.replace(day=1)
    after = first.replace(year=first.year + first.month // 12, month=first.month % 12 + 1)
    return (
        local_instant(datetime.combine(first, datetime.min.time()), zone=zone),
        local_instant(datetime.combine(after, datetime.min.time()), zone=zone),
    )


def entries_written_in(
    month: date, *, zone: ZoneInfo, chain: Chain | None = None
) -> QuerySet[Entry]:
    """Return the entries that were written in a month, in the order written within each chain."""
    from_at, to_at = month_span(month, zone=zone)
    entries = Entry.objects.filter(written_at__gte=from_at, written_at__lt=to_at)
    if chain is not None:
        entries = entries.filter(chain=chain)
    return entries.select_related("chain", "corrects").order_by(
        "chain__kind", "chain__label", "number"
    )


def entries_listed(
    *,
    label: str = "",
    month: date | None = None,
    zone: ZoneInfo,
    kind: str = "",
    family: str = "",
    author: int | None = None,
    text: str = "",
) -> QuerySet[Entry]:
    """Return entries of all chains that fit what is asked for, the last written first.

    Parameters
    ----------
    label : str
        Of the chain: a mold's number, in any case of its letters.
    month : date or None
        Any day of the month that they were written in, on the plant's clocks.
    family : str
        The key of a care family that the entry's facts name.
    text : str
        Words of the sentence.
    """
    entries = Entry.objects.select_related("chain", "corrects")
    if label:
        entries = entries.filter(chain__label__iexact=label)
    if month is not None:
        from_at, to_at = month_span(month, zone=zone)
        entries = entries.filter(written_at__gte=from_at, written_at__lt=to_at)
    if kind:
        entries = entries.filter(kind=kind)
    if family:
        entries = entries.filter(facts__contains=f'"family":"{family}"')
    if author is not None:
        entries = entries.filter(author=author)
    if text:
        entries = entries.filter(sentence__icontains=text)
    return entries.order_by("-written_at", "-id")


def kinds_of_entries() -> list[str]:
    """Return the kinds that entries have."""
    return list(Entry.objects.order_by("kind").values_list("kind", flat=True).distinct())


def chain_labelled(label: str) -> Chain | None:
    """Return the mold's or auxiliary's chain with this label, in any case of its letters."""
    chains = Chain.objects.filter(label__iexact=label).exclude(kind=Chain.Kind.PLANT)
    return chains.order_by("-kind").first()


def corrections_of(entries: Iterable[Entry]) -> dict[int, int]:
    """Return by an entry's key the number of the entry that corrects it, in one query."""
    rows = Entry.objects.filter(corrects__in=[entry.pk for entry in entries]).order_by("-number")
    return {key: number for key, number in rows.values_list("corrects_id", "number") if key}


def heads_before(instant: datetime, *, chain: Chain | None = None) -> list[ChainHead]:
    """Return the head of each chain as of an instant: its highest number written before that.

    They stand in one order on every database, whatever it takes for the order of letters: a month
    that is printed from either has the same bytes.
    """
    chains = Chain.objects.order_by("pk")
    if chain is not None:
        chains = chains.filter(pk=chain.pk)
    newest = (
        Entry.objects.filter(chain=OuterRef("pk"), written_at__lt=instant)
        .order_by("-number")
        .values("pk")[:1]
    )
    chains = chains.annotate(newest=Subquery(newest)).filter(newest__isnull=False)
    named = {row.newest: row for row in chains}
    entries = Entry.objects.in_bulk(list(named)) if named else {}
    heads = [chain_head(row, entry=entries[pk]) for pk, row in named.items()]
    return sorted(heads, key=lambda head: (head.chain_kind, head.chain_label))


def seal_of(month: date) -> Seal | None:
    """Return the seal that closes a month, if it is closed."""
    return Seal.objects.filter(month=month.replace(day=1)).select_related("sealed_by").first()


def correction_of(entry: Entry) -> Entry | None:
    """Return the entry that corrects this one, if there is one."""
    return Entry.objects.filter(corrects=entry, kind=CORRECTION_ENTRY).order_by("number").first()


def clock_went_back(entries: QuerySet[Entry]) -> list[int]:
    """Return the numbers of entries that bear an earlier written instant than the one before."""
    found = []
    before: datetime | None = None
    for number, written_at in entries.order_by("number").values_list("number", "written_at"):
        if before is not None and written_at < before:
            found.append(number)
        before = written_at
    return found
