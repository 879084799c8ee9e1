"""The same seed and day give the same plant, entry by entry; another seed another one."""

from datetime import date

from moldcare.demo.load import load_demo
from moldcare.logbook.models import Entry
from moldcare.plant.queries import forget_calendars
from tests.databases import DatabaseCopies
from tests.demo.small_plant import SIX_PRESSES, TWELVE


def heads(seed: int) -> dict[str, str]:
    """The hash of every chain's last entry after ten simulated days."""
    copies = DatabaseCopies()
    copies.begin()
    try:
        forget_calendars()
        load_demo(
            today=date(2026, 11, 25), days=10, seed=seed, molds=TWELVE[:4], presses=SIX_PRESSES
        )
        rows = Entry.objects.order_by("chain_id", "number").select_related("chain")
        return {str(row.chain): row.hash for row in rows}
    finally:
        copies.end()


def test_the_same_seed_and_day_give_the_same_logbook(fresh_db: None) -> None:
    first = heads(7)
    assert len(first) > 4
    assert heads(7) == first
    assert heads(8) != first
