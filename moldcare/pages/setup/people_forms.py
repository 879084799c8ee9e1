"""Forms of people: who they are, how they sign, what they may do."""

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.conf import settings
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from moldcare.pages.fields import DayField, DecimalField, TextField, boxes
from moldcare.pages.listed import NameWithList
from moldcare.pages.setup.acting import GroupedForm
from moldcare.plant.models import Person, PlantUnits

FIELDS = ("username", "name", "badge", "role", "language", "units", "is_wall", "is_active")
ROLES = (
    (Person.Role.READER, gettext_lazy("reader: looks at everything, writes nothing")),
    (Person.Role.TECHNICIAN, gettext_lazy("technician: sets, pulls, reads, does the work")),
    (Person.Role.LEAD, gettext_lazy("lead: also writes molds, rules, orders, shifts")),
    (Person.Role.MANAGER, gettext_lazy("manager: also people, rates and seals")),
    (Person.Role.FEED, gettext_lazy("feed: a machine that sends readings")),
)
MOST_PIN = 8


def _password(**kwargs: Any) -> forms.CharField:
    return forms.CharField(
        max_length=200,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        **kwargs,
    )


def _pin(**kwargs: Any) -> forms.CharField:
    return forms.CharField(
        max_length=MOST_PIN,
        widget=forms.PasswordInput(attrs={"autocomplete": "off", "inputmode": "numeric"}),
        label=_("PIN"),
        help_text=_("4 to 8 digits, not all the same and not counting up or down."),
        **kwargs,
    )


def secret_field(*, label: str, is_pin: bool, **kwargs: Any) -> forms.CharField:
    """Return the field for a PIN or password that somebody has already."""
    attrs = {"autocomplete": "off" if is_pin else "current-password"}
    if is_pin:
        attrs["inputmode"] = "numeric"
    return forms.CharField(
        max_length=200,
        strip=False,
        widget=forms.PasswordInput(attrs=attrs),
        label=label,
        **kwargs,
    )


def language_field() -> forms.ChoiceField:
    """Return the field for the language of somebody's pages."""
    return forms.ChoiceField(
        choices=[("", _("as the browser says")), *settings.LANGUAGES],
        required=False,
        label=_("Language"),
    )


def units_field() -> forms.ChoiceField:
    """Return the field for the units of somebody's pages."""
    return forms.ChoiceField(
        choices=[("", _("as the plant has them")), *PlantUnits.choices],
        required=False,
        label=_("Units"),
    )


class PersonForm(GroupedForm):
    """Somebody, new or known."""

    GROUPS = (
        (gettext_lazy("Who"), (("name",), ("username", "badge"), ("language", "units"))),
        (gettext_lazy("What they may do"), (("role",), ("is_wall",), ("is_active",))),
        (gettext_lazy("How they sign on"), (("password",), ("pin",))),
    )

    def __init__(self, *args: Any, person: Person | None = None, **kwargs: Any) -> None:
        if person is not None:
            kwargs["initial"] = {name: getattr(person, name) for name in FIELDS}
        super().__init__(*args, **kwargs)
        self.fields["name"] = TextField(
            most=120, label=_("Name"), error_messages={"required": _("Give the person's name.")}
        )
        self.fields["username"] = TextField(
            most=60,
            label=_("Sign-in name"),
            help_text=_("Letters, digits and . @ + - _ only."),
            error_messages={"required": _("Give a name to sign in with.")},
        )
        self.fields["badge"] = TextField(
            most=40,
            required=False,
            label=_("Badge number"),
            help_text=_("With it and the PIN one signs at a shared tablet."),
        )
        self.fields["language"] = language_field()
        self.fields["units"] = units_field()
        self.fields["role"] = boxes(
            ROLES, label=_("Role"), error_messages={"required": _("Choose a role.")}
        )
        self.fields["is_wall"] = forms.BooleanField(
            required=False,
            label=_("It is a wall screen"),
            help_text=_("A reader's sign-in that lasts; give it to no person."),
        )
        if person is None:
            self.fields["password"] = _password(
                required=False,
                label=_("Password"),
                help_text=_("Empty: signs only with badge and PIN."),
            )
            self.fields["pin"] = _pin(required=False)
        else:
            self.fields["is_active"] = forms.BooleanField(
                required=False,
                label=_("May sign in"),
                help_text=_(
                    "Without it they are out of the plant: all that they signed stays, and "
                    "nobody can sign in or sign by their name."
                ),
            )

    def clean(self) -> dict[str, Any]:
        """Refuse a wall that could write, and a PIN without the badge that goes with it."""
        data = super().clean() or {}
        if data.get("is_wall") and data.get("role") not in (None, Person.Role.READER):
            self.add_error("is_wall", _("A wall screen is a reader. Choose that role."))
        if data.get("pin") and not data.get("badge"):
            self.add_error("badge", _("A PIN needs a badge number to go with it."))
        return data

    @property
    def written(self) -> dict[str, Any]:
        """What the act takes for a new person."""
        data = self.cleaned_data
        fields = {name: data[name] for name in FIELDS if name in data}
        return {**fields, "password": data["password"] or None, "pin": data["pin"] or None}


class PinForm(forms.Form):
    """A new PIN."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["pin"] = _pin(error_messages={"required": _("Give the new PIN.")})
        self.fields["again"] = _pin(error_messages={"required": _("Give it once more.")})
        self.fields["again"].label = _("The same PIN again")
        self.fields["again"].help_text = ""

    def clean(self) -> dict[str, Any]:
        """Refuse two different ones."""
        data = super().clean() or {}
        if data.get("pin") and data.get("again") and data["pin"] != data["again"]:
            self.add_error("again", _("These are two different PINs. Type both anew."))
        return data


class PasswordForm(forms.Form):
    """A new password."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["password"] = _password(
            label=_("New password"), error_messages={"required": _("Give the new password.")}
        )
        self.fields["again"] = _password(
            label=_("The same password again"),
            error_messages={"required": _("Give it once more.")},
        )

    def clean(self) -> dict[str, Any]:
        """Refuse two different ones."""
        data = super().clean() or {}
        if data.get("password") and data.get("again") and data["password"] != data["again"]:
            self.add_error("again", _("These are two different passwords. Type both anew."))
        return data


class QualificationForm(forms.Form):
    """What somebody may do, on what evidence, until when."""

    def __init__(self, *args: Any, subjects: Iterable[str], today: date, **kwargs: Any) -> None:
        kwargs.setdefault("initial", {"valid_from": today})
        super().__init__(*args, **kwargs)
        self.fields["subject"] = TextField(
            most=80,
            label=_("Qualified for"),
            help_text=_("In the same words as the rules that need it."),
            widget=NameWithList(subjects),
            error_messages={"required": _("Say for what.")},
        )
        self.fields["evidence"] = TextField(
            most=200,
            label=_("Evidence"),
            help_text=_("What shows it: a certificate and where it is kept."),
            error_messages={"required": _("Say what shows it.")},
        )
        self.fields["valid_from"] = DayField(label=_("From"))
        self.fields["valid_to"] = DayField(
            required=False, label=_("Until"), help_text=_("Empty where it does not lapse.")
        )

    def clean(self) -> dict[str, Any]:
        """Refuse an end before the beginning."""
        data = super().clean() or {}
        start, end = data.get("valid_from"), data.get("valid_to")
        if start and end and end < start:
            self.add_error("valid_to", _("It cannot end before it begins."))
        return data


class NoLongerForm(forms.Form):
    """Why somebody is not qualified any more."""

    evidence = TextField(
        most=200,
        label=gettext_lazy("Why"),
        error_messages={"required": gettext_lazy("Give the reason: the logbook keeps it.")},
    )


class TrainingForm(forms.Form):
    """Hours of training."""

    on = DayField(
        label=gettext_lazy("On"),
        error_messages={"required": gettext_lazy("Say on which day.")},
    )
    hours = DecimalField(
        label=gettext_lazy("Hours"),
        unit="h",
        least=Decimal("0.25"),
        most=24,
        places=2,
        digits=6,
        error_messages={"required": gettext_lazy("Say how many hours.")},
    )
    subject = TextField(
        most=120,
        label=gettext_lazy("What it was about"),
        error_messages={"required": gettext_lazy("Say what it was about.")},
    )
