"""Tables of moldcare.plant in the admin: read-only."""

from moldcare.plant import models
from moldcare.plant.read_only import look_at

look_at(
    models.Plant,
    models.ShiftPattern,
    models.ShiftSlot,
    models.ShiftException,
    models.Spot,
    models.Person,
    models.Qualification,
    models.Training,
    models.Rate,
    models.CautionLine,
)
