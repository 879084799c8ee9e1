"""The two forms of an interruption: four taps when it begins, and what it was when it ends."""

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from moldcare.care.models import Family, Grade
from moldcare.core.scanning import LONGEST_CODE
from moldcare.molds.models import RunEvent
from moldcare.pages.fields import (
    LinesField,
    MomentField,
    TextField,
    WholeField,
    boxes,
    stand_in_a_row,
)
from moldcare.pages.scan.finding import mold_of_code
from moldcare.production.models import Defect, Mechanism

NOW, QUARTER, HOUR, TYPED, NOT_YET = "0", "15", "60", "typed", ""
LONGEST_MINUTES = 100_000
# what most reports leave empty, folded away
FURTHER = (
    "again",
    "to_at",
    "position",
    "grade",
    "mechanism",
    "cause",
    "action",
    "scrap_pieces",
)


def _since_choices() -> list[tuple[str, str]]:
    return [
        (NOW, _("now")),
        (QUARTER, _("15 min ago")),
        (HOUR, _("1 h ago")),
        (TYPED, _("at the time below")),
    ]


def _moment(data: Mapping[str, Any], *, choice: str, typed: str, now: datetime) -> datetime | None:
    """Return the instant that the boxes and the typed time mean; a typed time wins."""
    at: datetime | None = data.get(typed)
    chosen = data.get(choice, NOT_YET)
    if at is not None:
        return at
    if chosen in (NOW, QUARTER, HOUR):
        return now - timedelta(minutes=int(chosen))
    return None


class InterruptionForm(forms.Form):
    """Report that a run stopped."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        families = [(row.key, row.name) for row in Family.objects.all()]
        self.fields["since"] = boxes(_since_choices(), label=_("Since"), initial=NOW)
        self.fields["from_at"] = MomentField(
            required=False, happened=True, label=_("Since this time")
        )
        self.fields["defect"] = boxes(
            Defect.choices, required=False, label=_("Seen on the part"), initial=Defect.NONE
        )
        self.fields["finding"] = LinesField(
            most=400,
            rows=2,
            required=False,
            label=_("What was found"),
            help_text=_("Before anything was done about it. May stay empty with a fault chosen."),
        )
        self.fields["family_key"] = boxes(
            [*families, ("", _("not known yet"))], required=False, label=_("Traced back to")
        )
        self.fields["again"] = boxes(
            [(NOT_YET, _("not yet")), (NOW, _("yes, since now")), (TYPED, _("at the time below"))],
            required=False,
            label=_("Running again"),
            initial=NOT_YET,
        )
        self.fields["to_at"] = MomentField(
            required=False, happened=True, label=_("Running again since")
        )
        self.fields["position"] = TextField(most=80, required=False, label=_("Position or cavity"))
        self.fields["mechanism"] = forms.ChoiceField(
            choices=Mechanism.choices, required=False, label=_("How it came about")
        )
        self.fields["grade"] = forms.ChoiceField(
            choices=[("", _("not looked at")), *Grade.choices],
            required=False,
            label=_("As found"),
        )
        self.fields["cause"] = LinesField(most=400, rows=2, required=False, label=_("Why"))
        self.fields["action"] = LinesField(
            most=400, rows=2, required=False, label=_("What was done")
        )
        self.fields["scrap_pieces"] = WholeField(
            required=False, most=2**31 - 1, label=_("Scrap"), unit=_("pieces")
        )

    def clean(self) -> dict[str, Any]:
        """Ask for what was seen, and for the times that were announced."""
        data = super().clean() or {}
        if not data.get("finding") and not data.get("defect"):
            self.add_error("finding", _("Choose a fault on the part, or say what was found."))
        if data.get("since") == TYPED and not data.get("from_at") and "from_at" not in self.errors:
            self.add_error("from_at", _("Give the time since which it stands."))
        if data.get("again") == TYPED and not data.get("to_at") and "to_at" not in self.errors:
            self.add_error("to_at", _("Give the time since which it runs again."))
        return data

    @property
    def is_further_open(self) -> bool:
        """Whether something in the fold was typed or is to be put right."""
        return any(self[name].errors or self[name].data for name in FURTHER)

    def told(self, *, now: datetime) -> dict[str, Any]:
        """Return what `report_interruption` asks for."""
        data = self.cleaned_data
        same = ("defect", "family_key", "position", "mechanism", "grade", "cause", "action")
        return {
            **{name: data[name] for name in same},
            "finding": data["finding"] or f"{data['defect'].replace('_', ' ')} seen on the part",
            "scrap_pieces": data["scrap_pieces"] or 0,
            "from_at": _moment(data, choice="since", typed="from_at", now=now),
            "to_at": _moment(data, choice="again", typed="to_at", now=now),
        }


class WhichInterruptionForm(InterruptionForm):
    """Report that a run stopped, of a mold chosen on the form: four taps."""

    def __init__(self, *args: Any, running: Iterable[RunEvent], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [
            (event.mold.number, f"{event.press.number}: {event.mold.number}") for event in running
        ]
        if choices:
            self.fields["mold"] = boxes(choices, required=False, label=_("Which mold"))
        self.fields["other"] = TextField(
            most=LONGEST_CODE,
            required=False,
            label=_("Or its number or code") if choices else _("Number or code of the mold"),
        )
        self.fields["other"].widget.attrs |= {"autocomplete": "off", "data-scan": "next"}
        self.fields["family_key"].initial = ""
        # one of the two is asked for, so neither says that it may stay empty
        stand_in_a_row(self, names=["mold", "other"] if choices else ["other"])
        self.order_fields(["mold", "other"])

    def clean(self) -> dict[str, Any]:
        """Find the mold; a typed or scanned one wins over a ticked one."""
        data = super().clean()
        named = data.get("other") or data.get("mold") or ""
        found = mold_of_code(named) if named else None
        if found is None and not {"mold", "other"} & set(self.errors):
            self.add_error(
                "mold" if "mold" in self.fields and not data.get("other") else "other",
                _("There is no mold %(number)s.") % {"number": named[:60]}
                if named
                else _("Choose the mold, or scan its label."),
            )
        data["found"] = found
        return data


class EndForm(forms.Form):
    """Say that a mold runs again after an interruption."""

    again = boxes(
        [
            (NOW, gettext_lazy("now")),
            (QUARTER, gettext_lazy("15 min ago")),
            (HOUR, gettext_lazy("1 h ago")),
            (TYPED, gettext_lazy("at the time below")),
        ],
        label=gettext_lazy("Running again since"),
        initial=NOW,
    )
    to_at = MomentField(required=False, happened=True, label=gettext_lazy("Since this time"))
    action = LinesField(most=400, rows=2, required=False, label=gettext_lazy("What was done"))
    mechanism = forms.ChoiceField(
        choices=Mechanism.choices, required=False, label=gettext_lazy("How it came about")
    )
    cause = LinesField(most=400, rows=2, required=False, label=gettext_lazy("Why"))
    waiting_min = WholeField(
        required=False,
        most=LONGEST_MINUTES,
        label=gettext_lazy("Of that time waiting"),
        help_text=gettext_lazy("For a person, a part, a decision or outside work."),
        unit="min",
    )
    repair_min = WholeField(
        required=False,
        most=LONGEST_MINUTES,
        label=gettext_lazy("And hands on"),
        unit="min",
    )
    scrap_pieces = WholeField(
        required=False,
        most=2**31 - 1,
        label=gettext_lazy("Scrap since the report"),
        unit=gettext_lazy("pieces"),
    )

    def clean(self) -> dict[str, Any]:
        """Ask for the time that was announced."""
        data = super().clean() or {}
        if data.get("again") == TYPED and not data.get("to_at") and "to_at" not in self.errors:
            self.add_error("to_at", _("Give the time since which it runs again."))
        return data

    def told(self, *, now: datetime) -> dict[str, Any]:
        """Return what `end_interruption` asks for."""
        data = self.cleaned_data
        same = ("action", "mechanism", "cause", "waiting_min", "repair_min")
        return {
            **{name: data[name] for name in same},
            "scrap_pieces": data["scrap_pieces"] or 0,
            "to_at": _moment(data, choice="again", typed="to_at", now=now),
        }
