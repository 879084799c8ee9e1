"""Appending to a chain: the one place where entries are written."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import connection
from django.db.models import OuterRef, Subquery

from moldcare.bulk import insert, parts
from moldcare.core.chain import EntryForm, genesis_hash, prepare_entry
from moldcare.logbook.models import Chain, Entry
from moldcare.plant.models import Person


def append_entry(
    chain: Chain,
    *,
    kind: str,
    happened_at: datetime,
    written_at: datetime,
    author: Person,
    sentence: str,
    facts: Mapping[str, object],
    meaning: str = "",
    corrects: Entry | None = None,
) -> Entry:
    """Append an entry under the chain's lock and return it. Call it inside a transaction.

    The lock is on the chain's own row, which is there before the first entry is, so two writers
    cannot both take number 1. Where rows cannot be locked, the transaction itself is the only one
    that writes.
    """
    locked = chain
    if connection.features.has_select_for_update:
        locked = Chain.objects.select_for_update(no_key=True).get(pk=chain.pk)
    head = (
        Entry.objects.filter(chain=locked).order_by("-number").values_list("number", "hash").first()
    )
    number, previous = (
        (head[0] + 1, head[1])
        if head
        else (1, genesis_hash(chain_kind=locked.kind, chain_label=locked.label))
    )
    prepared = prepare_entry(
        EntryForm(
            chain_kind=locked.kind,
            chain_label=locked.label,
            number=number,
            kind=kind,
            happened_at=happened_at,
            written_at=written_at,
            author_id=author.pk,
            author_name=author.name,
            meaning=meaning,
            sentence=sentence,
            facts=facts,
            corrects=corrects.number if corrects else None,
            previous_hash=previous,
        )
    )
    form = prepared.entry
    return Entry.objects.create(
        chain=locked,
        number=number,
        form=form.form,
        kind=form.kind,
        happened_at=happened_at,
        written_at=written_at,
        author=author,
        author_name=form.author_name,
        meaning=form.meaning,
        sentence=form.sentence,
        facts=prepared.facts_text,
        corrects=corrects,
        previous_hash=previous,
        hash=prepared.hash,
        canonical=prepared.canonical.decode(),
    )


#: Chains whose heads are read and locked at once.
CHAINS_AT_ONCE = 5_000


@dataclass(frozen=True, kw_only=True, slots=True)
class EntryDraft:
    """An entry as it is handed in among many; see `append_entry`."""

    chain: int
    kind: str
    sentence: str
    facts: Mapping[str, object]
    corrects: Entry | None = None


def append_entries(
    drafts: Sequence[EntryDraft], *, happened_at: datetime, written_at: datetime, author: Person
) -> list[int]:
    """Append many entries, each to its chain, and return their keys in the same order.

    The chains are locked in the order of their keys. Call it inside a transaction.
    """
    chains = {draft.chain for draft in drafts}
    heads = _locked_heads(chains)
    rows = []
    for draft in drafts:
        kind, label, number, previous = heads[draft.chain]
        prepared = prepare_entry(
            EntryForm(
                chain_kind=kind,
                chain_label=label,
                number=number + 1,
                kind=draft.kind,
                happened_at=happened_at,
                written_at=written_at,
                author_id=author.pk,
                author_name=author.name,
                meaning="",
                sentence=draft.sentence,
                facts=draft.facts,
                corrects=draft.corrects.number if draft.corrects else None,
                previous_hash=previous,
            )
        )
        form = prepared.entry
        heads[draft.chain] = kind, label, number + 1, prepared.hash
        rows.append(
            Entry(
                chain_id=draft.chain,
                number=number + 1,
                form=form.form,
                kind=form.kind,
                happened_at=happened_at,
                written_at=written_at,
                author=author,
                author_name=form.author_name,
                meaning=form.meaning,
                sentence=form.sentence,
                facts=prepared.facts_text,
                corrects=draft.corrects,
                previous_hash=previous,
                hash=prepared.hash,
                canonical=prepared.canonical.decode(),
            )
        )
    insert(rows)
    keys: dict[tuple[int, int], int] = {}
    for some in parts(chains, size=CHAINS_AT_ONCE):
        written = Entry.objects.filter(chain__in=some, written_at=written_at)
        keys |= {
            (chain, number): key
            for key, chain, number in written.order_by().values_list("pk", "chain_id", "number")
        }
    return [keys[(row.chain_id, row.number)] for row in rows]


def _locked_heads(chains: Iterable[int]) -> dict[int, tuple[str, str, int, str]]:
    """Lock chains; return the kind and label of each, and the number and hash of its newest."""
    newest = Entry.objects.filter(chain=OuterRef("pk")).order_by("-number")
    heads: dict[int, tuple[str, str, int, str]] = {}
    for some in parts(chains, size=CHAINS_AT_ONCE):
        rows = Chain.objects.filter(pk__in=some).order_by("pk")
        if connection.features.has_select_for_update:
            list(rows.select_for_update(no_key=True).values_list("pk"))
        for key, kind, label, number, previous in rows.annotate(
            newest_number=Subquery(newest.values("number")[:1]),
            newest_hash=Subquery(newest.values("hash")[:1]),
        ).values_list("pk", "kind", "label", "newest_number", "newest_hash"):
            first = genesis_hash(chain_kind=kind, chain_label=label)
            heads[key] = kind, label, number or 0, previous or first
    return heads


def new_chains(kind: str, labels: Sequence[str]) -> list[Chain]:
    """Make many chains, in the order of their labels; see `new_chain`."""
    taken = set(Chain.objects.filter(kind=kind).values_list("label", flat=True))
    names = []
    for label in labels:
        name, again = label, 1
        while name in taken:
            again += 1
            name = f"{label} ({again})"
        taken.add(name)
        names.append(name)
    return Chain.objects.bulk_create([Chain(kind=kind, label=name) for name in names])


def new_chain(kind: str, label: str) -> Chain:
    """Make a chain. A label that was used before gets a number behind it: labels are hashed."""
    taken = set(
        Chain.objects.filter(kind=kind, label__startswith=label).values_list("label", flat=True)
    )
    name, again = label, 1
    while name in taken:
        again += 1
        name = f"{label} ({again})"
    return Chain.objects.create(kind=kind, label=name)


def plant_chain() -> Chain:
    """Return the plant's own chain, made when it is first asked for."""
    chain, _made = Chain.objects.get_or_create(kind=Chain.Kind.PLANT, label="plant")
    return chain
