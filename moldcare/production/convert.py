"""Interruptions as plain values, with what was said at their end."""

from dataclasses import dataclass
from datetime import datetime

from moldcare.production.models import Interruption


@dataclass(frozen=True, kw_only=True, slots=True)
class InterruptionSpan:
    """An interruption as it is known now; `to_at` is None while it lasts.

    What was said at the end takes the place of what was said at the report; scrap adds up.
    """

    interruption_id: int
    mold_id: int
    press_id: int | None
    from_at: datetime
    to_at: datetime | None
    waiting_min: int | None
    repair_min: int | None
    defect: str
    finding: str
    position: str
    mechanism: str
    cause: str
    action: str
    family_key: str
    grade: str
    scrap_pieces: int


def interruption_span(row: Interruption) -> InterruptionSpan:
    """Return an interruption with its end; fetch rows with `select_related("end")`."""
    end = getattr(row, "end", None)
    return InterruptionSpan(
        interruption_id=row.pk,
        mold_id=row.mold_id,
        press_id=row.press_id,
        from_at=row.from_at,
        to_at=end.to_at if end else row.to_at,
        waiting_min=end.waiting_min if end and end.waiting_min is not None else row.waiting_min,
        repair_min=end.repair_min if end and end.repair_min is not None else row.repair_min,
        defect=row.defect,
        finding=row.finding,
        position=row.position,
        mechanism=(end.mechanism if end else "") or row.mechanism,
        cause=(end.cause if end else "") or row.cause,
        action=(end.action if end else "") or row.action,
        family_key=row.family_key,
        grade=row.grade,
        scrap_pieces=row.scrap_pieces + (end.scrap_pieces if end else 0),
    )
