"""Verifying the logbook from what is stored alone: seals, chains, and the bytes of photos."""

from collections.abc import Iterator
from dataclasses import dataclass

from moldcare.core.chain import (
    ChainHead,
    Difference,
    StoredEntry,
    verify_chain,
    verify_photos,
    verify_seal,
)
from moldcare.core.errors import NotWritable
from moldcare.files import store
from moldcare.files.models import File
from moldcare.logbook.convert import stored_entries, stored_seal
from moldcare.logbook.models import Chain, Entry, Seal


@dataclass(frozen=True, kw_only=True, slots=True)
class Verification:
    """What a verification looked at, and the first thing that does not fit.

    Parameters
    ----------
    chains, entries, seals, files : int
        How many were looked at before it ended.
    difference : str
        The first difference in words; empty when all is whole.
    """

    chains: int = 0
    entries: int = 0
    seals: int = 0
    files: int = 0
    difference: str = ""

    @property
    def is_whole(self) -> bool:
        """Return whether nothing differs."""
        return not self.difference


@dataclass(slots=True)
class _Counted:
    """Passes entries on and counts them."""

    entries: int = 0

    def through(self, rows: Iterator[StoredEntry]) -> Iterator[StoredEntry]:
        for row in rows:
            self.entries += 1
            yield row


def verify_logbook(*, with_photos: bool = False) -> Verification:
    """Verify seals, then every chain against them, then photos where asked; stop at the first.

    Entries are read a few at a time: memory does not grow with the logbook.
    """
    try:
        heads = sealed_heads()
    except NotWritable as error:
        return Verification(difference=str(error))
    seals = Seal.objects.count()
    counted = _Counted()
    chains = 0
    for chain in Chain.objects.order_by("kind", "label", "id").iterator():
        chains += 1
        difference = verify_chain(
            counted.through(
                stored_entries(Entry.objects.filter(chain=chain).order_by("number", "id"))
            ),
            chain_kind=chain.kind,
            chain_label=chain.label,
            heads=heads,
        )
        if difference is not None:
            return _ended(difference, chains=chains, entries=counted.entries, seals=seals)
    lost = _first_lost_chain(heads)
    if lost:
        return Verification(chains=chains, entries=counted.entries, seals=seals, difference=lost)
    if not with_photos:
        return Verification(chains=chains, entries=counted.entries, seals=seals)
    files, changed = verify_files()
    return Verification(
        chains=chains, entries=counted.entries, seals=seals, files=files, difference=changed
    )


def verify_one_chain(chain: Chain) -> Verification:
    """Verify one chain against the seals that name it: its length is all that it costs."""
    try:
        heads = [
            head
            for head in sealed_heads()
            if (head.chain_kind, head.chain_label) == (chain.kind, chain.label)
        ]
    except NotWritable as error:
        return Verification(difference=str(error))
    counted = _Counted()
    difference = verify_chain(
        counted.through(stored_entries(Entry.objects.filter(chain=chain).order_by("number", "id"))),
        chain_kind=chain.kind,
        chain_label=chain.label,
        heads=heads,
    )
    if difference is not None:
        return _ended(difference, chains=1, entries=counted.entries, seals=len(heads))
    return Verification(chains=1, entries=counted.entries, seals=len(heads))


def sealed_heads() -> list[ChainHead]:
    """Verify the seals, each following the one before, and return what they say of chains.

    Raises
    ------
    NotWritable
        If a seal was changed or left out.
    """
    heads: list[ChainHead] = []
    previous_hash = ""
    for seal in Seal.objects.order_by("month"):
        heads += verify_seal(stored_seal(seal), previous_hash=previous_hash)
        previous_hash = seal.hash
    return heads


def verify_files() -> tuple[int, str]:
    """Hash all stored files, and return how many there are and the first difference in words.

    Photos that entries name come first, with the entry; then whatever else is kept.
    """
    hashes = list(File.objects.order_by("id").values_list("sha256", flat=True))
    now = store.hashes_now(hashes)
    naming = Entry.objects.filter(facts__contains='"sha256":').order_by("chain", "number")
    difference = verify_photos(stored_entries(naming), stored_hashes=now)
    if difference is not None:
        return len(hashes), str(difference)
    for sha256 in hashes:
        if now.get(sha256) != sha256:
            what = "missing" if sha256 not in now else "changed"
            return len(hashes), f"file {sha256}: its stored bytes are {what}."
    return len(hashes), ""


def _first_lost_chain(heads: list[ChainHead]) -> str:
    """Return the first chain that a seal names and that is not there at all, in words."""
    there = set(Chain.objects.values_list("kind", "label"))
    for head in heads:
        if (head.chain_kind, head.chain_label) not in there:
            chain = f"{head.chain_kind} {head.chain_label}".strip()
            return f"{chain}: the chain is missing; a seal names its entry {head.number}."
    return ""


def _ended(difference: Difference, **counts: int) -> Verification:
    return Verification(difference=str(difference), **counts)
