"""Local wall time and the plant's shifts.

Shifts are kept as people say them, in local wall times, and become instants only here. Hours are
real: the night shift over a clock change has seven or nine of them. A shift belongs to one named
day, the local date on which it starts.
"""

from moldcare.core.shifts.calendar import SEARCH_DAYS, USUAL_SHIFT_H, ShiftCalendar
from moldcare.core.shifts.local_time import Never, Twice, Unique, local_instant, resolve_local
from moldcare.core.shifts.values import (
    Shift,
    ShiftException,
    ShiftPattern,
    ShiftSlot,
    check_shifts,
)

__all__ = [
    "SEARCH_DAYS",
    "USUAL_SHIFT_H",
    "Never",
    "Shift",
    "ShiftCalendar",
    "ShiftException",
    "ShiftPattern",
    "ShiftSlot",
    "Twice",
    "Unique",
    "check_shifts",
    "local_instant",
    "resolve_local",
]
