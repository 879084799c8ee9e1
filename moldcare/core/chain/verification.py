"""Checks a chain from its stored rows alone, and names the first place that does not fit."""

import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import NamedTuple, TypeAlias

from moldcare.core.chain.canonical import JsonValue, canonical_bytes, content_hash, parsed
from moldcare.core.chain.entry import ChainHead, EntryForm, form_1, genesis_hash
from moldcare.core.errors import NotWritable


class Fault(StrEnum):
    """What sort of difference it is; the values are stable and may be stored."""

    CHANGED = "changed"
    MISSING = "missing"
    NOT_IN_ORDER = "not_in_order"
    NOT_CANONICAL = "not_canonical"
    UNKNOWN_FORM = "unknown_form"


@dataclass(frozen=True, kw_only=True, slots=True)
class Difference:
    """The place where a chain does not fit.

    Parameters
    ----------
    chain_kind, chain_label : str
        The chain.
    number : int
        The entry, by the number where it stands or should stand.
    field : str
        The column, with the path inside the facts where it is one of them.
    fault : Fault
        What sort.
    expected, found : str
        What was hashed, and what is there now.
    """

    chain_kind: str
    chain_label: str
    number: int
    field: str
    fault: Fault
    expected: str = ""
    found: str = ""

    def __str__(self) -> str:
        """Say the difference as one English sentence."""
        chain = f"{self.chain_kind} {self.chain_label}".strip()
        place = f"{chain}, entry {self.number}"
        match self.fault:
            case Fault.MISSING:
                what = "" if self.field == "number" else f" {self.field}"
                return f"{place}:{what} missing."
            case Fault.UNKNOWN_FORM:
                return f"{place}: written in form {self.found}, which this version does not know."
            case Fault.NOT_IN_ORDER:
                return f"{place}: number {self.found} stands where {self.expected} belongs."
            case Fault.NOT_CANONICAL:
                return f"{place}: the bytes that were hashed are not canonical JSON."
            case _:
                return f"{place}: {self.field} is {self.found!r}; {self.expected!r} was written."


@dataclass(frozen=True, kw_only=True, slots=True)
class StoredEntry:
    """One row as it is read back, from the database or from an exported file.

    Parameters
    ----------
    form, chain_kind, chain_label, number, kind, happened_at, written_at, author_id, author_name
        The columns: see `EntryForm`.
    meaning, sentence, corrects, previous_hash
        More of them.
    facts_text : str
        The facts' column.
    canonical : str
        The stored text that was hashed.
    hash : str
        The stored hash.
    """

    form: int
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
    facts_text: str
    corrects: int | None
    previous_hash: str
    canonical: str
    hash: str


FormOf: TypeAlias = Callable[[StoredEntry], Mapping[str, JsonValue]]


def stored_form_1(row: StoredEntry) -> dict[str, JsonValue]:
    """Spell the columns of a row by form 1, composing nothing.

    Parameters
    ----------
    row : StoredEntry
        One row.

    Returns
    -------
    dict
        To be compared with what was hashed.

    Raises
    ------
    NotWritable
        If its facts are no JSON, or an instant has no zone.
    """
    entry = EntryForm(
        form=row.form,
        chain_kind=row.chain_kind,
        chain_label=row.chain_label,
        number=row.number,
        kind=row.kind,
        happened_at=row.happened_at,
        written_at=row.written_at,
        author_id=row.author_id,
        author_name=row.author_name,
        meaning=row.meaning,
        sentence=row.sentence,
        facts={},
        corrects=row.corrects,
        previous_hash=row.previous_hash,
    )
    return form_1(entry, facts=parsed(row.facts_text))


FORMS: Mapping[int, FormOf] = {1: stored_form_1}


def verify_chain(
    rows: Iterable[StoredEntry],
    *,
    chain_kind: str,
    chain_label: str,
    heads: Sequence[ChainHead] = (),
    forms: Mapping[int, FormOf] = FORMS,
) -> Difference | None:
    """Find the first place where a chain is not what was written.

    Parameters
    ----------
    rows : iterable of StoredEntry
        All rows of the chain in the order of their numbers; may be empty; read once.
    chain_kind, chain_label : str
        The chain they are stored under.
    heads : sequence of ChainHead
        What sealed months say of this chain: the only way to miss entries at its end.
    forms : mapping
        The forms that are known, by number.

    Returns
    -------
    Difference or None
        None if all is whole.

    Notes
    -----
    For each row: its number follows, its columns spell exactly the stored canonical text, the
    SHA-256 of that text is the stored hash, and it names the hash before it. An entry of an
    unknown form has its bytes and links checked, and is then named.
    """
    sealed: dict[int, list[str]] = {}
    for head in heads:
        if (head.chain_kind, head.chain_label) == (chain_kind, chain_label):
            sealed.setdefault(head.number, []).append(head.hash)
    previous_hash = genesis_hash(chain_kind=chain_kind, chain_label=chain_label)
    number = 0
    found: _Found | None = None
    for row in rows:
        number += 1
        found = (
            _out_of_place(row, number=number, chain_kind=chain_kind, chain_label=chain_label)
            or _altered(row, forms=forms)
            or _unlinked(row, previous_hash=previous_hash, sealed_hashes=sealed.get(number, []))
        )
        if found is None and row.form not in forms:
            found = _Found("form", Fault.UNKNOWN_FORM, "", row.form)
        if found is not None:
            break
        previous_hash = row.hash
    if found is None and max(sealed, default=0) > number:
        number += 1
        found = _Found("number", Fault.MISSING, number, "")
    if found is None:
        return None
    return Difference(
        chain_kind=chain_kind,
        chain_label=chain_label,
        number=number,
        field=found.field,
        fault=found.fault,
        expected=_shown(found.expected),
        found=_shown(found.found),
    )


class _Found(NamedTuple):
    field: str
    fault: Fault
    expected: object
    found: object


_NOTHING = object()


def _out_of_place(
    row: StoredEntry, *, number: int, chain_kind: str, chain_label: str
) -> _Found | None:
    if row.number != number:
        fault = Fault.MISSING if row.number > number else Fault.NOT_IN_ORDER
        return _Found("number", fault, number, row.number)
    if row.chain_kind != chain_kind:
        return _Found("chain.kind", Fault.CHANGED, chain_kind, row.chain_kind)
    if row.chain_label != chain_label:
        return _Found("chain.label", Fault.CHANGED, chain_label, row.chain_label)
    return None


def _altered(row: StoredEntry, *, forms: Mapping[int, FormOf]) -> _Found | None:
    """Compare a row's columns, its canonical text and its hash; the odd one out is named."""
    text = row.canonical.encode("utf-8", "surrogatepass")
    text_is_hashed = content_hash(text) == row.hash
    hashed = _read(row.canonical)
    form_of = forms.get(row.form) or forms.get(_form_number(hashed))
    if form_of is None:
        return (
            None if text_is_hashed else _Found("hash", Fault.CHANGED, content_hash(text), row.hash)
        )
    try:
        stored: JsonValue = dict(form_of(row))
        spelled = canonical_bytes(stored)
    except NotWritable as error:
        field = "facts" if _read(row.facts_text) is _NOTHING else "happened_at, written_at"
        return _Found(field, Fault.CHANGED, "what can be hashed", str(error))
    if spelled == text and text_is_hashed:
        return None
    if not text_is_hashed and content_hash(spelled) == row.hash:
        return _Found("canonical", Fault.CHANGED, spelled.decode(), row.canonical)
    if spelled == text:
        return _Found("hash", Fault.CHANGED, content_hash(text), row.hash)
    if hashed is _NOTHING:
        return _Found("canonical", Fault.NOT_CANONICAL, spelled.decode(), row.canonical)
    for field, expected, found in _differences(hashed, stored, path=""):
        return _Found(field, Fault.CHANGED, expected, found)
    return _Found("canonical", Fault.NOT_CANONICAL, spelled.decode(), row.canonical)


def _unlinked(
    row: StoredEntry, *, previous_hash: str, sealed_hashes: Sequence[str]
) -> _Found | None:
    if row.previous_hash != previous_hash:
        return _Found("previous_hash", Fault.CHANGED, previous_hash, row.previous_hash)
    for sealed_hash in sealed_hashes:
        if sealed_hash != row.hash:
            return _Found("hash", Fault.CHANGED, sealed_hash, row.hash)
    return None


def _read(text: str) -> object:
    try:
        return parsed(text)
    except NotWritable:
        return _NOTHING


def _form_number(hashed: object) -> int:
    form = hashed.get("form") if isinstance(hashed, dict) else None
    return form if isinstance(form, int) else 0


def _differences(
    expected: object, found: object, *, path: str
) -> Iterator[tuple[str, object, object]]:
    """Walk two values side by side; true is not 1 here, and null is not "not there"."""
    if isinstance(expected, dict) and isinstance(found, dict):
        for key in sorted(expected.keys() | found.keys()):
            yield from _differences(
                expected.get(key, _NOTHING),
                found.get(key, _NOTHING),
                path=f"{path}.{key}" if path else key,
            )
    elif isinstance(expected, list) and isinstance(found, list):
        for at in range(max(len(expected), len(found))):
            yield from _differences(
                expected[at] if at < len(expected) else _NOTHING,
                found[at] if at < len(found) else _NOTHING,
                path=f"{path}[{at}]",
            )
    elif type(expected) is not type(found) or expected != found:
        yield path, expected, found


def _shown(value: object) -> str:
    if value is _NOTHING:
        return "nothing"
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)


def verify_photos(
    rows: Iterable[StoredEntry], *, stored_hashes: Mapping[str, str]
) -> Difference | None:
    """Find the first photo whose stored bytes are gone or are not those of its entry.

    Parameters
    ----------
    rows : iterable of StoredEntry
        Entries, of any chains.
    stored_hashes : mapping
        From the hash under which a photo is kept to the hash its bytes have now.

    Returns
    -------
    Difference or None
        None if every photo named in the facts (see `photo_fact`) is there and whole.
    """
    for row in rows:
        for path, photo in _photos(_read(row.facts_text), path="facts"):
            expected = str(photo["sha256"])
            found = stored_hashes.get(expected)
            if found != expected:
                return Difference(
                    chain_kind=row.chain_kind,
                    chain_label=row.chain_label,
                    number=row.number,
                    field=f"{path} ({photo['photo']})",
                    fault=Fault.MISSING if found is None else Fault.CHANGED,
                    expected=expected,
                    found=found or "",
                )
    return None


def _photos(value: object, *, path: str) -> Iterator[tuple[str, dict[str, object]]]:
    if isinstance(value, dict):
        if "photo" in value and "sha256" in value:
            yield path, value
            return
        for key, each in value.items():
            yield from _photos(each, path=f"{path}.{key}")
    elif isinstance(value, list):
        for at, each in enumerate(value):
            yield from _photos(each, path=f"{path}[{at}]")
