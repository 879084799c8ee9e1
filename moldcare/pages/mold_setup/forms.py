"""Forms of a mold: a new one in twelve fields, and all that can be said of it later."""

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from moldcare.acts.molds.identity import MOLD_FIELDS
from moldcare.care.models import RuleSet
from moldcare.molds.models import Cavity, Circuit, Filler, Mold, MoldClass, Owner, ResinGroup
from moldcare.pages.fields import DecimalField, LinesField, MomentField, TextField, WholeField
from moldcare.pages.floor.fields import rest_field
from moldcare.pages.listed import NameWithList

MOST_CAVITIES = 999
SMALL = 32_767


def owner_field() -> TextField:
    """Return the field for whose property a mold is."""
    names = Owner.objects.order_by("name").values_list("name", flat=True)
    return TextField(
        most=120,
        required=False,
        label=_("Property of"),
        help_text=_("The customer, where it is not our own. A name that is new is added."),
        widget=NameWithList(names),
    )


def _cavities(**kwargs: Any) -> WholeField:
    return WholeField(least=1, most=MOST_CAVITIES, label=_("Cavities"), **kwargs)


class NewMoldForm(forms.Form):
    """A new mold with its rules and its counter: twelve fields at most."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("initial", {"cavity_count": 1, "opening_count": 0})
        super().__init__(*args, **kwargs)
        self.fields["number"] = TextField(
            most=40,
            label=_("Number"),
            help_text=_("As stamped on its plate; leading zeros count."),
            error_messages={"required": _("Give the number on its plate.")},
        )
        self.fields["name"] = TextField(
            most=120, label=_("Name"), error_messages={"required": _("Say what it makes.")}
        )
        self.fields["cavity_count"] = _cavities()
        self.fields["standard_cycle_s"] = DecimalField(
            label=_("Standard cycle time"),
            unit="s",
            least=Decimal("0.01"),
            places=2,
            digits=8,
            required=False,
            help_text=_("With it readings that are too fast are noticed."),
        )
        self.fields["opening_count"] = WholeField(
            label=_("Life count today"), unit=_("cycles"), help_text=_("0 for a new mold.")
        )
        self.fields["owner"] = owner_field()
        self.fields["resin_group"] = forms.ChoiceField(choices=ResinGroup.choices, label=_("Resin"))
        self.fields["filler"] = forms.ChoiceField(choices=Filler.choices, label=_("Filler"))
        self.fields["place"] = rest_field(required=False)
        self.fields["place"].label = _("Where it is")
        self.fields["rule_set"] = forms.ModelChoiceField(
            RuleSet.objects.order_by("id"),
            required=False,
            empty_label=_("no rules yet"),
            label=_("Rule set"),
            help_text=_("Copied to the mold with the factors of resin and filler."),
        )
        self.fields["counter"] = TextField(
            most=60,
            required=False,
            label=_("Label of its own counter"),
            help_text=_("Empty where only the press counts."),
        )
        self.fields["counter_value"] = WholeField(
            required=False, label=_("That counter shows"), unit=_("cycles")
        )

    def clean(self) -> dict[str, Any]:
        """Refuse the value of a counter that was not named."""
        data = super().clean() or {}
        if data.get("counter_value") is not None and not data.get("counter"):
            self.add_error("counter", _("Give the counter's label, or leave its value empty."))
        return data


class MoldForm(forms.Form):
    """All that can be said of a mold."""

    def __init__(self, *args: Any, mold: Mold, **kwargs: Any) -> None:
        kwargs["initial"] = {name: getattr(mold, name) for name in MOLD_FIELDS} | {
            "owner": mold.owner.name if mold.owner else ""
        }
        super().__init__(*args, **kwargs)
        self.mold = mold
        self.fields["number"] = TextField(most=40, label=_("Number"))
        self.fields["name"] = TextField(most=120, label=_("Name"))
        self.fields["owner"] = owner_field()
        self.fields["mold_class"] = forms.ChoiceField(
            choices=[("", _("not entered")), *MoldClass.choices],
            required=False,
            label=_("Class"),
        )
        self.fields["cavity_count"] = _cavities(
            help_text=_("Cavities are added, never taken away: block those that do not run.")
        )
        self.fields["drawing_revision"] = TextField(
            most=40, required=False, label=_("Drawing revision")
        )
        for half in ("a", "b"):
            self.fields[f"mass_{half}_kg"] = DecimalField(
                label=_("Mass of the %(half)s half") % {"half": half.upper()},
                unit="kg",
                least=0,
                places=1,
                digits=8,
                required=False,
            )
        self.fields["resin"] = TextField(most=120, required=False, label=_("Resins"))
        self.fields["resin_group"] = forms.ChoiceField(
            choices=ResinGroup.choices, label=_("Resin group")
        )
        self.fields["filler"] = forms.ChoiceField(choices=Filler.choices, label=_("Filler"))
        self.fields["finish"] = TextField(most=40, required=False, label=_("Finish"))
        self.fields["reading_age_shifts"] = WholeField(
            required=False,
            least=1,
            most=SMALL,
            label=_("Its reading is old after"),
            unit=_("shifts"),
            help_text=_("Empty: as the plant has it."),
        )
        self.fields["opening_count"] = WholeField(
            label=_("Cycles before our records"), unit=_("cycles")
        )
        self.fields["opening_at"] = MomentField(label=_("True as of"))
        self.fields["opening_source"] = TextField(
            most=200, required=False, label=_("On whose word")
        )
        self.fields["reason"] = LinesField(
            most=200,
            rows=2,
            required=False,
            label=_("Why"),
            help_text=_("Asked for where the cycles before our records are corrected."),
        )

    @property
    def changes(self) -> dict[str, Any]:
        """What differs from the mold, without its owner."""
        data = self.cleaned_data
        found = {}
        for name in MOLD_FIELDS:
            if name == "owner":
                continue
            old = getattr(self.mold, name)
            if name == "opening_at" and not self.fields[name].has_changed(old, self[name].data):
                continue
            if data[name] != old:
                found[name] = data[name]
        return found


class PositionForm(forms.Form):
    """A position that a part can sit in."""

    def __init__(self, *args: Any, mold: Mold, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["ident"] = TextField(
            most=40,
            label=_("Position"),
            help_text=_("Unique in this mold, such as A3."),
            error_messages={"required": _("Give the position a name.")},
        )
        self.fields["name"] = TextField(most=120, required=False, label=_("What sits there"))
        self.fields["is_forming"] = forms.BooleanField(
            required=False,
            label=_("It forms the part"),
            help_text=_("Then it does not count while its cavity is blocked."),
        )
        self.fields["cavity"] = forms.ModelChoiceField(
            Cavity.objects.filter(mold=mold).order_by("id"),
            required=False,
            empty_label=_("none in particular"),
            label=_("In cavity"),
        )


class CircuitForm(forms.Form):
    """A water circuit."""

    ident = TextField(
        most=20,
        label=gettext_lazy("Circuit"),
        help_text=gettext_lazy("Unique in this mold, such as A1."),
        error_messages={"required": gettext_lazy("Give the circuit a name.")},
    )
    half = forms.ChoiceField(choices=Circuit.Half.choices, label=gettext_lazy("Half"))
    bore_mm = DecimalField(
        label=gettext_lazy("Bore"),
        unit="mm",
        least=Decimal("0.01"),
        places=2,
        digits=6,
        required=False,
    )
    length_mm = DecimalField(
        label=gettext_lazy("Length"),
        unit="mm",
        least=Decimal("0.1"),
        places=1,
        digits=8,
        required=False,
    )
    design_flow_l_min = DecimalField(
        label=gettext_lazy("Design flow"),
        unit="l/min",
        least=Decimal("0.01"),
        places=2,
        digits=7,
        required=False,
    )
    rise_limit_k = DecimalField(
        label=gettext_lazy("Limit of the temperature rise"),
        unit="K",
        least=Decimal("0.01"),
        places=2,
        digits=5,
        required=False,
    )
    looped_with = TextField(most=60, required=False, label=gettext_lazy("Looped with"))
