"""The forms of a handover: giving, taking, putting right."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from moldcare.acts.handover import LONGEST_NOTE
from moldcare.core.scanning import LONGEST_CODE, scanned_code
from moldcare.pages.fields import LinesField
from moldcare.pages.signers import Secret


def _badge(**kwargs: Any) -> forms.CharField:
    attrs = {"autocomplete": "off", "inputmode": "numeric", "data-scan": "next"}
    return forms.CharField(
        max_length=LONGEST_CODE, strip=False, widget=forms.TextInput(attrs=attrs), **kwargs
    )


class SignedForm(forms.Form):
    """Who signs: a badge number and a PIN; without a badge whoever is signed in."""

    badge = _badge(
        required=False,
        label=gettext_lazy("Badge number"),
        help_text=gettext_lazy("Only if somebody else signs than who is signed in."),
    )
    pin = forms.CharField(
        max_length=200,
        strip=False,
        label=gettext_lazy("PIN"),
        widget=forms.PasswordInput(attrs={"autocomplete": "off", "data-not-empty": ""}),
    )

    def __init__(self, *args: Any, secret: Secret, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if secret is Secret.SIGN_IN:
            # whoever has no PIN repeats the password, as everywhere
            self.fields["pin"].label = _("Password, or PIN with a badge")
        else:
            self.fields["pin"].widget.attrs["inputmode"] = "numeric"

    def clean_badge(self) -> str:
        """Return the badge number without a reader's marks."""
        return scanned_code(self.cleaned_data["badge"])


class GiveForm(SignedForm):
    """Hand the shift over."""

    def __init__(self, *args: Any, shifts: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["shift"] = forms.ChoiceField(
            choices=[(name, name) for name in shifts],
            widget=forms.RadioSelect,
            label=_("Which shift is handed over"),
            initial=shifts[0],
        )
        self.fields["note"] = LinesField(
            most=LONGEST_NOTE,
            rows=4,
            required=False,
            label=_("What else the next shift must know"),
        )
        self.order_fields(["shift", "note", "badge", "pin"])


class TakeForm(SignedForm):
    """Take the shift."""

    note = LinesField(most=LONGEST_NOTE, rows=2, required=False, label=gettext_lazy("A word to it"))
    field_order = ("note", "badge", "pin")


class CorrectForm(SignedForm):
    """Put the note of a handover right."""

    note = LinesField(
        most=LONGEST_NOTE, rows=4, required=False, label=gettext_lazy("As it should read")
    )
    reason = LinesField(
        most=200,
        rows=2,
        label=gettext_lazy("Why"),
        error_messages={"required": gettext_lazy("Give the reason: the logbook keeps it.")},
    )
    field_order = ("note", "reason", "badge", "pin")
