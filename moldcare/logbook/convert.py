"""Rows of the logbook as the core's values."""

from collections.abc import Iterable, Iterator
from typing import Any

from django.db.models import QuerySet

from moldcare.core.chain import ChainHead, StoredEntry, StoredSeal
from moldcare.logbook.models import Chain, Entry, Seal

_COLUMNS = (
    "form",
    "chain__kind",
    "chain__label",
    "number",
    "kind",
    "happened_at",
    "written_at",
    "author_id",
    "author_name",
    "meaning",
    "sentence",
    "facts",
    "corrects__number",
    "previous_hash",
    "canonical",
    "hash",
)
_CHUNK = 2000


def stored_entries(entries: QuerySet[Entry]) -> Iterator[StoredEntry]:
    """Read entries as they are stored, a few at a time, however many there are."""
    rows: Iterable[tuple[Any, ...]] = entries.values_list(*_COLUMNS).iterator(chunk_size=_CHUNK)
    for row in rows:
        yield StoredEntry(
            form=row[0],
            chain_kind=row[1],
            chain_label=row[2],
            number=row[3],
            kind=row[4],
            happened_at=row[5],
            written_at=row[6],
            author_id=row[7],
            author_name=row[8],
            meaning=row[9],
            sentence=row[10],
            facts_text=row[11],
            corrects=row[12],
            previous_hash=row[13],
            canonical=row[14],
            hash=row[15],
        )


def stored_seal(seal: Seal) -> StoredSeal:
    """Return a seal as it is stored; its column of heads holds the text that was hashed."""
    return StoredSeal(month=seal.month, canonical=seal.heads, hash=seal.hash)


def chain_head(chain: Chain, *, entry: Entry) -> ChainHead:
    """Return a chain's head."""
    return ChainHead(
        chain_kind=chain.kind, chain_label=chain.label, number=entry.number, hash=entry.hash
    )
