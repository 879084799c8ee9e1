"""Any change of a stored chain is found and named."""

import json
from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from moldcare.core.chain import (
    ChainHead,
    Difference,
    Fault,
    StoredEntry,
    content_hash,
    prepare_entry,
    verify_chain,
    verify_photos,
)
from moldcare.core.chain.canonical import canonical_bytes, parsed
from moldcare.core.chain.verification import FORMS
from tests.core.chain.builders import chain_of, entry_form, head_of, stored


def verdict(rows: list[StoredEntry], heads: tuple[ChainHead, ...] = ()) -> Difference | None:
    return verify_chain(rows, chain_kind="mold", chain_label="0417", heads=heads)


def changed(rows: list[StoredEntry], at_number: int, **changes: object) -> list[StoredEntry]:
    return [
        replace(row, **changes) if row.number == at_number else row  # type: ignore[arg-type]
        for row in rows
    ]


@pytest.mark.parametrize("count", [0, 1, 5])
def test_untouched_chain_is_whole(count: int) -> None:
    assert verdict(chain_of(count)) is None


def test_chain_is_whole_in_any_zone_in_which_its_instants_come_back() -> None:
    local = timezone(timedelta(hours=2))
    rows = [replace(row, written_at=row.written_at.astimezone(local)) for row in chain_of(4)]
    assert verdict(rows) is None


def test_chain_is_whole_when_the_database_reorders_its_facts() -> None:
    odd_facts: dict[str, object] = {
        "z": "",
        "a": [[], {}, None, True, 1, "1", "1.0"],
        "M": {"y": 1, "x": "1e3"},
    }
    rows = [
        replace(row, facts_text=json.dumps(json.loads(row.facts_text), indent=1))
        for row in chain_of(3, facts=odd_facts)
    ]
    assert verdict(rows) is None


COLUMN_CHANGES = {
    "form": (2, "form"),
    "kind": ("moved", "kind"),
    "happened_at": (datetime(2026, 11, 3, 15, 5, 9, tzinfo=UTC), "happened_at"),
    "written_at": (datetime(2026, 11, 3, 15, 5, 9, tzinfo=UTC), "written_at"),
    "author_id": (8, "author.id"),
    "author_name": ("Ines Voigt", "author.name"),
    "meaning": ("checked", "meaning"),
    "sentence": ("Nothing found.", "sentence"),
    "corrects": (1, "corrects"),
    "previous_hash": ("0" * 64, "previous_hash"),
    "canonical": ("{}", "canonical"),
    "hash": ("0" * 64, "hash"),
    "facts_text": ("{}", "facts.flow_l_min"),
    "chain_kind": ("auxiliary", "chain.kind"),
    "chain_label": ("0418", "chain.label"),
    "number": (9, "number"),
}


def test_every_column_has_a_change_to_try() -> None:
    assert {field.name for field in fields(StoredEntry)} == set(COLUMN_CHANGES)


@pytest.mark.parametrize("column", COLUMN_CHANGES)
def test_changed_column_is_named_with_its_entry(column: str) -> None:
    value, field = COLUMN_CHANGES[column]
    found = verdict(changed(chain_of(5), 3, **{column: value}))
    assert found is not None
    assert (found.chain_kind, found.chain_label, found.number) == ("mold", "0417", 3)
    assert found.field == field


def test_one_figure_inside_the_facts_is_named_with_both_values() -> None:
    rows = chain_of(4)
    altered = rows[1].facts_text.replace('"flow_l_min":"11.80"', '"flow_l_min":"11.90"')
    assert altered != rows[1].facts_text
    found = verdict(changed(rows, 2, facts_text=altered))
    assert str(found) == "mold 0417, entry 2: facts.flow_l_min is '11.90'; '11.80' was written."


@pytest.mark.parametrize(
    ("was", "now", "field"),
    [
        ('"is_done":true', '"is_done":1', "facts.tasks[0].is_done"),
        ('"left_because":null,', "", "facts.tasks[0].left_because"),
        ('"Düse.jpg"', '"Du\u0308se.jpg"', "facts.photos[0].photo"),
        ('"order":2214', '"order":"2214"', "facts.order"),
        ('"order":2214', '"order":2214.0', "facts"),
        ('"order":2214', '"order":2214,"order":2214', "facts"),
    ],
)
def test_values_that_only_look_alike_are_told_apart(was: str, now: str, field: str) -> None:
    rows = chain_of(2)
    assert was in rows[0].facts_text
    found = verdict(changed(rows, 1, facts_text=rows[0].facts_text.replace(was, now)))
    assert found is not None
    assert (found.number, found.field) == (1, field)


def test_text_recomposed_after_it_was_hashed_is_found() -> None:
    found = verdict(changed(chain_of(2), 2, author_name="Ine\u0301s Vogt"))
    assert found is not None
    assert found.field == "author.name"


def test_entry_rewritten_with_its_own_hash_is_found_at_the_next() -> None:
    rows = chain_of(4)
    forged = stored(prepare_entry(entry_form(number=2, previous_hash=rows[0].hash)))
    found = verdict([rows[0], forged, *rows[2:]])
    assert found is not None
    assert (found.number, found.field) == (3, "previous_hash")


def test_last_entry_rewritten_with_its_own_hash_is_found_by_the_seal() -> None:
    rows = chain_of(3)
    head = head_of(rows)
    forged = stored(prepare_entry(entry_form(number=3, previous_hash=rows[1].hash)))
    assert verdict([*rows[:2], forged]) is None
    found = verdict([*rows[:2], forged], (head,))
    assert found is not None
    assert (found.number, found.field, found.expected) == (3, "hash", head.hash)


def test_removed_last_entry_is_found_by_the_seal_alone() -> None:
    rows = chain_of(4)
    assert verdict(rows[:3]) is None
    found = verdict(rows[:3], (head_of(rows),))
    assert found is not None
    assert (found.number, found.fault) == (4, Fault.MISSING)
    assert str(found) == "mold 0417, entry 4: missing."


def test_emptied_chain_is_found_by_the_seal() -> None:
    found = verdict([], (head_of(chain_of(4)),))
    assert found is not None
    assert (found.number, found.fault) == (1, Fault.MISSING)


def test_entries_after_the_seal_do_not_break_it() -> None:
    rows = chain_of(6)
    assert verdict(rows, (head_of(rows[:2]), head_of(rows[:4]))) is None


@given(st.integers(1, 5))
def test_removed_entry_inside_is_named(number: int) -> None:
    rows = [row for row in chain_of(6) if row.number != number]
    found = verdict(rows)
    assert found is not None
    assert (found.number, found.fault) == (number, Fault.MISSING)


@given(st.permutations(range(5)))
def test_any_other_order_is_found(order: list[int]) -> None:
    rows = chain_of(5)
    found = verdict([rows[place] for place in order])
    first_wrong = next((at for at, place in enumerate(order) if at != place), None)
    assert (None if found is None else found.number - 1) == first_wrong


def test_entries_swapped_between_molds_are_named() -> None:
    ours, theirs = chain_of(3), chain_of(3, label="0418")
    # the row keeps its bytes; its chain is that of the mold it was moved to
    moved = replace(theirs[1], chain_label="0417")
    found = verdict([ours[0], moved, ours[2]])
    assert found is not None
    assert (found.number, found.field, found.expected) == (2, "chain.label", "0418")


@given(st.data())
def test_any_changed_byte_of_the_hashed_text_is_found(data: st.DataObject) -> None:
    rows = chain_of(3)
    number = data.draw(st.integers(1, 3))
    text = rows[number - 1].canonical
    at = data.draw(st.integers(0, len(text) - 1))
    sign = data.draw(st.characters(exclude_characters=text[at]))
    found = verdict(changed(rows, number, canonical=text[:at] + sign + text[at + 1 :]))
    assert found is not None
    assert (found.number, found.field) == (number, "canonical")


@given(st.data())
def test_any_changed_byte_of_the_facts_is_found_or_means_the_same(data: st.DataObject) -> None:
    rows = chain_of(2)
    text = rows[0].facts_text
    at = data.draw(st.integers(0, len(text) - 1))
    sign = data.draw(st.characters(exclude_characters=text[at], exclude_categories=["Cs"]))
    altered = text[:at] + sign + text[at + 1 :]
    found = verdict(changed(rows, 1, facts_text=altered))
    assert found is not None
    assert found.number == 1
    assert found.field.startswith("facts")


@given(st.data())
def test_any_changed_column_is_found(data: st.DataObject) -> None:
    rows = chain_of(4)
    number = data.draw(st.integers(1, 4))
    column = data.draw(
        st.sampled_from(["kind", "author_name", "meaning", "sentence", "previous_hash", "hash"])
    )
    value = data.draw(st.text())
    assert (verdict(changed(rows, number, **{column: value})) is None) == (
        value == getattr(rows[number - 1], column)
    )


def newer_row(row: StoredEntry) -> StoredEntry:
    """Spell the same entry as a later version does, with one field more."""
    value = parsed(row.canonical)
    assert isinstance(value, dict)
    canonical = canonical_bytes({**value, "form": 2, "shift": "early"})
    return replace(row, form=2, canonical=canonical.decode(), hash=content_hash(canonical))


def test_unknown_form_is_named_and_older_entries_stay_whole() -> None:
    rows = chain_of(3)
    found = verdict([*rows[:2], newer_row(rows[2])])
    assert found is not None
    assert (found.number, found.fault) == (3, Fault.UNKNOWN_FORM)
    assert str(found) == (
        "mold 0417, entry 3: written in form 2, which this version does not know."
    )


def test_unknown_form_still_has_its_bytes_and_links_checked() -> None:
    rows = chain_of(3)
    newer = newer_row(rows[2])
    cut = verdict([*rows[:2], replace(newer, canonical=newer.canonical.replace("early", "late"))])
    assert cut is not None
    assert cut.field == "hash"
    unlinked = verdict([*rows[:2], replace(newer, previous_hash="0" * 64)])
    assert unlinked is not None
    assert unlinked.field == "previous_hash"


def test_newer_program_verifies_both_forms() -> None:
    rows = chain_of(3)
    forms = {**FORMS, 2: lambda row: {**FORMS[1](row), "shift": "early"}}
    found = verify_chain(
        [*rows[:2], newer_row(rows[2])], chain_kind="mold", chain_label="0417", forms=forms
    )
    assert found is None


def test_hashed_text_that_was_never_canonical_is_named() -> None:
    row = chain_of(1)[0]
    spaced = row.canonical.replace('":', '": ')
    found = verdict([replace(row, canonical=spaced, hash=content_hash(spaced.encode()))])
    assert found is not None
    assert (found.field, found.fault) == ("canonical", Fault.NOT_CANONICAL)
    assert str(found) == "mold 0417, entry 1: the bytes that were hashed are not canonical JSON."


def test_hashed_text_that_is_no_json_is_named_even_with_its_own_hash() -> None:
    found = verdict(changed(chain_of(2), 2, canonical="}", hash=content_hash(b"}")))
    assert found is not None
    assert (found.number, found.field, found.fault) == (2, "canonical", Fault.NOT_CANONICAL)


def test_instant_that_lost_its_zone_is_named() -> None:
    rows = chain_of(2)
    found = verdict(changed(rows, 1, written_at=rows[0].written_at.replace(tzinfo=None)))
    assert found is not None
    assert (found.number, found.field) == (1, "happened_at, written_at")


def test_swapped_entries_are_told_in_a_sentence() -> None:
    rows = chain_of(3)
    assert str(verdict([rows[0], rows[0], rows[2]])) == (
        "mold 0417, entry 2: number 1 stands where 2 belongs."
    )


def test_photos_are_compared_by_the_hash_of_their_stored_bytes() -> None:
    rows = chain_of(2)
    digest = "ab" * 32
    assert verify_photos(rows, stored_hashes={digest: digest}) is None
    gone = verify_photos(rows, stored_hashes={})
    assert gone is not None
    assert gone.fault is Fault.MISSING
    assert str(gone) == "mold 0417, entry 1: facts.photos[0] (Düse.jpg) missing."
    other = verify_photos(rows, stored_hashes={digest: "cd" * 32})
    assert other is not None
    assert (other.fault, other.found) == (Fault.CHANGED, "cd" * 32)
