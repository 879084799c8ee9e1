"""What an act does last: derive again what it touched, in the same transaction."""

from collections.abc import Iterable

from moldcare.care.derive import derive_boards, derive_standings
from moldcare.counters.derive import derive_counters, derive_lives


def refresh_counts(
    *, counters: Iterable[int] = (), molds: Iterable[int] = (), auxiliaries: Iterable[int] = ()
) -> None:
    """Derive verdicts of the counters, then lives, standings and boards of the molds.

    Molds that the counters count for are found here and need not be named. Call it where a fact
    changed what counters say or where a mold sits.
    """
    touched = set(molds) | derive_counters(set(counters))
    derive_lives(touched)
    refresh_care(molds=touched, auxiliaries=auxiliaries)


def refresh_care(*, molds: Iterable[int] = (), auxiliaries: Iterable[int] = ()) -> None:
    """Derive standings and boards again. Call it where a fact changed care, and no count."""
    touched = set(molds)
    derive_standings(molds=touched, auxiliaries=set(auxiliaries))
    derive_boards(touched)
