"""Shots, shifts and components: shares of a mold's life count."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from moldcare.core.errors import FactsContradict

#: A count at an instant: us since 1970 to cycles, whole and never falling.
CountAtInstant = Callable[[int], int]


@dataclass(frozen=True, kw_only=True, slots=True)
class Dry:
    """So many cycles without plastic were reported over a span [us since 1970]."""

    from_us: int
    to_us: int
    cycles: int


@dataclass(frozen=True, kw_only=True, slots=True)
class ComponentStay:
    """A component sat in a mold from one instant to another [us since 1970].

    Parameters
    ----------
    mold : int
        The mold.
    from_us, to_us : int, int or None
        The stay; None: it still sits there.
    blocked : tuple of (int, int or None)
        When the cavity of a forming component was blocked; empty for any other.
    """

    mold: int
    from_us: int
    to_us: int | None = None
    blocked: tuple[tuple[int, int | None], ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class ComponentLife:
    """What a component went through [cycles, shots]."""

    cycles: int
    shots: int


def shots_at(at_us: int, *, cycles_at: CountAtInstant, dry: Sequence[Dry] = ()) -> int:
    """Return the shots of a mold up to an instant: its cycles less the dry ones.

    Parameters
    ----------
    at_us : int
        Instant [us since 1970].
    cycles_at : callable
        The mold's life count at an instant [cycles].
    dry : sequence of Dry
        Reported dry cycles, spans not overlapping; may be empty.

    Returns
    -------
    int
        Shots. Within a reported span the dry cycles are spread evenly over its cycles and rounded
        down; more dry cycles than were counted count as all of them. So shots never fall.
    """
    return cycles_at(at_us) - sum(_dry_by(at_us, each, cycles_at) for each in dry)


def cycles_of_parts(parts: int, *, active_cavities: int) -> int:
    """Return the cycles that so many parts took.

    Parameters
    ----------
    parts : int
        Parts molded, good and bad, not negative.
    active_cavities : int
        Cavities that were filled, above 0.

    Returns
    -------
    int
        Parts over active cavities, rounded up: an estimate until the counter is read.

    Raises
    ------
    FactsContradict
        No cavity was active, or the parts are negative.

    Notes
    -----
    Parts are not cycles: with 2 of 8 cavities blocked the same parts take a third more cycles.

    Examples
    --------
    >>> cycles_of_parts(24000, active_cavities=8), cycles_of_parts(24000, active_cavities=6)
    (3000, 4000)
    """
    if active_cavities < 1 or parts < 0:
        raise FactsContradict("Cycles follow from parts only where a cavity is active.")
    return -(-parts // active_cavities)


def split_by_shift(edges_us: Sequence[int], *, count_at: CountAtInstant) -> list[int]:
    """Return the cycles of each shift.

    Parameters
    ----------
    edges_us : sequence of int
        Shift edges in time order [us since 1970], one more than shifts.
    count_at : callable
        A whole running total at an instant [cycles or shots].

    Returns
    -------
    list of int
        Differences of the rounded-down totals, so that they add up to the whole.

    Examples
    --------
    >>> split_by_shift([0, 8, 16, 24], count_at=lambda hour: 100 * hour // 24)
    [33, 33, 34]
    """
    totals = [count_at(edge) for edge in edges_us]
    return [high - low for low, high in pairwise(totals)]


def component_life(
    stays: Sequence[ComponentStay],
    *,
    at_us: int,
    cycles_at: Mapping[int, CountAtInstant],
    shots_at: Mapping[int, CountAtInstant],
) -> ComponentLife:
    """Return the cycles and shots of a component up to an instant.

    Parameters
    ----------
    stays : sequence of ComponentStay
        Its fitting periods; on the shelf it rests.
    at_us : int
        Instant [us since 1970].
    cycles_at, shots_at : mapping of int to callable
        Life counts of the molds it sat in.

    Returns
    -------
    ComponentLife
        Sums over its stays, less what ran while its cavity was blocked.
    """
    cycles = shots = 0
    for stay in stays:
        end = at_us if stay.to_us is None else min(stay.to_us, at_us)
        for from_us, to_us in _free(stay, end):
            cycles += cycles_at[stay.mold](to_us) - cycles_at[stay.mold](from_us)
            shots += shots_at[stay.mold](to_us) - shots_at[stay.mold](from_us)
    return ComponentLife(cycles=cycles, shots=shots)


def _free(stay: ComponentStay, end_us: int) -> list[tuple[int, int]]:
    """Return the stretches of a stay in which its cavity was not blocked."""
    free: list[tuple[int, int]] = []
    begin = stay.from_us
    for from_us, to_us in sorted(stay.blocked, key=lambda each: each[0]):
        if begin < min(from_us, end_us):
            free.append((begin, min(from_us, end_us)))
        begin = max(begin, end_us if to_us is None else to_us)
    if begin < end_us:
        free.append((begin, end_us))
    return free


def _dry_by(at_us: int, dry: Dry, cycles_at: CountAtInstant) -> int:
    if at_us <= dry.from_us:
        return 0
    low, high = cycles_at(dry.from_us), cycles_at(dry.to_us)
    if high <= low:
        return 0
    done = cycles_at(min(at_us, dry.to_us)) - low
    return min(dry.cycles, high - low) * done // (high - low)
