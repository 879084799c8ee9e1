"""The columns of a maintenance sheet by the task that they are about."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from moldcare.feeds.register.gather import text_of
from moldcare.feeds.register.head import Head
from moldcare.feeds.register.interval_units import LARGE
from moldcare.feeds.register.intervals import Interval, with_unit
from moldcare.feeds.register.task_columns import OF_A_TASK, interval_in_heading
from moldcare.feeds.tables import Column, Meaning, Row, words_of

#: What says in a column headed by a task that the mold does not have it.
_UNMARKED: Final = frozenset(["no", "nein", "☐", "○"])


@dataclass(frozen=True, kw_only=True, slots=True)
class Columns:
    """The columns that say something about one task, or about the task of each row."""

    task_text: str | None
    letter: str
    by_meaning: Mapping[Meaning, tuple[Column, ...]]
    interval: Interval | None = None

    def of(self, meaning: Meaning) -> Column | None:
        """Return the column with this meaning."""
        return next(iter(self.by_meaning.get(meaning, ())), None)

    def are_empty(self, row: Row) -> bool:
        """Say whether a row has nothing about this task."""
        return not any(
            text.casefold() not in _UNMARKED
            for columns in self.by_meaning.values()
            for column in columns
            if column.task_text is not None and (text := text_of(row, column))
        )


def column_groups(head: Head) -> tuple[Columns, ...]:
    """Give the columns of each task, or those of all tasks where each row names its own."""
    shared: dict[Meaning, tuple[Column, ...]] = {
        meaning: head.all_of(meaning) for meaning in (*OF_A_TASK, Meaning.INTERVAL_UNIT)
    }
    groups: dict[str, list[Column]] = {}
    for column in head.columns:
        if column.task_text is not None:
            groups.setdefault(words_of(column.task_text), []).append(column)
    if not groups:
        task = head.of(Meaning.TASK)
        return (Columns(task_text=None, letter=task.letter if task else "A", by_meaning=shared),)
    found = []
    for columns in groups.values():
        own: dict[Meaning, tuple[Column, ...]] = {}
        for column in columns:
            own[column.meaning] = (*own.get(column.meaning, ()), column)
        intervals = [_interval_of_heading(column.name) for column in columns]
        found.append(
            Columns(
                task_text=columns[0].task_text,
                letter=columns[0].letter,
                by_meaning={
                    meaning: own.get(meaning) or shared.get(meaning, ()) for meaning in shared
                },
                interval=next((interval for interval in intervals if interval), None),
            )
        )
    return tuple(found)


def _interval_of_heading(heading: str) -> Interval | None:
    """Give the interval that a heading names; a large number without a unit is of cycles."""
    interval = interval_in_heading(heading)[1]
    if interval is None or interval.bare is None:
        return interval
    settled = with_unit(interval, unit="cycles") if interval.bare >= LARGE else None
    return settled if isinstance(settled, Interval) else None
