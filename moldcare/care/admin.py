"""Tables of moldcare.care in the admin: read-only."""

from moldcare.care import models
from moldcare.plant.read_only import look_at

look_at(
    models.Family,
    models.RuleSet,
    models.SetRule,
    models.TakenSet,
    models.CareRule,
    models.RuleVersion,
    models.Step,
    models.Cover,
    models.Completion,
    models.TakenBack,
    models.Deferral,
    models.Standing,
    models.Board,
)
