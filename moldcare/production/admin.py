"""Tables of moldcare.production in the admin: read-only."""

from moldcare.plant.read_only import look_at
from moldcare.production import models

look_at(
    models.Interruption,
    models.InterruptionEnd,
)
