"""The form of a round: one number a counter, and when they were read."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from moldcare.acts.readings import ReadingEntry
from moldcare.counters.models import Reading
from moldcare.pages.fields import TextField, WholeField, when_field
from moldcare.pages.readings.round import RoundRow


class RoundForm(forms.Form):
    """One field a counter; what stays empty was not read.

    `confirmed` are the fields whose "about" somebody has said to be meant.
    """

    at = when_field(label=gettext_lazy("Read at"))

    def __init__(
        self, *args: Any, rows: Iterable[RoundRow], confirmed: Iterable[str] = (), **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.rows = [row for row in rows if row.counter is not None]
        self.confirmed = set(confirmed)
        self.offered: dict[str, int] = {}
        for row in self.rows:
            self.fields[row.key] = WholeField(
                required=False, label=_label(row), allows_estimate=True
            )

    def entries(self, *, now: datetime) -> list[ReadingEntry]:
        """Return what was typed and can be taken; an estimate only once it was confirmed."""
        at = self.cleaned_data.get("at") or now
        found = []
        for row in self.rows:
            count = self.cleaned_data.get(row.key)
            if count is None or row.counter is None:
                continue
            if count.is_estimated and row.key not in self.confirmed:
                self.offered[row.key] = count.value
                continue
            source = Reading.Source.ESTIMATED if count.is_estimated else Reading.Source.TYPED
            found.append(ReadingEntry(counter=row.counter, at=at, value=count.value, source=source))
        return found

    @property
    def is_empty(self) -> bool:
        """Whether nothing was typed at all."""
        return not any(str(self.data.get(row.key) or "").strip() for row in self.rows)

    def typed(self, *, but: Iterable[str] = ()) -> dict[str, str]:
        """Return what was typed, without the fields that are done."""
        return typed_in(self.data, rows=self.rows, but=but)


def typed_in(
    data: Mapping[str, Any], *, rows: Iterable[RoundRow], but: Iterable[str] = ()
) -> dict[str, str]:
    """Return what a form that was sent holds, field by field, to be shown again."""
    done = set(but)
    names = ["at", *(row.key for row in rows if row.counter is not None)]
    return {name: str(data.get(name) or "") for name in names if name not in done}


def _label(row: RoundRow) -> str:
    label = row.counter.label if row.counter else ""
    if row.mold is None:
        return _("%(spot)s, counter %(counter)s, cycles") % {"spot": row.spot, "counter": label}
    return _("Mold %(mold)s, counter %(counter)s, cycles") % {
        "mold": row.mold.number,
        "counter": label,
    }


class ReasonForm(forms.Form):
    """What a reading really was, and why it is put right, taken as it is, or set aside."""

    value = WholeField(
        required=False, label=gettext_lazy("What it showed"), unit=gettext_lazy("cycles")
    )
    at = when_field(
        label=gettext_lazy("When it was read"), help_text=gettext_lazy("Only if that was wrong.")
    )

    reason = TextField(
        most=200,
        label=gettext_lazy("Why"),
        help_text=gettext_lazy("The logbook keeps the reason."),
        error_messages={"required": gettext_lazy("Say why; the logbook keeps the reason.")},
    )
