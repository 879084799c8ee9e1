"""How many cycles may lie between two values of one counter."""

from __future__ import annotations

from moldcare.core.counting.pace import Pace, Running, last_tenth

#: Longest list of possible counts that is kept for one span.
CANDIDATES_KEPT = 50


def counts_between(
    before: tuple[int, int],
    after: tuple[int, int],
    *,
    wrap: int | None,
    pace: Pace,
    running: Running | None,
) -> tuple[int, ...]:
    """Return every count that may lie between two values, the smallest first [cycles].

    Parameters
    ----------
    before, after : tuple of int and int
        Instant [us since 1970] and value [cycles] of the earlier and of the later one.
    wrap : int or None
        Value at which the counter starts again [cycles], None where unknown.
    pace : Pace
        Steps of the shortest cycle.
    running : Running or None
        Known running spans; None where runs are not recorded.

    Returns
    -------
    tuple of int
        Empty where the two do not fit; more than one where full turns more are possible too.

    Notes
    -----
    A lower value needs a known wrap, and either the earlier value in the last tenth before it, or
    runs that could have made the count. Where several counts are possible by the clock, known
    runs decide: counts the runs could not make are dropped, and of the rest the only one that
    is at least half of what the runs could make is taken.
    """
    at_us, value = before
    count = after[1] - value
    if count < 0:
        if wrap is None:
            return ()
        count += wrap
    most = pace.possible(at_us, after[0])
    if count > most or count < 0:
        return ()
    if after[1] < value and not last_tenth(value, wrap=wrap or 1):
        if running is None or running.time_us(at_us, after[0]) == 0:
            return ()
        if count > running.possible(at_us, after[0], pace=pace):
            return ()
    if wrap is None:
        return (count,)
    counts = tuple(range(count, most + 1, wrap)[:CANDIDATES_KEPT])
    if len(counts) == 1 or running is None:
        return counts
    run_most = running.possible(at_us, after[0], pace=pace)
    makeable = tuple(each for each in counts if each <= run_most)
    if len(makeable) < 2:
        return makeable or counts
    likely = tuple(each for each in makeable if 2 * each >= run_most)
    return likely if len(likely) == 1 else makeable


def settled_by_second_counter(candidates: tuple[int, ...], *, other_cycles: int) -> int | None:
    """Return the one possible count that a second counter bears out [cycles].

    Parameters
    ----------
    candidates : tuple of int
        Possible counts of an unsure span [cycles].
    other_cycles : int
        What another counter on the same mold or press counted over the span [cycles].

    Returns
    -------
    int or None
        The candidate within 2 % and 2 cycles of the other count; None where none or several are.

    Examples
    --------
    >>> settled_by_second_counter((20, 65556), other_cycles=65102)
    65556
    """
    near = [each for each in candidates if abs(each - other_cycles) * 50 <= other_cycles + 100]
    return near[0] if len(near) == 1 else None
