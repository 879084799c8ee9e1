"""The watch over locks sees a lock that goes against the order."""

import pytest
from django.db import transaction

from moldcare.acts.locks import lock_chain, lock_mold
from moldcare.logbook.append import plant_chain
from tests import factories


def test_a_mold_locked_while_a_chain_is_held_is_seen(db: None) -> None:
    mold = factories.mold()
    with transaction.atomic():
        lock_chain(plant_chain())
        with pytest.raises(AssertionError, match="molds_mold was locked while logbook_chain was"):
            lock_mold(mold)


def test_the_order_holds_from_savepoint_to_savepoint_only(db: None) -> None:
    mold = factories.mold()
    with transaction.atomic():
        lock_chain(plant_chain())
    with transaction.atomic():
        lock_mold(mold)
