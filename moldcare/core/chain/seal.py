"""The month seal: one hash over the heads of all chains, so that a cut end is found."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from moldcare.core.chain.canonical import (
    JsonValue,
    canonical_bytes,
    content_hash,
    instant_text,
    normal_text,
    parsed,
)
from moldcare.core.chain.entry import ChainHead
from moldcare.core.errors import NotWritable

SEAL_FORM = 1


@dataclass(frozen=True, kw_only=True, slots=True)
class SealForm:
    """What a seal says.

    Parameters
    ----------
    month : date
        The first day of the month that is closed.
    heads : sequence of ChainHead
        Of every chain, as of the month's end, in any order.
    sealed_by_id : int
        Who sealed it.
    sealed_by_name : str
        Their name as it was then.
    written_at : datetime
        When, aware.
    previous_hash : str
        Hash of the seal before, empty in the first one: a seal cannot be left out either.
    """

    month: date
    heads: Sequence[ChainHead]
    sealed_by_id: int
    sealed_by_name: str
    written_at: datetime
    previous_hash: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class PreparedSeal:
    """A seal ready to be stored.

    Parameters
    ----------
    seal : SealForm
        With its heads in order and texts composed.
    canonical : str
        What is hashed; it holds the heads.
    hash : str
        SHA-256 of it.
    """

    seal: SealForm
    canonical: str
    hash: str


@dataclass(frozen=True, kw_only=True, slots=True)
class StoredSeal:
    """One seal as it is read back.

    Parameters
    ----------
    month : date
        Its column.
    canonical, hash : str
        Its columns.
    """

    month: date
    canonical: str
    hash: str


def prepare_seal(seal: SealForm) -> PreparedSeal:
    """Bring a seal to its fixed form and hash it.

    Parameters
    ----------
    seal : SealForm
        As it was handed in.

    Returns
    -------
    PreparedSeal
        What to store.

    Raises
    ------
    NotWritable
        If the month is not a first day, or a chain stands there twice.

    Notes
    -----
    Hash = SHA-256 of the canonical JSON of the month, who and when, the hash of the seal before,
    and all heads sorted by kind and label.
    """
    if seal.month.day != 1:
        raise NotWritable("A seal closes a whole month, named by its first day.")
    heads = sorted(
        (
            replace(
                head,
                chain_kind=normal_text(head.chain_kind),
                chain_label=normal_text(head.chain_label),
            )
            for head in seal.heads
        ),
        key=lambda head: (head.chain_kind, head.chain_label),
    )
    if len({(head.chain_kind, head.chain_label) for head in heads}) != len(heads):
        raise NotWritable("A chain stands twice among the heads of a seal.")
    spelled = replace(seal, heads=tuple(heads), sealed_by_name=normal_text(seal.sealed_by_name))
    spelled_heads: list[JsonValue] = [
        {
            "chain": {"kind": head.chain_kind, "label": head.chain_label},
            "hash": head.hash,
            "number": head.number,
        }
        for head in heads
    ]
    value: JsonValue = {
        "form": SEAL_FORM,
        "heads": spelled_heads,
        "month": f"{seal.month:%Y-%m}",
        "previous_hash": seal.previous_hash,
        "sealed_by": {"id": seal.sealed_by_id, "name": spelled.sealed_by_name},
        "written_at": instant_text(seal.written_at),
    }
    canonical = canonical_bytes(value)
    return PreparedSeal(seal=spelled, canonical=canonical.decode(), hash=content_hash(canonical))


def seal_hash(seal: SealForm) -> str:
    """Give the hash of a seal: see `prepare_seal`.

    Parameters
    ----------
    seal : SealForm
        As it was handed in.

    Returns
    -------
    str
        64 hexadecimal digits.
    """
    return prepare_seal(seal).hash


def verify_seal(stored: StoredSeal, *, previous_hash: str | None = None) -> tuple[ChainHead, ...]:
    """Check one seal and give the heads it closes, for `verify_chain`.

    Parameters
    ----------
    stored : StoredSeal
        As it is read back.
    previous_hash : str, optional
        Hash of the seal before (empty text for none); left out, the link is not checked.

    Returns
    -------
    tuple of ChainHead
        What the seal says of each chain.

    Raises
    ------
    NotWritable
        If the seal was changed, is of an unknown form, or does not follow the one before.
    """
    name = f"The seal of {stored.month:%Y-%m}"
    if content_hash(stored.canonical.encode("utf-8", "surrogatepass")) != stored.hash:
        raise NotWritable(f"{name} was changed: its hash is not that of its text.")
    value = parsed(stored.canonical)
    if not isinstance(value, dict) or value.get("form") != SEAL_FORM:
        raise NotWritable(f"{name} is of a form that this version does not know.")
    if value.get("month") != f"{stored.month:%Y-%m}":
        raise NotWritable(f"{name} was changed: its text is of {value.get('month')}.")
    if previous_hash is not None and value.get("previous_hash") != previous_hash:
        raise NotWritable(f"{name} does not follow the seal before it.")
    heads = value.get("heads")
    found: list[ChainHead] = []
    for head in heads if isinstance(heads, list) else []:
        match head:
            case {
                "chain": {"kind": str(kind), "label": str(label)},
                "hash": str(digest),
                "number": int(number),
            }:
                found.append(
                    ChainHead(chain_kind=kind, chain_label=label, number=number, hash=digest)
                )
            case _:
                raise NotWritable(f"{name} holds a head that cannot be read.")
    return tuple(found)
