"""The plant's rows as the core's values."""

from collections.abc import Iterable
from zoneinfo import ZoneInfo

from moldcare.core import shifts
from moldcare.plant.models import Plant, ShiftException, ShiftPattern


def shift_calendar(
    plant: Plant,
    *,
    patterns: Iterable[ShiftPattern],
    exceptions: Iterable[ShiftException],
) -> shifts.ShiftCalendar:
    """Return the calendar of worked shifts. Patterns come with their slots, exceptions in order.

    What was taken back counts for nothing, and neither does the row that says so.
    """
    rows = list(exceptions)
    gone = {row.takes_back_id for row in rows}
    return shifts.ShiftCalendar(
        zone=ZoneInfo(plant.zone),
        patterns=[
            shifts.ShiftPattern(
                valid_from=pattern.valid_from,
                slots=tuple(
                    shifts.ShiftSlot(
                        weekday=slot.weekday, name=slot.name, starts=slot.starts, ends=slot.ends
                    )
                    for slot in pattern.slots.all()
                ),
            )
            for pattern in patterns
        ],
        exceptions=[
            shifts.ShiftException(
                on=row.on,
                name=row.shift_name,
                is_worked=row.is_worked,
                starts=row.starts,
                ends=row.ends,
                reason=row.reason,
            )
            for row in rows
            if row.takes_back_id is None and row.pk not in gone
        ],
    )
