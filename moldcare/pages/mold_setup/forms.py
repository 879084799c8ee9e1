"""Forms of a mold: a new one in twelve fields, and all that can be said of it later."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from moldcare.acts.molds.identity import MOLD_FIELDS
from moldcare.core.units import Quantity
from moldcare.molds.models import Filler, Mold, MoldClass, ResinGroup
from moldcare.molds.queries import owners_in_use
from moldcare.pages.fields import DecimalField, LinesField, MomentField, TextField, WholeField
from moldcare.pages.floor.fields import rest_field
from moldcare.pages.listed import NameWithList
from moldcare.pages.measures import MeasureField

MOST_CAVITIES = 999
SMALL = 32_767
# how many digits counters on molds have
DIGITS = range(4, 9)


def owner_field() -> TextField:
    """Return the field for whose property a mold is."""
    names = owners_in_use().values_list("name", flat=True)
    return TextField(
        most=120,
        required=False,
        label=_("Property of"),
        help_text=_("The customer, where it is not our own. A name that is new is added."),
        widget=NameWithList(names),
    )


def _cavities(**kwargs: Any) -> WholeField:
    return WholeField(least=1, most=MOST_CAVITIES, label=_("Cavities"), **kwargs)


def number_field(**kwargs: Any) -> TextField:
    """Return the field for what is stamped on the plate."""
    return TextField(
        most=40,
        label=_("Number"),
        help_text=_("As stamped on its plate; leading zeros count."),
        error_messages={"required": _("Give the number on its plate.")},
        **kwargs,
    )


def name_field() -> TextField:
    """Return the field for what a mold makes."""
    return TextField(
        most=120, label=_("Name"), error_messages={"required": _("Say what it makes.")}
    )


def opening_field() -> WholeField:
    """Return the field for the count that a mold begins with."""
    return WholeField(
        label=_("Life count today"), unit=_("cycles"), help_text=_("0 for a new mold.")
    )


def place_field() -> Any:
    """Return the field for where a mold is; in a press it is set afterwards."""
    field = rest_field(required=False)
    field.label = _("Where it is")
    return field


def class_field() -> forms.ChoiceField:
    """Return the field for a mold's class."""
    return forms.ChoiceField(
        choices=[("", _("not entered")), *MoldClass.choices], required=False, label=_("Class")
    )


def resin_choices() -> list[tuple[str, str]]:
    """Return resin groups, without and with what wears steel, as one choice."""
    filled = {
        ResinGroup.MILD: _("PE, PP, PS with glass or mineral"),
        ResinGroup.MEDIUM: _("ABS, PC, PA with glass or mineral"),
        ResinGroup.GASSY: _("POM, gassy or rich in regrind, with glass or mineral"),
        ResinGroup.CORROSIVE: _("flame retardant or PVC, with glass or mineral"),
    }
    plain = [(f"{group.value} {Filler.NONE}", str(group.label)) for group in ResinGroup]
    return plain + [(f"{group.value} {Filler.GLASS}", filled[group]) for group in ResinGroup]


def resin_of(choice: str) -> tuple[str, str]:
    """Return resin group and filler of a choice."""
    group, _blank, filler = choice.partition(" ")
    return group, filler


class NewMoldForm(forms.Form):
    """A new mold in twelve fields; the rule sets that fit are ticked beforehand.

    `sets` are the sets to choose from, once it is known what the mold is.
    """

    def __init__(self, *args: Any, sets: Sequence[tuple[str, str]] = (), **kwargs: Any) -> None:
        kwargs.setdefault("initial", {"cavity_count": 1, "opening_count": 0})
        super().__init__(*args, **kwargs)
        self.fields["number"] = number_field()
        self.fields["name"] = name_field()
        self.fields["mold_class"] = class_field()
        self.fields["cavity_count"] = _cavities()
        self.fields["owner"] = owner_field()
        self.fields["resin"] = forms.ChoiceField(choices=resin_choices(), label=_("Resin"))
        self.fields["finish"] = TextField(
            most=40, required=False, label=_("Finish"), help_text=_("Such as SPI A-2.")
        )
        self.fields["standard_cycle_s"] = DecimalField(
            label=_("Standard cycle time"),
            unit="s",
            least=Decimal("0.01"),
            places=2,
            digits=8,
            required=False,
            help_text=_("With it readings that are too fast are noticed."),
        )
        self.fields["opening_count"] = opening_field()
        self.fields["place"] = place_field()
        self.fields["counter_digits"] = forms.ChoiceField(
            choices=[
                ("", _("none: only the press counts")),
                *((str(n), ngettext("%(n)d digit", "%(n)d digits", n) % {"n": n}) for n in DIGITS),
            ],
            required=False,
            label=_("Its own counter"),
        )
        self.fields["counter_value"] = WholeField(
            required=False, label=_("That counter shows"), unit=_("cycles")
        )
        if sets:
            self.fields["rule_sets"] = forms.MultipleChoiceField(
                choices=sets,
                required=False,
                widget=forms.CheckboxSelectMultiple,
                label=_("Rule sets"),
                help_text=_(
                    "Those that fit are ticked. Each rule is copied to the mold with the factors "
                    "of its resin, and can be changed there."
                ),
            )

    def clean(self) -> dict[str, Any]:
        """Refuse the value of a counter that is not there, or has fewer digits."""
        data = super().clean() or {}
        value, digits = data.get("counter_value"), data.get("counter_digits")
        if value is not None and not digits:
            self.add_error("counter_digits", _("Say how many digits the counter has."))
        elif value is not None and digits and len(str(value)) > int(digits):
            self.add_error("counter_value", _("It shows more digits than the counter has."))
        return data


class CopyForm(forms.Form):
    """A mold built like another: what is its own, and nothing else."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("initial", {"opening_count": 0})
        super().__init__(*args, **kwargs)
        self.fields["number"] = number_field()
        self.fields["name"] = name_field()
        self.fields["place"] = place_field()
        self.fields["opening_count"] = opening_field()


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
        self.fields["mold_class"] = class_field()
        self.fields["cavity_count"] = _cavities(
            help_text=_("Cavities are added, never taken away: block those that do not run.")
        )
        self.fields["drawing_revision"] = TextField(
            most=40, required=False, label=_("Drawing revision")
        )
        for half in ("a", "b"):
            self.fields[f"mass_{half}_kg"] = MeasureField(
                label=_("Mass of the %(half)s half") % {"half": half.upper()},
                quantity=Quantity.MASS,
                held=getattr(mold, f"mass_{half}_kg"),
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
