"""What is typed about an order: when, who, why, and who signs."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from moldcare.core.shifts import Shift, ShiftCalendar
from moldcare.pages.fields import TextField
from moldcare.pages.sheet.forms import SignerForm
from moldcare.pages.words import day_words, in_sentence
from moldcare.plant.models import Person
from moldcare.plant.queries import people_at_work
from moldcare.work.models import Order

DAYS_AHEAD = 15


class PeopleField(forms.MultipleChoiceField):
    """Who does it, drawn as boxes to tick; its value are the people."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            widget=forms.CheckboxSelectMultiple,
            choices=lambda: [(str(person.pk), person.name) for person in people_at_work()],
            required=False,
            label=gettext_lazy("Who does it"),
            **kwargs,
        )

    def clean(self, value: Any) -> list[Person]:
        """Return the people who were ticked."""
        chosen = {str(key) for key in super().clean(value)}
        return [person for person in people_at_work() if str(person.pk) in chosen]


class PlanForm(forms.Form):
    """For which shift an order is planned, who does it, and its note."""

    shift = forms.ChoiceField(required=False, label=gettext_lazy("Planned for"))
    people = PeopleField()
    note = TextField(most=400, required=False, label=gettext_lazy("Note on the order"))

    def __init__(
        self,
        *args: Any,
        calendar: ShiftCalendar,
        now: datetime,
        planned_at: datetime | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        shifts = calendar.shifts_between(now, now + timedelta(days=DAYS_AHEAD))
        choices = [("", _("no shift yet"))]
        known = {shift.starts_at.isoformat() for shift in shifts}
        if planned_at is not None:
            self.initial.setdefault("shift", planned_at.isoformat())
            if planned_at.isoformat() not in known:
                choices.append((planned_at.isoformat(), _planned(planned_at, calendar=calendar)))
        choices += [(shift.starts_at.isoformat(), _shift(shift)) for shift in shifts]
        self.fields["shift"].choices = choices  # type: ignore[attr-defined]

    @property
    def planned_at(self) -> datetime | None:
        """When the chosen shift begins; only of a valid form."""
        chosen = self.cleaned_data["shift"]
        return datetime.fromisoformat(chosen) if chosen else None


def planned_words(planned_at: datetime | None, *, calendar: ShiftCalendar) -> str:
    """Return for which shift something is planned."""
    return "" if planned_at is None else _planned(planned_at, calendar=calendar)


def _planned(at: datetime, *, calendar: ShiftCalendar) -> str:
    shift = calendar.shift_at(at)
    if shift is not None:
        return _shift(shift)
    local = timezone.localtime(at)
    return f"{day_words(local.date())}, {local:%H:%M}"


def _shift(shift: Shift) -> str:
    return _("%(day)s, %(name)s shift") % {
        "day": day_words(shift.belongs_to),
        "name": in_sentence(shift.name),
    }


class WordForm(forms.Form):
    """One sentence: what holds an order up, or why it is struck out."""

    def __init__(self, *args: Any, label: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["words"] = TextField(most=200, label=label)


class FurtherForm(SignerForm):
    """The signature of somebody else: checked, accepted, accepted as done."""

    note = TextField(most=200, required=False, label=gettext_lazy("Note for the logbook"))
    field_order = ("note", "badge", "pin")


def further_form(
    data: Any = None, *, name: str, signs: Person, is_reason: bool = False
) -> FurtherForm:
    """Return the form of a further signature, with ids of its own on the page."""
    form = FurtherForm(data, signs=signs, auto_id=f"{name}_%s")
    if is_reason:
        form.fields["note"].label = _("Why it counts as done")
        form.fields["note"].required = True
    return form


def initial_of(order: Order, *, people: Sequence[Person]) -> dict[str, Any]:
    """Return what an order's plan shows to begin with."""
    return {"people": [person.pk for person in people], "note": order.note}
