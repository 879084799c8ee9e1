"""Tables of moldcare.files in the admin: read-only."""

from moldcare.files import models
from moldcare.plant.read_only import look_at

look_at(
    models.File,
)
