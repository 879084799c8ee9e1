"""The month seal over all chains."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from moldcare.core.chain import (
    ChainHead,
    SealForm,
    StoredSeal,
    content_hash,
    genesis_hash,
    prepare_seal,
    seal_hash,
    verify_chain,
    verify_seal,
)
from moldcare.core.errors import NotWritable
from tests.core.chain.builders import chain_of, head_of


def seal_form() -> SealForm:
    empty = ChainHead(
        chain_kind="plant",
        chain_label="",
        number=0,
        hash=genesis_hash(chain_kind="plant", chain_label=""),
    )
    return SealForm(
        month=date(2026, 11, 1),
        heads=[head_of(chain_of(3, label="0418")), empty, head_of(chain_of(4))],
        sealed_by_id=2,
        sealed_by_name="Ruth Okafor",
        written_at=datetime(2026, 12, 2, 7, 30, tzinfo=UTC),
    )


def stored_seal() -> StoredSeal:
    prepared = prepare_seal(seal_form())
    return StoredSeal(month=prepared.seal.month, canonical=prepared.canonical, hash=prepared.hash)


def test_heads_come_back_from_the_seal_and_verify_their_chains() -> None:
    heads = verify_seal(stored_seal())
    assert [(head.chain_kind, head.chain_label, head.number) for head in heads] == [
        ("mold", "0417", 4),
        ("mold", "0418", 3),
        ("plant", "", 0),
    ]
    for label, count in (("0417", 4), ("0418", 3)):
        rows = chain_of(count, label=label)
        assert verify_chain(rows, chain_kind="mold", chain_label=label, heads=heads) is None
        cut = verify_chain(rows[:-1], chain_kind="mold", chain_label=label, heads=heads)
        assert cut is not None
        assert (cut.chain_label, cut.number) == (label, count)


@given(st.permutations(range(3)))
def test_order_of_the_heads_does_not_matter(order: list[int]) -> None:
    form = seal_form()
    assert seal_hash(replace(form, heads=[form.heads[at] for at in order])) == seal_hash(form)


@pytest.mark.parametrize(
    "change",
    [
        lambda form: replace(form, month=date(2026, 12, 1)),
        lambda form: replace(form, heads=form.heads[:2]),
        lambda form: replace(form, heads=[*form.heads[:2], replace(form.heads[2], number=5)]),
        lambda form: replace(form, heads=[*form.heads[:2], replace(form.heads[2], hash="0" * 64)]),
        lambda form: replace(form, sealed_by_id=3),
        lambda form: replace(form, sealed_by_name="Ruth Okafo"),
        lambda form: replace(form, written_at=datetime(2026, 12, 2, 7, 31, tzinfo=UTC)),
        lambda form: replace(form, previous_hash="0" * 64),
    ],
)
def test_everything_a_seal_says_is_inside_its_hash(change: Callable[[SealForm], SealForm]) -> None:
    assert seal_hash(change(seal_form())) != seal_hash(seal_form())


def test_changed_seal_is_found() -> None:
    stored = stored_seal()
    with pytest.raises(NotWritable, match="seal of 2026-11 was changed"):
        verify_seal(replace(stored, canonical=stored.canonical.replace("Ruth", "Rute")))
    with pytest.raises(NotWritable, match="seal of 2026-12 was changed: its text is of 2026-11"):
        verify_seal(replace(stored, month=date(2026, 12, 1)))


def test_seal_that_was_left_out_is_found() -> None:
    first = stored_seal()
    second = prepare_seal(replace(seal_form(), month=date(2026, 12, 1), previous_hash=first.hash))
    stored = StoredSeal(month=date(2026, 12, 1), canonical=second.canonical, hash=second.hash)
    assert verify_seal(stored, previous_hash=first.hash)
    with pytest.raises(NotWritable, match="does not follow"):
        verify_seal(stored, previous_hash="")


@pytest.mark.parametrize(
    ("was", "now", "said"),
    [
        ('"form":1', '"form":2', "a form that this version does not know"),
        ('"number":4', '"number":"4"', "a head that cannot be read"),
    ],
)
def test_seal_that_cannot_be_read_is_named(was: str, now: str, said: str) -> None:
    text = stored_seal().canonical
    assert was in text
    text = text.replace(was, now)
    with pytest.raises(NotWritable, match=f"seal of 2026-11 (is of|holds) {said}"):
        verify_seal(
            StoredSeal(month=date(2026, 11, 1), canonical=text, hash=content_hash(text.encode()))
        )


def test_seal_of_part_of_a_month_or_with_a_chain_twice_is_refused() -> None:
    form = seal_form()
    with pytest.raises(NotWritable, match="whole month"):
        prepare_seal(replace(form, month=date(2026, 11, 2)))
    with pytest.raises(NotWritable, match="twice"):
        prepare_seal(replace(form, heads=[*form.heads, form.heads[0]]))
