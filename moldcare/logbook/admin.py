"""Tables of moldcare.logbook in the admin: read-only."""

from moldcare.logbook import models
from moldcare.plant.read_only import look_at

look_at(
    models.Chain,
    models.Entry,
    models.Seal,
)
