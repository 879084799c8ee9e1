"""A row of the round with its field, and what is to be said beside it."""

from collections.abc import Iterable
from dataclasses import dataclass

from django import forms

from moldcare.pages.readings.forms import RoundForm
from moldcare.pages.readings.outcome import Outcome
from moldcare.pages.readings.round import RoundRow


@dataclass(frozen=True, kw_only=True, slots=True)
class RoundLine:
    """A row as the page shows it."""

    row: RoundRow
    field: forms.BoundField | None
    wrong: list[str]
    offered: int | None
    said: str

    @property
    def state(self) -> str:
        """The state whose edge the row has."""
        return "unsure" if self.row.held else ""


def lines_of(
    rows: Iterable[RoundRow], *, form: RoundForm, outcome: Outcome | None
) -> list[RoundLine]:
    """Put each row together with its field and with what became of it."""
    return [
        RoundLine(
            row=row,
            field=form[row.key] if row.key in form.fields else None,
            wrong=outcome.wrong.get(row.key, []) if outcome else [],
            offered=outcome.offered.get(row.key) if outcome else None,
            said=outcome.said.get(row.key, "") if outcome else "",
        )
        for row in rows
    ]
