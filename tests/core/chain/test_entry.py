"""What is hashed when an entry is written."""

import hashlib
import json
from dataclasses import fields, replace
from datetime import timedelta, timezone

import pytest

from moldcare.core.chain import EntryForm, entry_hash, genesis_hash, photo_fact, prepare_entry
from moldcare.core.errors import NotWritable
from tests.core.chain.builders import FIRST_WRITTEN_AT, entry_form


def test_hash_is_sha_256_of_the_bytes_that_are_stored() -> None:
    prepared = prepare_entry(entry_form())
    assert prepared.hash == hashlib.sha256(prepared.canonical).hexdigest()
    assert json.loads(prepared.canonical)["previous_hash"] == entry_form().previous_hash
    assert "hash" not in json.loads(prepared.canonical)


def test_canonical_bytes_of_form_1_never_change() -> None:
    """Spelled by hand from the description of form 1; older entries hang on it."""
    entry = replace(entry_form(), facts={"order": 2214}, previous_hash="0" * 64)
    assert prepare_entry(entry).canonical.decode() == (
        '{"author":{"id":7,"name":"Ines Vogt"},"chain":{"kind":"mold","label":"0417"},'
        '"corrects":null,"facts":{"order":2214},"form":1,'
        '"happened_at":"2026-11-03T13:25:09.123456Z","kind":"signed","meaning":"done","number":1,'
        f'"previous_hash":"{"0" * 64}","sentence":"Vents bench cleaned. Found heavy.",'
        '"written_at":"2026-11-03T14:05:09.123456Z"}'
    )


CHANGES = {
    "chain_kind": "auxiliary",
    "chain_label": "0418",
    "number": 2,
    "kind": "moved",
    "happened_at": FIRST_WRITTEN_AT,
    "written_at": FIRST_WRITTEN_AT + timedelta(microseconds=1),
    "author_id": 8,
    "author_name": "Ines Voigt",
    "meaning": "checked",
    "sentence": "Vents bench cleaned. Found light.",
    "facts": {},
    "previous_hash": "1" * 64,
}


def test_every_field_has_a_change_to_try() -> None:
    assert {field.name for field in fields(EntryForm)} - {"form", "corrects"} == set(CHANGES)


@pytest.mark.parametrize("field", CHANGES)
def test_every_field_is_inside_the_hash(field: str) -> None:
    entry = entry_form()
    assert entry_hash(replace(entry, **{field: CHANGES[field]})) != entry_hash(entry)  # type: ignore[arg-type]


def test_what_it_corrects_is_inside_the_hash() -> None:
    entry = entry_form(number=5)
    assert entry_hash(replace(entry, corrects=4)) != entry_hash(entry)


def test_zone_of_an_instant_is_not_inside_the_hash() -> None:
    two_ahead = timezone(timedelta(hours=2))
    entry = entry_form()
    moved = replace(entry, written_at=entry.written_at.astimezone(two_ahead))
    assert entry_hash(moved) == entry_hash(entry)


def test_columns_to_store_are_the_composed_ones() -> None:
    prepared = prepare_entry(entry_form(author_name="Mu\u0308ller"))
    assert prepared.entry.author_name == "M\u00fcller"
    assert prepare_entry(prepared.entry) == prepared


def test_genesis_differs_by_kind_and_label() -> None:
    chains = [("mold", "0417"), ("auxiliary", "0417"), ("mold", "0418"), ("plant", "")]
    hashes = {genesis_hash(chain_kind=kind, chain_label=label) for kind, label in chains}
    assert len(hashes) == len(chains)


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ({"form": 2}, "form 1"),
        ({"number": 0}, "numbered from 1"),
        ({"number": 3, "corrects": 3}, "earlier one"),
        ({"previous_hash": ""}, "hash of the entry before"),
        ({"facts": {"rise_k": 2.5}}, r"facts\.rise_k is a float"),
    ],
)
def test_entry_that_makes_no_sense_is_refused(changes: dict[str, object], named: str) -> None:
    with pytest.raises(NotWritable, match=named):
        prepare_entry(entry_form(**changes))


def test_photo_without_its_hash_is_refused() -> None:
    with pytest.raises(NotWritable, match=r"vent\.jpg"):
        photo_fact(name="vent.jpg", content_sha256="ABC")
