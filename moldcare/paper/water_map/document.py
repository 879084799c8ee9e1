"""What a water map prints, as plain data."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from moldcare.core.water_map import WaterMap


@dataclass(frozen=True, kw_only=True, slots=True)
class WaterMapDocument:
    """All that the water map of a mold prints; the drawing asks nobody else.

    `measures` are the sentences about each circuit by its name: bore, flow, limits.
    """

    language: str
    number: str
    name: str
    water: WaterMap
    measures: Mapping[str, Sequence[str]] = field(default_factory=dict)
    place: str = ""
    own_cautions: Sequence[str] = ()
    code_text: str = ""
    printed_at: str = ""
    printed_by: str = ""
    plant_name: str = ""
