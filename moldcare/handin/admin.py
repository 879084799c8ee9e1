"""Tables of moldcare.handin in the admin: read-only; the sealing keys are not shown."""

from moldcare.handin import models
from moldcare.plant.read_only import look_at

look_at(
    models.HandIn,
    models.Tablet,
    models.StuckEntry,
    models.StuckSettled,
)
