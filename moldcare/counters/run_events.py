"""Sets and pulls as plain rows: a mold has hundreds, and every reading of it goes through them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import datetime
from typing import NamedTuple

from django.db.models import QuerySet

from moldcare.molds.models import RunEvent


class RunEventRow(NamedTuple):
    """A mold was set in a press, or pulled out of it; the fields are those of `RunEvent`."""

    pk: int
    mold_id: int
    press_id: int
    run_id: int | None
    at: datetime
    act: str
    after_reading: int


class RunEvents:
    """Run events, found by mold and by press."""

    def __init__(self, rows: Iterable[RunEventRow]) -> None:
        self._of_mold: dict[int, list[RunEventRow]] = defaultdict(list)
        self._on_press: dict[int, list[RunEventRow]] = defaultdict(list)
        for row in rows:
            self._of_mold[row.mold_id].append(row)
            self._on_press[row.press_id].append(row)

    def of(self, *, molds: Iterable[int] = (), presses: Iterable[int] = ()) -> list[RunEventRow]:
        """Return the events of the molds and those on the presses, in the order of time."""
        found = {row.pk: row for mold in molds for row in self._of_mold.get(mold, ())}
        found |= {row.pk: row for press in presses for row in self._on_press.get(press, ())}
        return sorted(found.values(), key=run_order)


def run_order(row: RunEventRow) -> tuple[datetime, str, int]:
    """Return what run events are sorted by: a pull comes before a set at the same instant."""
    return (row.at, row.act, row.pk)


def rows_of(events: QuerySet[RunEvent]) -> list[RunEventRow]:
    """Read run events, in their order."""
    return list(
        map(
            RunEventRow._make,
            events.values_list("id", "mold_id", "press_id", "run_id", "at", "act", "after_reading"),
        )
    )


def run_events_of(mold_ids: Iterable[int]) -> dict[int, list[RunEventRow]]:
    """Return the run events of molds in the order of time."""
    found: dict[int, list[RunEventRow]] = {mold_id: [] for mold_id in mold_ids}
    for row in rows_of(RunEvent.objects.filter(mold__in=list(found)).order_by("at", "act", "id")):
        found[row.mold_id].append(row)
    return found
