"""The plant's own settings: its record, shifts, spots, rates and cautions."""

from moldcare.acts.plant.cautions import add_caution, withdraw_caution
from moldcare.acts.plant.rates import add_rate
from moldcare.acts.plant.settings import PLANT_FIELDS, set_plant
from moldcare.acts.plant.shifts import (
    MOST_DAYS,
    add_days_off,
    add_shift_exception,
    add_shift_pattern,
    take_back_exception,
    take_back_pattern,
)
from moldcare.acts.plant.spots import MOST_AT_ONCE, SPOT_FIELDS, add_spot, add_spots, edit_spot

__all__ = [
    "MOST_AT_ONCE",
    "MOST_DAYS",
    "PLANT_FIELDS",
    "SPOT_FIELDS",
    "add_caution",
    "add_days_off",
    "add_rate",
    "add_shift_exception",
    "add_shift_pattern",
    "add_spot",
    "add_spots",
    "edit_spot",
    "set_plant",
    "take_back_exception",
    "take_back_pattern",
    "withdraw_caution",
]
