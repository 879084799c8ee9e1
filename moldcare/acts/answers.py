"""What acts answer, beside an act's own values."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Self

from django.db import models

from moldcare.logbook.models import Entry


@dataclass(frozen=True, kw_only=True, slots=True)
class Written:
    """What an act wrote: the key of its row, and the logbook entry about it."""

    row_id: int
    entry_id: int
    entry_number: int

    @classmethod
    def read(cls, answer: Mapping[str, Any]) -> Self:
        """Read it back from a stored answer."""
        return cls(**{name: answer[name] for name in cls.__dataclass_fields__})


def answer_of(row: models.Model, *, entry: Entry, **more: Any) -> dict[str, Any]:
    """Return the answer that is stored for a row and its entry."""
    return {"row_id": row.pk, "entry_id": entry.pk, "entry_number": entry.number, **more}
