"""Which counter counted for a mold or a press at an instant, asked many times over."""

from collections import defaultdict
from datetime import UTC, datetime

from moldcare.counters.convert import stays_in_press
from moldcare.counters.models import CounterFitting
from moldcare.counters.run_events import RunEventRow, rows_of
from moldcare.molds.models import RunEvent

Stays = list[tuple[datetime, datetime | None, int]]

_NEVER = datetime.max.replace(tzinfo=UTC)


class Sitting:
    """Where all counters of the plant sat, read at once in two queries."""

    def __init__(self) -> None:
        self._on_mold: dict[int, Stays] = defaultdict(list)
        self._on_press: dict[int, Stays] = defaultdict(list)
        self._press_of: dict[int, Stays] = defaultdict(list)
        self.first_fitted: dict[int, datetime] = {}
        self._read_fittings()
        self._read_runs()

    def counter_of(
        self, *, mold: int | None = None, press: int | None = None, at: datetime
    ) -> int | None:
        """Return the counter that counted for a mold, or for a press, at an instant.

        A mold's own counter goes before that of a press; without a press named it is the one that
        the mold was in. Before the first fitting it is the first counter, so that whoever asks can
        say that the reading is too early.
        """
        if mold is not None:
            found = _sitting_at(self._on_mold.get(mold), at=at)
            if found is not None:
                return found
            if press is None:
                press = _at(self._press_of.get(mold), at=at)
        return None if press is None else _sitting_at(self._on_press.get(press), at=at)

    def _read_fittings(self) -> None:
        open_at: dict[int, tuple[datetime, Stays]] = {}
        rows = CounterFitting.objects.order_by("at", "id")
        for counter, mold, press, at, act in rows.values_list(
            "counter_id", "mold_id", "press_id", "at", "act"
        ):
            if act == CounterFitting.Act.FITTED:
                stays = self._on_mold[mold] if mold is not None else self._on_press[press or 0]
                open_at[counter] = (at, stays)
                self.first_fitted.setdefault(counter, at)
            elif counter in open_at:
                since, stays = open_at.pop(counter)
                stays.append((since, at, counter))
        for counter, (since, stays) in open_at.items():
            stays.append((since, None, counter))
        for kept in (self._on_mold, self._on_press):
            for stays in kept.values():
                stays.sort(key=lambda stay: (stay[0], stay[1] or _NEVER))

    def _read_runs(self) -> None:
        by_press: dict[int, list[RunEventRow]] = defaultdict(list)
        for event in rows_of(RunEvent.objects.order_by("at", "id")):
            by_press[event.press_id].append(event)
        for press, events in by_press.items():
            for mold, from_at, to_at in stays_in_press(events):
                self._press_of[mold].append((from_at, to_at, press))


def _sitting_at(stays: Stays | None, *, at: datetime) -> int | None:
    if not stays:
        return None
    if at < stays[0][0]:
        return stays[0][2]
    return _at(stays, at=at)


def _at(stays: Stays | None, *, at: datetime) -> int | None:
    """Return what was there at an instant: at the end of a stay it still was."""
    found = None
    for from_at, to_at, key in stays or ():
        if from_at <= at and (to_at is None or at < to_at):
            found = key
    if found is None:
        for _from_at, to_at, key in stays or ():
            if to_at == at:
                found = key
    return found
