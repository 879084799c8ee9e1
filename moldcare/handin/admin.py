"""Tables of moldcare.handin in the admin: read-only."""

from moldcare.handin import models
from moldcare.plant.read_only import look_at

look_at(
    models.HandIn,
    models.Tablet,
    models.SealingKey,
    models.StuckEntry,
    models.StuckSettled,
)
