"""Signing an order: one entry, its completions, and what follows from them, or nothing at all."""

from moldcare.acts.signing.done import sign_order
from moldcare.acts.signing.further import accept_as_done, sign_accepted, sign_checked
from moldcare.acts.signing.signer import identify
from moldcare.acts.signing.values import (
    Override,
    SignedFrom,
    SignedOrder,
    SupplySpent,
    TaskResult,
)

__all__ = [
    "Override",
    "SignedFrom",
    "SignedOrder",
    "SupplySpent",
    "TaskResult",
    "accept_as_done",
    "identify",
    "sign_accepted",
    "sign_checked",
    "sign_order",
]
