"""Taking a whole import back: by facts that say so, and only what nothing else was built on."""

from moldcare.acts.taking_back.readings import BroughtReadings, take_back_readings
from moldcare.acts.taking_back.registers import take_back_import
from moldcare.acts.taking_back.values import Undone

__all__ = [
    "BroughtReadings",
    "Undone",
    "take_back_import",
    "take_back_readings",
]
