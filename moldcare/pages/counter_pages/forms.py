"""Forms of counters."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from moldcare.counters.models import Counter
from moldcare.counters.queries import loose_counters
from moldcare.molds.models import Mold
from moldcare.molds.queries import molds_in_use
from moldcare.pages.fields import TextField, WholeField, when_field
from moldcare.plant.models import Spot
from moldcare.plant.queries import spots_in_use

MOST_DIGITS = 18
REASON_LENGTH = 200


def _shown(label: Any, *, help_text: Any = "") -> WholeField:
    return WholeField(label=label, help_text=help_text, required=False, unit=_("cycles"))


class NewCounterFields(forms.Form):
    """What a new counter is."""

    label = TextField(
        most=60,
        label=gettext_lazy("Label"),
        help_text=gettext_lazy("As it is written on the counter, such as 41-B."),
        error_messages={"required": gettext_lazy("Give the counter a label.")},
    )
    digits = WholeField(
        required=False,
        least=1,
        most=MOST_DIGITS,
        label=gettext_lazy("Digits"),
        help_text=gettext_lazy("How many it shows; after the last it begins at 0 again."),
    )
    rollover = WholeField(
        required=False,
        least=1,
        label=gettext_lazy("Begins again after"),
        unit=gettext_lazy("cycles"),
        help_text=gettext_lazy("Only where that is no power of ten: 65536 and the like."),
    )


class WhereField(forms.ChoiceField):
    """A mold or a press that a counter can sit on; its value is the row."""

    def __init__(self, **kwargs: Any) -> None:
        self.rows: dict[str, Mold | Spot] = {}
        molds, presses = [], []
        for mold in molds_in_use():
            self.rows[f"mold {mold.pk}"] = mold
            molds.append((f"mold {mold.pk}", f"{mold.number} {mold.name}"))
        for spot in spots_in_use(kinds=[Spot.Kind.PRESS]):
            self.rows[f"press {spot.pk}"] = spot
            presses.append((f"press {spot.pk}", str(spot)))
        choices = [("", _("nowhere yet")), (_("on a mold"), molds), (_("on a press"), presses)]
        super().__init__(choices=choices, **kwargs)

    def clean(self, value: Any) -> Any:
        """Return the mold or press, None for nowhere."""
        return self.rows.get(super().clean(value))


class AddForm(NewCounterFields):
    """Add a counter, and fit it."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["on"] = WhereField(required=False, label=_("It sits on"))
        self.fields["value_shown"] = _shown(
            _("It shows"), help_text=_("What it shows now is not use: counting begins from there.")
        )
        self.fields["at"] = when_field(label=_("Fitted at"))

    def clean(self) -> dict[str, Any]:
        """Refuse a value of a counter that sits nowhere."""
        data = super().clean() or {}
        if data.get("value_shown") is not None and data.get("on") is None:
            self.add_error("on", _("Say where it sits, or leave its value empty."))
        return data


class FitForm(forms.Form):
    """Fit a counter that sits nowhere."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["on"] = WhereField(
            label=_("It sits on"), error_messages={"required": _("Choose the mold or press.")}
        )
        self.fields["value_shown"] = _shown(_("It shows"))
        self.fields["at"] = when_field(label=_("Fitted at"))
        self.fields["reason"] = TextField(most=REASON_LENGTH, required=False, label=_("Why"))


class ExchangeForm(NewCounterFields):
    """Exchange a counter for a loose one or a new one."""

    def __init__(self, *args: Any, old: Counter, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["label"].required = False
        self.fields["label"].label = _("Or a new counter: its label")
        last = _shown(
            _("Last value of %(counter)s") % {"counter": old.label},
            help_text=_("Stays empty where it cannot be read any more; the life count says so."),
        )
        loose = forms.ModelChoiceField(
            loose_counters(),
            required=False,
            empty_label=_("none of these"),
            label=_("The new one, from those that sit nowhere"),
        )
        self.fields["value_shown"] = _shown(_("The new one shows"))
        self.fields["at"] = when_field(label=_("Exchanged at"))
        self.fields["reason"] = TextField(most=REASON_LENGTH, required=False, label=_("Why"))
        self.fields = {"last_value": last, "new": loose, **self.fields}

    def clean(self) -> dict[str, Any]:
        """Ask for one new counter."""
        data = super().clean() or {}
        if data.get("new") and data.get("label"):
            self.add_error("label", _("Choose one that sits nowhere, or name a new one."))
        elif not data.get("new") and not data.get("label") and "new" not in self.errors:
            self.add_error("label", _("Give the new counter a label, or choose one above."))
        return data


class RemoveForm(forms.Form):
    """Remove a counter without fitting another."""

    def __init__(self, *args: Any, old: Counter, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["last_value"] = _shown(_("Last value of %(counter)s") % {"counter": old.label})
        self.fields["at"] = when_field(label=_("Removed at"))
        self.fields["reason"] = TextField(most=REASON_LENGTH, required=False, label=_("Why"))
