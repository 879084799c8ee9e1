"""What an entry is, its fixed form by number, and its hash."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from moldcare.core.chain.canonical import (
    JsonValue,
    canonical_bytes,
    content_hash,
    instant_text,
    normal_facts,
    normal_text,
)
from moldcare.core.errors import NotWritable

CURRENT_FORM = 1

_SHA256 = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, kw_only=True, slots=True)
class EntryForm:
    """One entry as it is signed: every field is inside the hash.

    Parameters
    ----------
    form : int
        Number of the form by which the entry is spelled; 1 is the only one so far.
    chain_kind, chain_label : str
        The chain. They never change, for they are hashed; two chains of one kind need two labels.
    number : int
        1 for the first of its chain, then without a gap.
    kind : str
        What sort of thing was done, as a short stable word.
    happened_at, written_at : datetime
        When it was done and when it was written, aware.
    author_id : int
        Who wrote it.
    author_name : str
        Their name as it was then.
    meaning : str
        What the signature means: done, checked, accepted, or empty where none was asked for.
    sentence : str
        The entry in words.
    facts : mapping
        The entry in figures: what `normal_value` takes.
    corrects : int or None
        Number of the entry of the same chain that this one corrects.
    previous_hash : str
        Hash of the entry before, or the chain's `genesis_hash`.
    """

    form: int = CURRENT_FORM
    chain_kind: str
    chain_label: str
    number: int
    kind: str
    happened_at: datetime
    written_at: datetime
    author_id: int
    author_name: str
    meaning: str
    sentence: str
    facts: Mapping[str, object]
    corrects: int | None = None
    previous_hash: str


@dataclass(frozen=True, kw_only=True, slots=True)
class PreparedEntry:
    """An entry ready to be stored: columns and hashed bytes agree.

    Parameters
    ----------
    entry : EntryForm
        With texts composed: store these columns, not those that were handed in.
    facts_text : str
        Canonical JSON of the facts, for their column.
    canonical : bytes
        What is hashed.
    hash : str
        SHA-256 of it.
    """

    entry: EntryForm
    facts_text: str
    canonical: bytes
    hash: str


@dataclass(frozen=True, kw_only=True, slots=True)
class ChainHead:
    """The newest entry of a chain at some instant; number 0 and the genesis hash when empty.

    Parameters
    ----------
    chain_kind, chain_label : str
        The chain.
    number : int
        Of its newest entry.
    hash : str
        Of its newest entry.
    """

    chain_kind: str
    chain_label: str
    number: int
    hash: str


def genesis_hash(*, chain_kind: str, chain_label: str) -> str:
    """Give what stands as previous hash in the first entry of a chain.

    Parameters
    ----------
    chain_kind, chain_label : str
        The chain: each has its own value, so a first entry cannot be moved to another chain.

    Returns
    -------
    str
        64 hexadecimal digits.

    Examples
    --------
    >>> genesis_hash(chain_kind="plant", chain_label="") == genesis_hash(
    ...     chain_kind="mold", chain_label="")
    False
    """
    value: JsonValue = {
        "beginning_of": {"kind": normal_text(chain_kind), "label": normal_text(chain_label)},
        "form": 1,
    }
    return content_hash(canonical_bytes(value))


def photo_fact(*, name: str, content_sha256: str) -> dict[str, str]:
    """Give how a photo stands in the facts: by its name and the SHA-256 of its stored bytes.

    Parameters
    ----------
    name : str
        File name as people see it.
    content_sha256 : str
        64 hexadecimal digits, small letters.

    Returns
    -------
    dict
        To be put in the facts, at any depth; `verify_photos` finds it there.

    Raises
    ------
    NotWritable
        If the hash is not one.

    Examples
    --------
    >>> photo_fact(name="vent.jpg", content_sha256="0" * 64)["photo"]
    'vent.jpg'
    """
    if _SHA256.fullmatch(content_sha256) is None:
        raise NotWritable(f"The photo {name!r} has no SHA-256 of its bytes.")
    return {"photo": normal_text(name), "sha256": content_sha256}


def prepare_entry(entry: EntryForm) -> PreparedEntry:
    """Bring an entry to its fixed form and hash it.

    Parameters
    ----------
    entry : EntryForm
        As it was handed in.

    Returns
    -------
    PreparedEntry
        What to store.

    Raises
    ------
    NotWritable
        If a field cannot be spelled, the form is unknown, or the numbers make no sense.

    Notes
    -----
    Hash = SHA-256 (FIPS 180-4) of the canonical JSON (RFC 8785) of the entry without its hash,
    with the previous hash inside.
    """
    if entry.form != CURRENT_FORM:
        raise NotWritable(f"New entries are written in form {CURRENT_FORM}, not {entry.form}.")
    if entry.number < 1:
        raise NotWritable("Entries are numbered from 1.")
    if entry.corrects is not None and not 1 <= entry.corrects < entry.number:
        raise NotWritable("An entry corrects an earlier one of the same chain.")
    if _SHA256.fullmatch(entry.previous_hash) is None:
        raise NotWritable("The hash of the entry before is missing.")
    facts = normal_facts(entry.facts)
    spelled = replace(
        entry,
        chain_kind=normal_text(entry.chain_kind),
        chain_label=normal_text(entry.chain_label),
        kind=normal_text(entry.kind),
        author_name=normal_text(entry.author_name),
        meaning=normal_text(entry.meaning),
        sentence=normal_text(entry.sentence),
        facts=facts,
    )
    canonical = canonical_bytes(form_1(spelled, facts=facts))
    return PreparedEntry(
        entry=spelled,
        facts_text=canonical_bytes(facts).decode(),
        canonical=canonical,
        hash=content_hash(canonical),
    )


def form_1(entry: EntryForm, *, facts: JsonValue) -> dict[str, JsonValue]:
    """Give an entry as the JSON object of form 1. A change of any part of it is a new form.

    Parameters
    ----------
    entry : EntryForm
        With its texts as they are stored; nothing is composed here.
    facts : JsonValue
        Its facts, spelled.

    Returns
    -------
    dict
        What `canonical_bytes` takes.
    """
    return {
        "author": {"id": entry.author_id, "name": entry.author_name},
        "chain": {"kind": entry.chain_kind, "label": entry.chain_label},
        "corrects": entry.corrects,
        "facts": facts,
        "form": entry.form,
        "happened_at": instant_text(entry.happened_at),
        "kind": entry.kind,
        "meaning": entry.meaning,
        "number": entry.number,
        "previous_hash": entry.previous_hash,
        "sentence": entry.sentence,
        "written_at": instant_text(entry.written_at),
    }


def entry_hash(entry: EntryForm) -> str:
    """Give the hash of an entry: see `prepare_entry`.

    Parameters
    ----------
    entry : EntryForm
        As it was handed in.

    Returns
    -------
    str
        64 hexadecimal digits.
    """
    return prepare_entry(entry).hash
