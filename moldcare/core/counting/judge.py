"""Readings of one counter to accepted cycles: a replay in the order in which the server wrote."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable

from moldcare.core.counting.replay import Replay
from moldcare.core.counting.values import (
    CLOCK_ERROR_US,
    CounterSetup,
    Event,
    Fitted,
    Judged,
    PaceStep,
    Readings,
    Resume,
    RunningSpan,
    State,
)


def judge_counter(
    readings: Readings,
    *,
    setup: CounterSetup,
    events: Iterable[Event] = (),
    pace: Iterable[PaceStep] = (),
    running: Iterable[RunningSpan] | None = None,
    clock_error_us: int = CLOCK_ERROR_US,
) -> Judged:
    """Return the verdict on every reading of one counter and its running totals [cycles].

    Parameters
    ----------
    readings : Readings
        Columns in arrival order; may be empty.
    setup : CounterSetup
        How far the counter counts.
    events : iterable of Event
        Fittings, decisions, and what became known of paces and runs, each with the arrival
        number it came after; of equal numbers the earlier in the list comes first. Without any
        fitting the counter counts as always fitted, with an unknown base.
    pace : iterable of PaceStep
        Steps known from the start.
    running : iterable of RunningSpan or None
        Running spans known from the start; None: runs are not recorded.
    clock_error_us : int
        How far a reading may lie after the instant it was written [us].

    Returns
    -------
    Judged
        Columns beside the readings.

    Notes
    -----
    The total starts at 0 at the counter's first base and runs on over its fittings. Readings
    that come in time order and are plainly possible are taken in a tight loop; all others, and
    every event, go through `Replay`, which decides the same questions one by one.

    Examples
    --------
    >>> columns = Readings(ids=[1, 2, 3], at_us=[0, 300_000_000, 600_000_000],
    ...                    values=[215710, 215709, 215714])
    >>> judged = judge_counter(columns, setup=CounterSetup(digits=6))
    >>> judged.totals, judged.reasons
    ([0, None, 4], ['', 'goes_backwards', ''])
    """
    steps = sorted(events, key=lambda event: event.after_reading)
    replay = Replay(
        readings,
        setup=setup,
        pace=pace,
        running=running,
        clock_error_us=clock_error_us,
        is_always_fitted=not any(isinstance(event, Fitted) for event in steps),
    )
    ids = readings.ids
    done = 0
    for event in steps:
        stop = bisect_left(ids, event.after_reading + 1, done)
        if stop > done:
            replay.read(done, stop)
            done = stop
        replay.learn(event)
    replay.read(done, len(ids))
    return replay.judged()


def extend(
    resume: Resume,
    *,
    readings: Readings,
    setup: CounterSetup,
    pace: Iterable[PaceStep] = (),
    running: Iterable[RunningSpan] | None = None,
    clock_error_us: int = CLOCK_ERROR_US,
) -> Judged | None:
    """Return the verdicts on newer readings without replaying the counter's history.

    Parameters
    ----------
    resume : Resume
        State after the readings judged so far.
    readings : Readings
        The new readings, in arrival order; their numbers are above ``resume.last_id``.
    setup, pace, running, clock_error_us
        As for `judge_counter`; steps and runs that end before ``resume.newest_at_us`` may be left
        out, the step in force there may not.

    Returns
    -------
    Judged or None
        Columns over the open held readings followed by the new ones. None where only a full
        replay can tell: a reading is not newer than the newest accepted one, or it settles one
        that was held. After any other event (decision, fitting, pace, run) replay too.
    """
    if any(at_us <= resume.newest_at_us for at_us in readings.at_us):
        return None
    held = resume.open_held
    written: list[int] | None = None
    if readings.written_us is not None or any(each.is_clock_off for each in held):
        fresh = readings.written_us or readings.at_us
        before = [each.at_us - (clock_error_us + 1 if each.is_clock_off else 0) for each in held]
        written = [*before, *fresh]
    columns = Readings(
        ids=[*(each.reading_id for each in held), *readings.ids],
        at_us=[*(each.at_us for each in held), *readings.at_us],
        values=[*(each.value for each in held), *readings.values],
        sources=None if readings.sources is None else [*("" for _ in held), *readings.sources],
        written_us=written,
    )
    replay = Replay(
        columns,
        setup=setup,
        pace=pace,
        running=running,
        clock_error_us=clock_error_us,
        is_always_fitted=False,
    )
    replay.go_on_from(resume)
    replay.read(0, len(columns.ids))
    judged = replay.judged()
    # A settled old reading carries notes from when it arrived, which only the history knows.
    if any(state != State.HELD for state in judged.states[: len(held)]):
        return None
    return judged
