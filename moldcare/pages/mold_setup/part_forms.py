"""Forms of what a mold is made of: cavities, positions, circuits, versions, and the plate."""

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext as _

from moldcare.acts.molds import CavityNamed, NewItem
from moldcare.acts.molds.circuits import MOST_ITEMS
from moldcare.acts.molds.parts import CIRCUIT_FIELDS, COMPONENT_FIELDS, POSITION_FIELDS
from moldcare.core.units import Quantity
from moldcare.molds.models import (
    Cavity,
    Circuit,
    CircuitItem,
    Component,
    Configuration,
    Mold,
    Position,
)
from moldcare.pages.fields import TextField, WholeField, stand_in_a_row, when_field
from moldcare.pages.listed import NameWithList
from moldcare.pages.measures import MeasureField
from moldcare.pages.mold_setup.forms import MOST_CAVITIES, SMALL
from moldcare.pages.photos import PhotoField

FURTHER_ITEMS = 6


def _shown(row: Any, fields: tuple[str, ...]) -> dict[str, Any]:
    return {name: getattr(row, name) for name in fields} if row is not None else {}


class PositionForm(forms.Form):
    """A position that a part can sit in."""

    def __init__(
        self, *args: Any, mold: Mold, position: Position | None = None, **kwargs: Any
    ) -> None:
        kwargs["initial"] = _shown(position, POSITION_FIELDS)
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
    """A water circuit; its looped partner is one of the mold's circuits."""

    def __init__(
        self, *args: Any, mold: Mold, circuit: Circuit | None = None, **kwargs: Any
    ) -> None:
        kwargs["initial"] = _shown(circuit, CIRCUIT_FIELDS) or {"medium": "water", "bends": 0}
        super().__init__(*args, **kwargs)
        others = Circuit.objects.filter(mold=mold).order_by("half", "id")
        if circuit is not None:
            others = others.exclude(pk=circuit.pk)
        self.fields["ident"] = TextField(
            most=20,
            label=_("Circuit"),
            help_text=_("Unique in this mold, such as A1."),
            error_messages={"required": _("Give the circuit a name.")},
        )
        self.fields["half"] = forms.ChoiceField(choices=Circuit.Half.choices, label=_("Half"))
        for name, label, quantity, least, digits in (
            ("bore_mm", _("Bore"), Quantity.BORE, "0.01", 9),
            ("length_mm", _("Length"), Quantity.LENGTH, "0.1", 10),
            ("design_flow_l_min", _("Design flow"), Quantity.FLOW, "0.01", 7),
            (
                "rise_limit_k",
                _("Limit of the temperature rise"),
                Quantity.TEMPERATURE_RISE,
                "0.01",
                5,
            ),
        ):
            self.fields[name] = MeasureField(
                label=label,
                quantity=quantity,
                held=self.initial.get(name),
                least=Decimal(least),
                digits=digits,
                required=False,
            )
        self.fields["bends"] = WholeField(most=SMALL, label=_("Bends"))
        self.fields["couplings"] = TextField(
            most=60,
            required=False,
            label=_("Couplings"),
            help_text=_("Size and kind of both ends, such as 9 mm with valve."),
        )
        self.fields["medium"] = TextField(most=60, label=_("Medium"))
        self.fields["looped_with"] = TextField(
            most=60,
            required=False,
            label=_("Looped with"),
            help_text=_("The circuit that its OUT goes on to; empty where it goes back."),
            widget=NameWithList(others.values_list("ident", flat=True)),
        )


class ConfigurationForm(forms.Form):
    """A named version that a mold can run as."""

    def __init__(
        self, *args: Any, configuration: Configuration | None = None, **kwargs: Any
    ) -> None:
        kwargs["initial"] = _shown(configuration, ("name",))
        super().__init__(*args, **kwargs)
        self.fields["name"] = TextField(
            most=80,
            label=_("Name"),
            help_text=_("Such as left hand, or with long cores."),
            error_messages={"required": _("Give the configuration a name.")},
        )


class ComponentForm(forms.Form):
    """A serial-numbered piece, with what it ran before our records."""

    def __init__(self, *args: Any, component: Component | None = None, **kwargs: Any) -> None:
        kwargs["initial"] = _shown(component, COMPONENT_FIELDS) or {
            "opening_cycles": 0,
            "opening_shots": 0,
        }
        super().__init__(*args, **kwargs)
        self.fields["serial"] = TextField(
            most=60,
            label=_("Serial number"),
            error_messages={"required": _("Give its serial number.")},
        )
        self.fields["name"] = TextField(
            most=120,
            label=_("What it is"),
            error_messages={"required": _("Say what it is, such as core insert.")},
        )
        self.fields["opening_cycles"] = WholeField(
            label=_("Cycles before our records"), unit=_("cycles")
        )
        self.fields["opening_shots"] = WholeField(
            label=_("Shots before our records"), unit=_("shots")
        )


class CavitiesForm(forms.Form):
    """All cavities of a mold: what each is called, and the part it forms in a family mold."""

    def __init__(self, *args: Any, mold: Mold, **kwargs: Any) -> None:
        self.cavities = list(Cavity.objects.filter(mold=mold).order_by("id"))
        kwargs["initial"] = {"cavity_count": len(self.cavities)} | {
            f"{name}{row.pk}": getattr(row, name)
            for row in self.cavities
            for name in ("ident", "part")
        }
        super().__init__(*args, **kwargs)
        self.fields["cavity_count"] = WholeField(
            least=1,
            most=MOST_CAVITIES,
            label=_("Cavities"),
            help_text=_("Cavities are added, never taken away: block those that do not run."),
        )
        for place, row in enumerate(self.cavities, start=1):
            self.fields[f"ident{row.pk}"] = TextField(
                most=20,
                label=_("Cavity %(n)d is called") % {"n": place},
                error_messages={"required": _("Give the cavity a name.")},
            )
            self.fields[f"part{row.pk}"] = TextField(
                most=120, required=False, label=_("Part that cavity %(n)d forms") % {"n": place}
            )

    @property
    def rows(self) -> list[list[forms.BoundField]]:
        """The two fields of each cavity."""
        return [[self[f"ident{row.pk}"], self[f"part{row.pk}"]] for row in self.cavities]

    @property
    def named(self) -> dict[int, CavityNamed]:
        """What was typed, by the cavities' keys."""
        data = self.cleaned_data
        return {
            row.pk: CavityNamed(ident=data[f"ident{row.pk}"], part=data[f"part{row.pk}"])
            for row in self.cavities
        }


class ItemsForm(forms.Form):
    """What sits in a circuit: a row each, and some empty rows to go on with.

    Where nothing is listed yet, the rows begin with what was counted.
    """

    def __init__(self, *args: Any, circuit: Circuit, items: list[NewItem], **kwargs: Any) -> None:
        items = items or _counted(circuit)
        kwargs["initial"] = {
            f"{name}{place}": getattr(item, name)
            for place, item in enumerate(items, start=1)
            for name in ("kind", "number", "at")
        } | {f"place{place}": place for place in range(1, len(items) + 1)}
        super().__init__(*args, **kwargs)
        positions = list(
            Position.objects.filter(mold=circuit.mold_id)
            .order_by("id")
            .values_list("ident", flat=True)
        )
        self.places = range(1, len(items) + FURTHER_ITEMS + 1)
        for n in self.places:
            self.fields[f"place{n}"] = WholeField(
                least=1, most=SMALL, required=False, label=_("Place from IN")
            )
            self.fields[f"kind{n}"] = forms.ChoiceField(
                choices=[("", _("nothing")), *CircuitItem.Kind.choices],
                required=False,
                label=_("What it is"),
            )
            self.fields[f"number{n}"] = TextField(most=20, required=False, label=_("Number"))
            self.fields[f"at{n}"] = TextField(
                most=60,
                required=False,
                label=_("Position"),
                widget=NameWithList(positions),
            )
            names = ("place", "kind", "number", "at")
            stand_in_a_row(self, names=[f"{name}{n}" for name in names])

    @property
    def rows(self) -> list[list[forms.BoundField]]:
        """The fields of each row."""
        return [
            [self[f"{name}{n}"] for name in ("place", "kind", "number", "at")] for n in self.places
        ]

    def clean(self) -> dict[str, Any]:
        """Ask for what a begun row lacks."""
        data = super().clean() or {}
        for n in self.places:
            kind, number = data.get(f"kind{n}"), data.get(f"number{n}")
            if kind and not number:
                self.add_error(f"number{n}", _("Give its number, as stamped or counted."))
            if not kind and (number or data.get(f"at{n}")):
                self.add_error(f"kind{n}", _("Say what sits there, or empty the row."))
        return data

    @property
    def items(self) -> list[NewItem]:
        """What was typed, in the order of its places; rows without one come last."""
        data = self.cleaned_data
        rows = [n for n in self.places if data.get(f"kind{n}")]
        rows.sort(key=lambda n: (data[f"place{n}"] is None, data[f"place{n}"] or 0))
        return [
            NewItem(kind=data[f"kind{n}"], number=data[f"number{n}"], at=data[f"at{n}"])
            for n in rows
        ]


def _counted(circuit: Circuit) -> list[NewItem]:
    """Return what a circuit is said to hold, numbered from 1."""
    counts = (
        (CircuitItem.Kind.BUBBLER, circuit.bubblers),
        (CircuitItem.Kind.STRAIGHT_BAFFLE, circuit.straight_baffles),
        (CircuitItem.Kind.SPIRAL_BAFFLE, circuit.spiral_baffles),
    )
    items = [
        NewItem(kind=kind.value, number=str(n))
        for kind, count in counts
        for n in range(1, min(count, MOST_ITEMS) + 1)
    ]
    return items[:MOST_ITEMS]


class MarkingForm(forms.Form):
    """A photo of the plate."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["photo"] = PhotoField(label=_("Photo of the plate"))
        self.fields["shows"] = TextField(
            most=200,
            required=False,
            label=_("What it shows"),
            help_text=_("Such as the mold's number and whose property it is."),
        )
        self.fields["at"] = when_field(label=_("Taken at"))

    def clean(self) -> dict[str, Any]:
        """Ask for the photo."""
        data = super().clean() or {}
        if not data.get("photo") and "photo" not in self.errors:
            self.add_error("photo", _("Choose or take the photo."))
        return data
