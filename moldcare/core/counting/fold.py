"""A press that reports every shot, folded to the few readings that counting needs."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from moldcare.core.counting.values import HOUR_US


@dataclass(frozen=True, kw_only=True, slots=True)
class Piece:
    """A stretch in which a counter only rose: its first and last value, and how many came.

    Parameters
    ----------
    first_at_us, last_at_us : int
        Instants by the source's own clock [us since 1970].
    first_value, last_value : int
        What the counter showed [cycles].
    messages : int
        Messages folded, repeated ones counted once.
    """

    first_at_us: int
    first_value: int
    last_at_us: int
    last_value: int
    messages: int


def fold_to_pieces(
    messages: Iterable[tuple[int, int]], *, longest_us: int = HOUR_US
) -> list[Piece]:
    """Return the pieces in which a counter only rose, in the order in which they came.

    Parameters
    ----------
    messages : iterable of (int, int)
        Instants by the source's own clock [us since 1970] and values [cycles], in the order in
        which they came; may be empty.
    longest_us : int
        Longest piece [us].

    Returns
    -------
    list of Piece
        A lower value begins a new piece, be it a restart, a rollover or a dip, and so does an
        older instant: nothing that counting needs is lost. A message that repeats the one before
        it adds nothing.

    Examples
    --------
    >>> [piece.last_value for piece in fold_to_pieces([(0, 7), (20, 8), (40, 0), (60, 1)])]
    [8, 1]
    """
    pieces: list[Piece] = []
    for at_us, value in messages:
        last = pieces[-1] if pieces else None
        if last is not None and (at_us, value) == (last.last_at_us, last.last_value):
            continue
        if (
            last is None
            or value < last.last_value
            or at_us <= last.last_at_us
            or at_us - last.first_at_us > longest_us
        ):
            pieces.append(
                Piece(
                    first_at_us=at_us,
                    first_value=value,
                    last_at_us=at_us,
                    last_value=value,
                    messages=1,
                )
            )
            continue
        pieces[-1] = Piece(
            first_at_us=last.first_at_us,
            first_value=last.first_value,
            last_at_us=at_us,
            last_value=value,
            messages=last.messages + 1,
        )
    return pieces
