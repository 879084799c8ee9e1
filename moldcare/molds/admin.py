"""Tables of moldcare.molds in the admin: read-only."""

from moldcare.molds import models
from moldcare.plant.read_only import look_at

look_at(
    models.Owner,
    models.Mold,
    models.CycleTime,
    models.MarkingPhoto,
    models.Configuration,
    models.Cavity,
    models.Position,
    models.Component,
    models.Fitting,
    models.Block,
    models.Move,
    models.MoveTakenBack,
    models.ConditionNote,
    models.Circuit,
    models.CircuitItem,
    models.Auxiliary,
    models.Supply,
    models.Run,
    models.RunEvent,
)
