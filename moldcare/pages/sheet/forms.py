"""What can be written down on a sheet: the look, a step, what becomes of a task, the signature."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from moldcare.acts.half_done import PartLying
from moldcare.acts.sheet import MOST_MINUTES
from moldcare.acts.signing import SupplySpent
from moldcare.care.models import Grade, StepKind
from moldcare.pages.fields import DecimalField, TextField, WholeField
from moldcare.pages.photos import PhotoField
from moldcare.pages.sheet.mold_map import MoldMap
from moldcare.pages.sheet.supplies import SupplyLine, spent_of
from moldcare.pages.signers import Secret, secret_of
from moldcare.plant.models import Person
from moldcare.work.convert import SheetStep
from moldcare.work.models import OrderTask

MOST_VALUE = 400
MOST_REASON = 200
GRADE_BUTTON = "grade"


class StepForm(forms.Form):
    """One step of a sheet: the fields that its kind asks for."""

    def __init__(
        self, *args: Any, step: SheetStep, places: MoldMap | None = None, **kwargs: Any
    ) -> None:
        kwargs.setdefault("auto_id", f"step-{step.key}_%s")
        super().__init__(*args, **kwargs)
        self.step = step
        self.places = places or MoldMap()
        match step.kind:
            case StepKind.VALUE:
                self.fields["value"] = TextField(
                    most=40, label=_("Measured"), required=not step.needs_reason
                )
                self.fields["reason"] = TextField(
                    most=MOST_REASON, label=_("Why it stays as it is"), required=False
                )
                if step.needs_reason:
                    self.fields["value"].label = _("Measured again")
                    self.fields["reason"].label = _("Or why it stays as it is")
            case StepKind.PHOTO:
                self.fields["photo"] = PhotoField(label=_("Photo"))
                self.fields["value"] = TextField(
                    most=MOST_VALUE, label=_("Or why there is none"), required=False
                )
            case StepKind.POSITION:
                self.fields["place"] = TextField(most=200, label=_("Where"), required=False)
                self.fields["value"] = TextField(
                    most=MOST_VALUE,
                    label=_("Or where, in your own words") if self.places else _("Where"),
                    required=not self.places,
                )
            case StepKind.CHOICE:
                self.fields["value"] = TextField(most=MOST_VALUE, required=False)

    def clean(self) -> dict[str, Any]:
        """Ask for a second value or a reason, for a photo or a reason, for one place or another."""
        data: dict[str, Any] = super().clean() or {}
        if self.step.kind == StepKind.VALUE and self.step.needs_reason:
            if not data.get("value") and not data.get("reason") and not self.errors:
                raise forms.ValidationError(_("Run it again, or say why the value stays."))
            if not data.get("value") and self.step.value is not None:
                data["value"] = self.step.value.value
        is_photo = self.step.kind == StepKind.PHOTO and not self.errors
        if is_photo and not data.get("photo") and not data.get("value"):
            raise forms.ValidationError(_("Take the photo, or say why there is none."))
        if self.step.kind == StepKind.POSITION and not self.errors:
            said = [data.get("place", ""), data.get("value", "")]
            data["value"] = ": ".join(each for each in said if each)
            if not data["value"]:
                raise forms.ValidationError(_("Say where: the position or the cavity."))
        return data


def grade_name(line: OrderTask) -> str:
    """Return the name of the field that holds a line's as-found grade."""
    return f"grade-{line.pk}"


def forward_name(line: OrderTask) -> str:
    """Return the name of the field that says that a line was brought forward."""
    return f"forward-{line.pk}"


class FoundForm(forms.Form):
    """How each rule was found: one tap for the first, the others are filled in from it.

    The tapped one comes as `grade`; a line with a choice of its own keeps that.
    """

    def __init__(self, *args: Any, lines: Sequence[OrderTask], **kwargs: Any) -> None:
        kwargs.setdefault("auto_id", "found_%s")
        super().__init__(*args, **kwargs)
        self.lines = list(lines)
        self.fields[GRADE_BUTTON] = forms.ChoiceField(
            choices=Grade.choices,
            required=bool(self.lines),
            label=_("As found"),
            error_messages={
                "required": _("Tap how it was found: clean, light, heavy or failed."),
                "invalid_choice": _("Tap clean, light, heavy or failed."),
            },
        )
        for line in self.lines[1:]:
            self.fields[grade_name(line)] = forms.ChoiceField(
                choices=[("", _("as the first")), *Grade.choices],
                required=False,
                label=line.rule.name,
                initial=line.grade,
            )

    def grades(self) -> dict[int, str]:
        """Return the grade of every line, by its number."""
        if not self.lines:
            return {}
        first: str = self.cleaned_data[GRADE_BUTTON]
        return {line.pk: self.cleaned_data.get(grade_name(line)) or first for line in self.lines}


class LookForm(FoundForm):
    """The look before cleaning: the photo, what was brought forward, and how it was found."""

    def __init__(self, *args: Any, tasks: Sequence[OrderTask], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.tasks = list(tasks)
        self.fields["photo"] = PhotoField(label=_("Photo before cleaning"))
        self.fields["without_photo"] = TextField(
            most=MOST_VALUE,
            required=False,
            label=_("The camera fails: why there is no photo"),
        )
        for line in self.tasks:
            self.fields[forward_name(line)] = forms.BooleanField(
                required=False,
                label=_("Brought forward: signs seen"),
                initial=line.is_brought_forward,
            )

    def clean(self) -> dict[str, Any]:
        """Ask for the photo, or why there is none."""
        data: dict[str, Any] = super().clean() or {}
        if "photo" not in self.errors and not data.get("photo") and not data.get("without_photo"):
            self.add_error("photo", _("Take the photo, or say why there is none."))
        return data

    def brought_forward(self) -> dict[int, bool]:
        """Return which lines were brought forward, by their numbers."""
        return {line.pk: self.cleaned_data[forward_name(line)] for line in self.tasks}


class AfterForm(forms.Form):
    """The picture of the finished work, which nobody has to take."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("auto_id", "after_%s")
        super().__init__(*args, **kwargs)
        self.fields["photo"] = PhotoField(label=_("Photo after the work"))

    def clean(self) -> dict[str, Any]:
        """Ask for the photo."""
        data: dict[str, Any] = super().clean() or {}
        if "photo" not in self.errors and not data.get("photo"):
            self.add_error("photo", _("Take the photo first."))
        return data


class PassOnForm(forms.Form):
    """Half-done work for whoever goes on: a word, and what is out of the mold and where it lies."""

    note = TextField(
        most=MOST_VALUE,
        required=False,
        label=gettext_lazy("What whoever goes on must know"),
    )
    other = TextField(most=200, required=False, label=gettext_lazy("Something else that is out"))
    lies = TextField(most=200, required=False, label=gettext_lazy("Where it lies"))

    def __init__(self, *args: Any, places: MoldMap, **kwargs: Any) -> None:
        kwargs.setdefault("auto_id", "pass_%s")
        super().__init__(*args, **kwargs)
        self.places = places
        self.fields["part"] = forms.MultipleChoiceField(
            required=False,
            label=_("Out of the mold"),
            choices=[(str(place.pk), place.sign) for place in places.positions],
            error_messages={"invalid_choice": _("A place that was ticked is not in this mold.")},
        )

    def clean(self) -> dict[str, Any]:
        """Ask where the parts lie, and for something to pass on."""
        data: dict[str, Any] = super().clean() or {}
        is_out = bool(data.get("part") or data.get("other"))
        if is_out and not data.get("lies") and "lies" not in self.errors:
            self.add_error("lies", self.lies_wanted)
        if not is_out and not data.get("note") and not self.errors:
            self.add_error("note", _("Say what whoever goes on must know, or tick what is out."))
        return data

    @property
    def lies_wanted(self) -> str:
        """Return what to say where parts are out and nobody says where they lie."""
        return _("Say where the parts lie that are out.")

    def parts(self) -> list[PartLying]:
        """Return the parts that a valid form says are out."""
        data = self.cleaned_data
        lying = [PartLying(position=int(pk), lies=data["lies"]) for pk in data["part"]]
        if data["other"]:
            lying.append(PartLying(what=data["other"], lies=data["lies"]))
        return lying


class ReasonForm(forms.Form):
    """Why a task is left, or found not needed."""

    reason = TextField(most=MOST_REASON, required=False, label=gettext_lazy("Why"))


class SignerForm(forms.Form):
    """Who signs: whoever is signed in, or somebody else by badge and PIN on a shared tablet.

    Either way the sign-in is repeated: a tablet that lies about signs for nobody.
    """

    badge = TextField(
        most=40,
        required=False,
        label=gettext_lazy("Badge number"),
        widget=forms.TextInput(attrs={"autocomplete": "off", "inputmode": "numeric"}),
    )
    pin = forms.CharField(
        max_length=128,
        strip=False,
        required=False,
        label=gettext_lazy("PIN"),
        widget=forms.PasswordInput(
            attrs={"autocomplete": "off", "inputmode": "numeric", "data-seal": ""}
        ),
    )

    def __init__(self, *args: Any, signs: Person | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # a page that lies on a tablet does not know who will sign it: most have a PIN
        self.secret = Secret.PIN if signs is None else secret_of(signs)
        field = self.fields["pin"]
        field.required = self.secret is not Secret.NOTHING
        field.error_messages["required"] = _("Type your PIN: with it you sign.")
        if self.secret is Secret.SIGN_IN:
            field.error_messages["required"] = _("Type your password: with it you sign.")
            field.label = _("Password, or the PIN of the badge")
            field.widget.attrs = {"autocomplete": "off", "data-seal": ""}

    def clean(self) -> dict[str, Any]:
        """Refuse half of a signature."""
        data: dict[str, Any] = super().clean() or {}
        for given, wanted in (("badge", "pin"), ("pin", "badge")):
            is_half = bool(data.get(given)) and not data.get(wanted)
            if is_half and not self.errors and not (given == "pin" and self.secret):
                self.add_error(wanted, _("Badge number and PIN belong together."))
        return data


class SignForm(SignerForm):
    """The signature of a sheet."""

    minutes = WholeField(
        label=gettext_lazy("Time it took"), unit=gettext_lazy("minutes"), most=MOST_MINUTES
    )
    note = TextField(most=400, required=False, label=gettext_lazy("Note for the logbook"))
    override_reason = TextField(
        most=MOST_REASON, required=False, label=gettext_lazy("Why it may be signed all the same")
    )
    override_badge = TextField(
        most=40,
        required=False,
        label=gettext_lazy("The lead's badge number"),
        widget=forms.TextInput(attrs={"autocomplete": "off", "inputmode": "numeric"}),
    )
    override_pin = forms.CharField(
        max_length=12,
        strip=False,
        required=False,
        label=gettext_lazy("The lead's PIN"),
        widget=forms.PasswordInput(
            attrs={"autocomplete": "off", "inputmode": "numeric", "data-seal": ""}
        ),
    )

    stay_out = forms.BooleanField(
        required=False, label=gettext_lazy("They stay out: the mold is not complete")
    )
    more_supply = TextField(most=120, required=False, label=gettext_lazy("Something else used up"))
    more_amount = DecimalField(
        least=Decimal("0.01"), places=2, digits=10, required=False, label=gettext_lazy("How much")
    )

    def __init__(self, *args: Any, supplies: Sequence[SupplyLine] = (), **kwargs: Any) -> None:
        kwargs.setdefault("auto_id", "sign_%s")
        super().__init__(*args, **kwargs)
        self.supplies = list(supplies)
        for line in self.supplies:
            self.fields[line.used_name] = forms.BooleanField(
                required=False, label=line.name, initial=True
            )
            self.fields[line.amount_name] = DecimalField(
                least=Decimal("0.01"),
                places=2,
                digits=10,
                required=False,
                unit=line.unit,
                label=_("%(name)s: how much") % {"name": line.name},
            )

    def supply_fields(self) -> list[tuple[SupplyLine, forms.BoundField, forms.BoundField]]:
        """Return each supply with its box and its amount."""
        return [(line, self[line.used_name], self[line.amount_name]) for line in self.supplies]

    def spent(self) -> list[SupplySpent]:
        """Return what a valid form says was used up."""
        return spent_of(self.cleaned_data, lines=self.supplies)
