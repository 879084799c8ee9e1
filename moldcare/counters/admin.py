"""Tables of moldcare.counters in the admin: read-only."""

from moldcare.counters import models
from moldcare.plant.read_only import look_at

look_at(
    models.Counter,
    models.CounterFitting,
    models.Reading,
    models.ReadingDecision,
    models.DryCycles,
    models.CountPreference,
    models.Unassigned,
    models.Verdict,
    models.CounterTotal,
    models.LifeSegment,
    models.Life,
)
