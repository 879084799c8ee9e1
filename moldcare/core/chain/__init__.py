"""The logbook's chain: what an entry is when it is hashed, and how a chain is checked.

An entry is brought to one fixed form (`canonical`), hashed with the hash of the entry before
it inside (`entry`), checked column by column against the bytes that were hashed
(`verification`), and closed by month over all chains (`seal`).
"""

from moldcare.core.chain.canonical import (
    canonical_bytes,
    content_hash,
    instant_from_text,
    instant_text,
)
from moldcare.core.chain.entry import (
    CURRENT_FORM,
    ChainHead,
    EntryForm,
    PreparedEntry,
    entry_hash,
    genesis_hash,
    photo_fact,
    prepare_entry,
)
from moldcare.core.chain.seal import (
    PreparedSeal,
    SealForm,
    StoredSeal,
    prepare_seal,
    seal_hash,
    verify_seal,
)
from moldcare.core.chain.verification import (
    Difference,
    Fault,
    StoredEntry,
    verify_chain,
    verify_photos,
)

__all__ = [
    "CURRENT_FORM",
    "ChainHead",
    "Difference",
    "EntryForm",
    "Fault",
    "PreparedEntry",
    "PreparedSeal",
    "SealForm",
    "StoredEntry",
    "StoredSeal",
    "canonical_bytes",
    "content_hash",
    "entry_hash",
    "genesis_hash",
    "instant_from_text",
    "instant_text",
    "photo_fact",
    "prepare_entry",
    "prepare_seal",
    "seal_hash",
    "verify_chain",
    "verify_photos",
    "verify_seal",
]
