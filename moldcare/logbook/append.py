"""Appending to a chain: the one place where entries are written."""

from collections.abc import Mapping
from datetime import datetime

from django.db import connection

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
