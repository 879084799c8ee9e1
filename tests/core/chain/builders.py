"""A small invented chain: one mold's entries as they are read back after being stored."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal

from moldcare.core.chain import (
    ChainHead,
    EntryForm,
    PreparedEntry,
    StoredEntry,
    genesis_hash,
    photo_fact,
    prepare_entry,
)

FIRST_WRITTEN_AT = datetime(2026, 11, 3, 14, 5, 9, 123456, tzinfo=UTC)


def entry_form(**changes: object) -> EntryForm:
    """One entry, realistic where nothing else is said."""
    entry = EntryForm(
        chain_kind="mold",
        chain_label="0417",
        number=1,
        kind="signed",
        happened_at=FIRST_WRITTEN_AT - timedelta(minutes=40),
        written_at=FIRST_WRITTEN_AT,
        author_id=7,
        author_name="Ines Vogt",
        meaning="done",
        sentence="Vents bench cleaned. Found heavy.",
        facts={
            "order": 2214,
            "flow_l_min": Decimal("11.80"),
            "tasks": [{"rule": "vents", "found": "heavy", "is_done": True, "left_because": None}],
            "photos": [photo_fact(name="Düse.jpg", content_sha256="ab" * 32)],
        },
        corrects=None,
        previous_hash=genesis_hash(chain_kind="mold", chain_label="0417"),
    )
    return replace(entry, **changes)  # type: ignore[arg-type]


def stored(prepared: PreparedEntry) -> StoredEntry:
    """Give the row as a database gives it back."""
    entry = prepared.entry
    return StoredEntry(
        form=entry.form,
        chain_kind=entry.chain_kind,
        chain_label=entry.chain_label,
        number=entry.number,
        kind=entry.kind,
        happened_at=entry.happened_at,
        written_at=entry.written_at,
        author_id=entry.author_id,
        author_name=entry.author_name,
        meaning=entry.meaning,
        sentence=entry.sentence,
        facts_text=prepared.facts_text,
        corrects=entry.corrects,
        previous_hash=entry.previous_hash,
        canonical=prepared.canonical.decode(),
        hash=prepared.hash,
    )


def chain_of(
    count: int, *, label: str = "0417", facts: Mapping[str, object] | None = None
) -> list[StoredEntry]:
    """Write a whole chain of that many entries, each an hour after the one before."""
    rows: list[StoredEntry] = []
    previous_hash = genesis_hash(chain_kind="mold", chain_label=label)
    for number in range(1, count + 1):
        entry = entry_form(
            chain_label=label,
            number=number,
            happened_at=FIRST_WRITTEN_AT + timedelta(hours=number),
            written_at=FIRST_WRITTEN_AT + timedelta(hours=number, minutes=2),
            sentence=f"Entry {number} of mold {label}.",
            corrects=number - 1 if number == 3 else None,
            previous_hash=previous_hash,
        )
        if facts is not None:
            entry = replace(entry, facts=facts)
        rows.append(stored(prepare_entry(entry)))
        previous_hash = rows[-1].hash
    return rows


def head_of(rows: list[StoredEntry]) -> ChainHead:
    """Give the head after the last of these rows."""
    last = rows[-1]
    return ChainHead(
        chain_kind=last.chain_kind,
        chain_label=last.chain_label,
        number=last.number,
        hash=last.hash,
    )
