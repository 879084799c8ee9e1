"""Counter histories for tests: written as a person would say them, or drawn at random."""

from datetime import UTC, datetime, timedelta
from typing import Any

from hypothesis import strategies as st

from moldcare.core.counting.values import (
    CounterSetup,
    Decision,
    DecisionKind,
    Fitted,
    PaceKnown,
    PaceStep,
    Readings,
    Removed,
    RunningKnown,
    RunningSpan,
)

SECOND = 1_000_000
MINUTE = 60 * SECOND
HOUR = 60 * MINUTE
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def at(text: str) -> int:
    """Return an instant [us since 1970]; a time alone is on Monday 2 March 2026."""
    written = text if "-" in text else f"2026-03-02 {text}"
    instant = datetime.fromisoformat(written)
    if instant.tzinfo is None:
        instant = instant.replace(tzinfo=UTC)
    return (instant - EPOCH) // timedelta(microseconds=1)


def columns(*rows: tuple[str, int], first_id: int = 1, **more: Any) -> Readings:
    """Return readings in arrival order from (time, value) pairs."""
    return Readings(
        ids=list(range(first_id, first_id + len(rows))),
        at_us=[at(time) for time, _ in rows],
        values=[value for _, value in rows],
        **more,
    )


def pace(standard_s: int) -> tuple[PaceStep, ...]:
    """Return the pace of a mold with this standard cycle: at least 0.85 of it a cycle."""
    return (PaceStep(from_us=0, shortest_us=standard_s * SECOND * 17 // 20),)


def decision(reading_id: int, kind: DecisionKind, *, after: int, **more: Any) -> Decision:
    """Return a decision written after reading number ``after``."""
    return Decision(after_reading=after, reading_id=reading_id, kind=kind, **more)


@st.composite
def histories(draw: st.DrawFn, *, has_events: bool = True) -> tuple[Readings, dict[str, Any]]:
    """Draw one counter's history with all the faults that counters and people have."""
    whole = st.integers
    wrap = draw(st.sampled_from([None, 100, 1000, 65_536]))
    step = draw(st.sampled_from([MINUTE, 10 * MINUTE, HOUR]))
    shortest = draw(st.sampled_from([1, 17, 20, 40])) * SECOND
    instant, value = 1000 * HOUR, draw(whole(0, (wrap or 1000) - 1))
    rows: dict[tuple[int, int], int] = {}
    for _ in range(draw(whole(1, 12))):
        elapsed = draw(whole(1, 3)) * step
        instant += elapsed
        value += draw(whole(0, elapsed // shortest + 2))
        shown = value if wrap is None else value % wrap
        fault = draw(st.sampled_from(["", "", "", "", "low", "high", "late", "new", "ahead"]))
        dated = instant
        if fault == "low":
            shown = max(0, shown - draw(whole(1, 50)))
        elif fault == "high":
            shown += draw(whole(50, 500))
        elif fault == "late":
            dated -= draw(whole(1, 6)) * step
        elif fault == "new":
            shown = draw(whole(0, 20))
        rows.setdefault((dated, shown), dated - 400 * SECOND if fault == "ahead" else dated)
    order = list(rows)
    if draw(st.booleans()):
        order = draw(st.permutations(order))
    ids = [3 * place + draw(whole(1, 3)) for place in range(len(order))]
    readings = Readings(
        ids=ids,
        at_us=[row[0] for row in order],
        values=[row[1] for row in order],
        written_us=[rows[row] for row in order],
    )
    instants = st.one_of(
        st.sampled_from(readings.at_us), whole(min(readings.at_us) - step, instant + step)
    )
    steps = [PaceStep(from_us=0, shortest_us=shortest)] if draw(st.booleans()) else []
    if draw(st.booleans()):
        steps.append(PaceStep(from_us=draw(instants), shortest_us=draw(whole(1, 40)) * SECOND))
    running = draw(st.sampled_from([None, None, (), "some"]))
    if running == "some":
        running = (draw(spans(instants)),)
    events = draw(st.lists(_events(readings, instants), max_size=4)) if has_events else []
    if draw(st.booleans()):
        base = draw(st.sampled_from([None, 0, order[0][1]]))
        fitted_us = draw(st.sampled_from([min(readings.at_us) - step, min(readings.at_us)]))
        events.insert(0, Fitted(after_reading=0, at_us=fitted_us, value_shown=base))
    return readings, {
        "setup": CounterSetup(rollover=wrap),
        "events": tuple(events),
        "pace": tuple(steps),
        "running": running,
    }


@st.composite
def spans(draw: st.DrawFn, instants: st.SearchStrategy[int]) -> RunningSpan:
    """Draw a running span."""
    first, second = draw(instants), draw(instants)
    return RunningSpan(from_us=min(first, second), to_us=max(first, second))


def _events(readings: Readings, instants: st.SearchStrategy[int]) -> st.SearchStrategy[Any]:
    after = st.sampled_from(readings.ids)
    shown = st.one_of(st.none(), st.sampled_from([0, 37, *readings.values]))
    decisions = st.builds(
        Decision,
        after_reading=after,
        reading_id=after,
        kind=st.sampled_from(DecisionKind),
        turns=st.integers(0, 2),
        base_value=st.sampled_from([None, 0, 5]),
    )
    return st.one_of(
        decisions,
        decisions,
        st.builds(Fitted, after_reading=after, at_us=instants, value_shown=shown),
        st.builds(Removed, after_reading=after, at_us=instants, last_value=shown),
        st.builds(
            PaceKnown,
            after_reading=after,
            steps=st.tuples(
                st.builds(
                    PaceStep,
                    from_us=instants,
                    shortest_us=st.sampled_from([5 * SECOND, 17 * SECOND, 30 * SECOND]),
                )
            ),
        ),
        st.builds(RunningKnown, after_reading=after, spans=st.tuples(spans(instants))),
    )
