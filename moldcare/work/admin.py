"""Tables of moldcare.work in the admin: read-only."""

from moldcare.plant.read_only import look_at
from moldcare.work import models

look_at(
    models.Order,
    models.OrderTask,
    models.StepValue,
    models.PassedOn,
    models.PartOut,
    models.PartIn,
    models.SupplyUsed,
    models.Handover,
    models.HandoverTaken,
)
