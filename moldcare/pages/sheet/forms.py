"""What can be written down on a sheet: the look, a step, what becomes of a task, the signature."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from moldcare.acts.sheet import MOST_MINUTES
from moldcare.care.models import Grade, StepKind
from moldcare.pages.fields import TextField, WholeField
from moldcare.pages.photos import PhotoField
from moldcare.pages.signers import Secret, secret_of
from moldcare.plant.models import Person
from moldcare.work.convert import SheetStep
from moldcare.work.models import OrderTask

MOST_VALUE = 400
MOST_REASON = 200
GRADE_BUTTON = "grade"


class StepForm(forms.Form):
    """The present step of a sheet: the fields that its kind asks for."""

    def __init__(self, *args: Any, step: SheetStep, **kwargs: Any) -> None:
        kwargs.setdefault("auto_id", "step_%s")
        super().__init__(*args, **kwargs)
        self.step = step
        match step.kind:
            case StepKind.VALUE:
                self.fields["value"] = TextField(
                    most=40, label=_("Measured"), required=not step.needs_reason
                )
                if step.needs_reason:
                    self.fields["value"].label = _("Measured again")
                    self.fields["reason"] = TextField(
                        most=MOST_REASON, label=_("Or why it stays as it is"), required=False
                    )
            case StepKind.PHOTO:
                self.fields["photo"] = PhotoField(label=_("Photo"))
                self.fields["value"] = TextField(
                    most=MOST_VALUE, label=_("Or why there is none"), required=False
                )
            case StepKind.POSITION:
                self.fields["value"] = TextField(
                    most=MOST_VALUE, label=_("Where: the position or the cavity")
                )
            case StepKind.CHOICE:
                self.fields["value"] = TextField(most=MOST_VALUE, required=False)

    def clean(self) -> dict[str, Any]:
        """Ask for a second value or a reason, and for a photo or a reason."""
        data: dict[str, Any] = super().clean() or {}
        if self.step.kind == StepKind.VALUE and self.step.needs_reason:
            if not data.get("value") and not data.get("reason") and not self.errors:
                raise forms.ValidationError(_("Run it again, or say why the value stays."))
            if not data.get("value") and self.step.value is not None:
                data["value"] = self.step.value.value
        is_photo = self.step.kind == StepKind.PHOTO and not self.errors
        if is_photo and not data.get("photo") and not data.get("value"):
            raise forms.ValidationError(_("Take the photo, or say why there is none."))
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
        widget=forms.PasswordInput(attrs={"autocomplete": "off", "inputmode": "numeric"}),
    )

    def __init__(self, *args: Any, signs: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.secret = secret_of(signs)
        field = self.fields["pin"]
        field.required = self.secret is not Secret.NOTHING
        field.error_messages["required"] = _("Type your PIN: with it you sign.")
        if self.secret is Secret.SIGN_IN:
            field.error_messages["required"] = _("Type your password: with it you sign.")
            field.label = _("Password, or the PIN of the badge")
            field.widget.attrs = {"autocomplete": "off"}

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
        widget=forms.PasswordInput(attrs={"autocomplete": "off", "inputmode": "numeric"}),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("auto_id", "sign_%s")
        super().__init__(*args, **kwargs)
